"""What is decided before any runner is routed: ports, flange, transitions, collector, lengths."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from geomgen.design.attaching import first_size, with_attachments
from geomgen.design.heads import PlacedHead, heads_of
from geomgen.design.model import FlatPart, Limits, Port, Stud, Transition, Tuning
from geomgen.design.mouths import to_faces
from geomgen.design.plating import Plating, plating
from geomgen.design.said_flange import head_flanges
from geomgen.design.transitions import shortest_length, transition
from geomgen.design.tuning import book_length, tuning
from geomgen.design.windows import shape_through
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.families import Asked, DoesNotFit, Layout, Start, TubeSize
from geomgen.geometry.frames import Frame, unit
from geomgen.registry import home
from geomgen.routing.junctions import Junction
from geomgen.spec.header import HeaderSpec


@dataclass(frozen=True)
class Fixed:
    """What is decided before any runner is routed.

    Ports stand in their order along the heads; transitions and targets in that of the ports.
    """

    heads: tuple[PlacedHead, ...]
    flanges: tuple[FlatPart, ...]
    transitions: tuple[Transition, ...]
    asked: Asked
    layout: Layout
    tuning: Tuning
    targets: tuple[float, ...]
    tube: TubeSize
    limits: Limits
    plates: Plating

    @property
    def ports(self) -> tuple[Port, ...]:
        """Of all heads."""
        return tuple(port for head in self.heads for port in head.ports)

    @property
    def studs(self) -> tuple[Stud, ...]:
        """Of all heads, each in its own head's frame."""
        return tuple(stud for head in self.heads for stud in head.studs)


def fixed_parts(
    spec: HeaderSpec,
    poses: tuple[Frame, ...] = (),
    files: Mapping[str, bytes] | None = None,
) -> Fixed:
    """Lay out everything but the runners.

    Args:
        spec: what was said.
        poses: of the family's free junctions; the middles of their rooms when left out.
        files: content of the files that port shapes are read from, by name.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
    """
    heads = heads_of(spec, files or {})
    ports = tuple(port for head in heads for port in head.ports)
    tube = TubeSize(spec.runners.tube.od / 2.0, spec.runners.tube.od / 2.0 - spec.runners.tube.wall)
    first = first_size(spec, tube)
    transitions = tuple(
        _transition(spec, port, head.place.frame, first) for head in heads for port in head.ports
    )
    asked = Asked(
        tube,
        tuple(
            Start(port.cylinder, bend.exit) for port, bend in zip(ports, transitions, strict=True)
        ),
        spec.engine.firing_order,
        unit(spec.vertical),
        spec.runners.tube.material,
        poses,
        book_length(spec),
        spec.runners.length_to,
    )
    layout = laid_out(spec, asked)
    outlet = max(station.area for station in layout.areas if station.what == "outlet end")
    decided, lengths = tuning(spec, 2.0 * math.sqrt(outlet / math.pi))
    if layout.laid is not None:
        targets = _as_laid(spec, layout, transitions)
    else:
        # Lengths come by cylinder number, ports by their order along the heads.
        targets = tuple(lengths[port.cylinder - 1] for port in ports)
    limits = Limits(tuple((key, float(value)) for key, value in spec.limits.model_dump().items()))
    flanges = tuple(flange for head in heads for flange in head_flanges(spec, head, first, limits))
    plates = plating(spec, flanges, layout, limits)
    layout = replace(layout, envelopes=(*layout.envelopes, *plates.envelopes))
    layout = to_faces(layout, plates.flats)
    return Fixed(heads, flanges, transitions, asked, layout, decided, targets, tube, limits, plates)


def at_poses(spec: HeaderSpec, fixed: Fixed, poses: tuple[Frame, ...]) -> Fixed:
    """The same with the family's free junctions elsewhere; what does not move is not made anew."""
    asked = replace(fixed.asked, poses=poses)
    layout = laid_out(spec, asked)
    plates = plating(spec, fixed.flanges, layout, fixed.limits)
    layout = replace(layout, envelopes=(*layout.envelopes, *plates.envelopes))
    layout = to_faces(layout, plates.flats)
    return replace(fixed, asked=asked, layout=layout, plates=plates)


