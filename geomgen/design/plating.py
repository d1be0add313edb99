"""All flat parts but the head flange: where they stand, and what they are made for."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geomgen.design.cutting import Cutter
from geomgen.design.flats import flat_part
from geomgen.design.model import FlatPart, Hole, Limits
from geomgen.errors import KeyPath, Problem, SpecError
from geomgen.families import Envelope, Layout
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, Vec, cross, scale
from geomgen.plates import NoPlate, Pipe, Plate, PlateHole
from geomgen.plates._said import Derived, PlateSpec, Standing
from geomgen.profiles.loops import Arc, Loop
from geomgen.registry import home
from geomgen.spec.header import HeaderSpec

RINGS = 8
"""Most rings that stand for a plate where runners keep clear of it."""


@dataclass(frozen=True)
class Plating:
    """Flat parts beside the head flange, the room that those in the manifold take, and those."""

    flats: tuple[FlatPart, ...] = ()
    envelopes: tuple[Envelope, ...] = ()
    standing: tuple[Plate, ...] = ()


def plating(
    spec: HeaderSpec, flanges: tuple[FlatPart, ...], layout: Layout, limits: Limits
) -> Plating:
    """Everything that the spec's ``plates`` and the family ask for, in that order.

    Args:
        spec: what was said.
        flanges: head flanges, which plates may be made for.
        layout: of the family, with its own plates.
        limits: of holes and edges.

    Raises:
        SpecError: a plate cannot be made, stand, or be told from another part.
    """
    made = [_plate_of(flange) for flange in flanges]
    own = len(made)
    made += layout.plates
    envelopes: list[Envelope] = []
    standing: list[Plate] = []
    for i, said in enumerate(spec.plates):
        try:
            new = _made(spec, said, made, layout, limits)
            _names_are_free(new, made, layout)
        except NoPlate as error:
            path: KeyPath = ("plates", i, *error.key)
            raise SpecError((Problem(path, error.found, error.allowed, error.remedy),)) from None
        except ValueError as error:
            raise SpecError(
                (
                    Problem(
                        ("plates", i),
                        str(error),
                        "sizes that leave one plate",
                        "check its sizes against each other",
                    ),
                )
            ) from None
        made += new
        for plate in new:
            if not plate.loose:
                standing.append(plate)
                pipe = _pipe(spec) if getattr(said, "at", None) == "outlet" else None
                envelopes += rings(plate, pipe.od / 2.0 if pipe is not None else 0.0)
    flats = tuple(_flat(spec, plate, limits) for plate in made[own:])
    return Plating(flats, tuple(envelopes), tuple(standing))


def _flat(spec: HeaderSpec, plate: Plate, limits: Limits) -> FlatPart:
    process = plate.process or spec.flange.process
    return flat_part(
        plate,
        text=f"{spec.name} {spec.revision}".upper(),
        process=process,
        cutter=Cutter.of(limits.__getitem__, process),
    )


def _made(
    spec: HeaderSpec, said: PlateSpec, made: list[Plate], layout: Layout, limits: Limits
) -> list[Plate]:
    """The plate, and its mate if it has one."""
    kind = home(said)
    if isinstance(said, Derived):
        return [kind.plate(said, _called(said.of, made))]
    pipe = _pipe(spec) if getattr(said, "at", None) == "outlet" else None
    plate: Plate = kind.plate(said, Frame(), pipe, limits["edge_factor"])
    assert isinstance(said, Standing)
    _cylinders_are_there(spec, plate)
    plate = replace(plate, frame=_frame(spec, said, plate, layout))
    mate = kind.mate(said, plate) if hasattr(kind, "mate") else None
    return [plate] if mate is None else [plate, mate]


def _cylinders_are_there(spec: HeaderSpec, plate: Plate) -> None:
    strange = sorted(set(plate.cylinders) - set(range(1, spec.engine.cylinders + 1)))
    if strange or len(set(plate.cylinders)) < len(plate.cylinders):
        raise NoPlate(
            ("cylinders",),
            str(list(plate.cylinders)),
            f"cylinders from 1 to {spec.engine.cylinders}, each once",
            "name the cylinders of the engine",
        )


def _called(name: str, made: list[Plate]) -> Plate:
    for plate in made:
        if plate.name == name:
            return plate
    raise NoPlate(
        ("of",),
        name,
        f"one of {', '.join(plate.name for plate in made)}",
        "name the head flange, or a plate that comes before this one",
    )


def _names_are_free(new: list[Plate], made: list[Plate], layout: Layout) -> None:
    taken = {plate.name for plate in made}
    pieces = {"transition", "tube", *(piece.name for piece in layout.pieces)}
    for plate in new:
        stem = plate.name.rstrip("0123456789").rstrip("_")
        if plate.name in taken or plate.name in pieces or stem in pieces:
            raise NoPlate(
                ("name",), plate.name, "a name that no other part has", "give it another name"
            )


def _pipe(spec: HeaderSpec) -> Pipe:
    """The tail that a plate at the outlet is welded to."""
    outlet = getattr(spec.collector, "outlet", None)
    if outlet is None:
        raise NoPlate(
            ("at",), "outlet", "a collector with an outlet pipe", "say where it stands: stand"
        )
    return Pipe(outlet.od, outlet.od - 2.0 * outlet.wall)


def _frame(spec: HeaderSpec, said: Standing, plate: Plate, layout: Layout) -> Frame:
    """Frame of the plate: z = 0 on its gasket face, z to the tube, y as far up as it can be."""
    if said.stand is not None:
        up = said.stand.up or spec.vertical
        return upright(said.stand.at, said.stand.tube_side, up)
    if said.at is None:
        return plate.frame
    # A tube in a socket ends short of the gasket face; on a butt window it ends at the back.
    short = getattr(said, "set_back", 0.0) if plate.window_style != "butt" else plate.thickness
    end = layout.outlet.moved(short)
    return upright(end.origin, scale(end.z, -1.0), spec.vertical)


def upright(at: Vec, z: Vec, up: Vec) -> Frame:
    """A frame whose y points to ``up`` as far as its z allows."""
    return Frame.facing(at, z, cross(up, z))


def _plate_of(part: FlatPart) -> Plate:
    """A flat part as the plate that others are made for."""
    return Plate(
        name=part.name,
        title=part.title,
        frame=part.frame,
        thickness=part.thickness,
        material=part.material,
        outer=part.profile.outer,
        windows=part.windows,
        holes=tuple(_plate_hole(hole) for hole in part.holes),
        cuts=part.cuts,
        cylinders=part.cylinders,
        whole=part.whole,
    )


def _plate_hole(hole: Hole) -> PlateHole:
    return PlateHole(
        hole.name,
        hole.at,
        hole.diameter,
        hole.thread,
        hole.boss,
        hole.kind,
        hole.slot,
        hole.turn,
        hole.note,
    )


def rings(plate: Plate, inner: float) -> list[Envelope]:
    """The disc round a plate, outside its tube, filled with rings of round section.

    A disc is kept clear of by a bar of its radius only with half a ball on each side. Rings no
    wider than the plate is thick, each the circle round its own part of the section, hold the
    whole disc; they stand out of its faces by at most 0.21 of the thickness, of its rim by half.
    A plate that is thin for its size has ``RINGS`` of them, wider than it is thick.
    """
    t, outer = plate.thickness, _reach(plate.outer)
    count = min(RINGS, max(1, math.ceil((outer - inner) / t)))
    wide = (outer - inner) / count
    round_it = math.hypot(t, wide) / 2.0
    middle = plate.frame.moved(t / 2.0)
    found = []
    for k in range(count):
        radius = outer - (k + 0.5) * wide
        if radius <= round_it:  # what is left in the middle is a rod
            path = Centreline(plate.frame, (Straight(t),))
            found.append(Envelope(plate.name, None, path, radius + wide / 2.0))
            break
        quarter = Bend(radius, math.pi / 2.0)
        start = Frame(middle.point((radius, 0.0, 0.0)), scale(middle.x, -1.0), middle.y)
        found.append(Envelope(plate.name, None, Centreline(start, (quarter,) * 4), round_it))
    return found


def _reach(loop: Loop) -> float:
    """The farthest that an outline goes from its middle [mm], arcs as whole circles."""
    return max(
        math.hypot(*piece.centre) + piece.radius
        if isinstance(piece, Arc)
        else max(math.hypot(*piece.start), math.hypot(*piece.end))
        for piece in loop
    )