def _transition(spec: HeaderSpec, port: Port, face: Frame, tube: TubeSize) -> Transition:
    through = shape_through(port, spec.flange.window, tube.inner_radius)
    try:
        return transition(
            through,
            tube.outer_radius,
            tube.inner_radius,
            spec.flange.thickness,
            # a butted tube stands on the plate's face
            spec.flange.thickness if spec.flange.window == "butt" else spec.flange.set_back,
            _blend_length(spec, through, tube),
            face,
            spec.runners.transition.length == "auto",
        )
    except ValueError as error:
        raise SpecError(
            (
                Complaint(
                    ("heads",),
                    f"port {port.cylinder}: {error}",
                    "a port whose outline grows by the tube's wall and blends to round",
                    "trace it without its deep folds, or use a thinner tube",
                ),
            )
        ) from None


def _blend_length(spec: HeaderSpec, port: Port, tube: TubeSize) -> float:
    said, limits, od = spec.runners.transition.length, spec.limits, 2.0 * tube.outer_radius
    if said != "auto":
        return said
    return shortest_length(
        port.loop,
        tube.inner_radius,
        math.radians(limits.wall_angle),
        limits.transition_ratio_min * od,
        limits.transition_ratio_max * od,
    )


def laid_out(spec: HeaderSpec, asked: Asked) -> Layout:
    """What the spec's family lays out.

    Raises:
        SpecError: it cannot be laid out with these numbers.
    """
    try:
        layout: Layout = home(spec.collector).lay_out(spec.collector, asked)
    except DoesNotFit as error:
        raise SpecError((Complaint(error.key, error.found, error.allowed, error.remedy),)) from None
    if (layout.laid is not None) != (spec.runners.length == "as-laid"):
        family = home(spec.collector).KIND
        leaves = "leaves no length to choose" if layout.laid is not None else "wants a length"
        raise SpecError(
            (
                Complaint(
                    ("runners", "length"),
                    f"{spec.runners.length}, and a family, {family}, that {leaves}",
                    "as-laid" if layout.laid is not None else "a length, tuned or shortest",
                    "correct the length, or choose another family",
                ),
            )
        )
    refused = _as_laid_refuses(spec, layout) if layout.laid is not None else ()
    if refused:
        raise SpecError(refused)
    _no_shortest_links(spec, layout)
    return with_attachments(spec, asked, layout)


def _as_laid_refuses(spec: HeaderSpec, layout: Layout) -> tuple[Complaint, ...]:
    """What says nothing where the family lays the runners, and what a casting cannot have."""
    family = home(spec.collector).KIND
    said = (
        (("runners", "slots"), spec.runners.slots, "places"),
        (("pins",), spec.pins, "pins"),
        (("bench",), spec.bench, "tubes tacked on the bench"),
    )
    found = [
        Complaint(
            path,
            f"{what}, and a family, {family}, that lays the runners itself",
            "none",
            "take them out",
        )
        for path, value, what in said
        if value
    ]
    if layout.casting is not None and spec.flange.window != "butt":
        found.append(
            Complaint(
                ("flange", "window"),
                f"{spec.flange.window}, in a casting",
                "butt: the flange is one with its branches",
                "write butt",
            )
        )
    return tuple(found)


def _no_shortest_links(spec: HeaderSpec, layout: Layout) -> None:
    """Refuse the shortest common length where tubes between junctions have their own."""
    if not layout.links or spec.runners.length != "shortest":
        return
    family = home(spec.collector).KIND
    raise SpecError(
        (
            Complaint(
                ("runners", "length"),
                f"shortest, for a {family} with junctions between its tubes",
                "tuned, or a length",
                "write a length: what is shortest depends on where the junctions stand",
            ),
        )
    )


def free_junctions(spec: HeaderSpec, asked: Asked) -> tuple[Junction, ...]:
    """Junctions of the spec's family that may stand where they like."""
    family = home(spec.collector)
    if not hasattr(family, "junctions"):
        return ()
    free: tuple[Junction, ...] = family.junctions(spec.collector, asked)
    return free


def _as_laid(
    spec: HeaderSpec, layout: Layout, transitions: tuple[Transition, ...]
) -> tuple[float, ...]:
    """Lengths that follow where the family lays the runners itself, by port [mm]."""
    return tuple(
        bend.plate + bend.along + path.length + dict(ends)[spec.runners.length_to]
        for bend, path, ends in zip(transitions, layout.laid or (), layout.ends, strict=True)
    )
