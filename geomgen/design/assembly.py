"""The assembly tree and the gas volume, in the recipe's vocabulary."""

from __future__ import annotations

import math

from geomgen.design.model import AttachedPart, FlatPart, Runner, Secondary, TubeSection
from geomgen.families import Layout, Scroll
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import scale
from geomgen.profiles.loops import circle
from geomgen.recipe.nodes import (
    Cut,
    Fuse,
    Group,
    NamedFace,
    Node,
    Part,
    Prism,
    RuledWall,
    Section,
    Tube,
    parts_of,
)

FLANGE = (0.55, 0.57, 0.60)
OUTLET = (0.46, 0.50, 0.56)
GAS = (0.20, 0.45, 0.85)
CASTING = (0.50, 0.48, 0.46)
BY_CYLINDER = (
    (0.80, 0.36, 0.20),
    (0.24, 0.55, 0.36),
    (0.78, 0.62, 0.18),
    (0.30, 0.44, 0.70),
    (0.58, 0.34, 0.62),
    (0.32, 0.62, 0.66),
    (0.62, 0.50, 0.38),
    (0.50, 0.62, 0.28),
)
"""Colours by function, sRGB: flange, what all cylinders share, gas, a casting, one a cylinder."""


def colour_of(cylinder: int) -> tuple[float, float, float]:
    """Colour of a cylinder's parts."""
    return BY_CYLINDER[(cylinder - 1) % len(BY_CYLINDER)]


def assembly(
    name: str,
    flats: tuple[FlatPart, ...],
    runners: tuple[Runner, ...],
    secondaries: tuple[Secondary, ...],
    layout: Layout,
    feeds: tuple[tuple[int, ...], ...],
    attached: tuple[AttachedPart, ...] = (),
) -> Group:
    """Every part as cut, nested by what it belongs to.

    Args:
        name: of the root.
        flats: plate parts; those that are loose stay out.
        runners: by cylinder.
        secondaries: between junctions.
        layout: of the collector.
        feeds: cylinders whose gas comes in at each slot.
        attached: what stands on the runners.
    """
    plates = _plates(flats)
    tubes = Group("runners", tuple(_runner(runner) for runner in runners))
    joined = tuple(
        Part(tube.part, Tube(tube.path, tube.outer_radius, tube.inner_radius), OUTLET)
        for tube in secondaries
    )
    pieces = tuple(
        Part(
            piece.name
            if piece.slot is None
            else f"{piece.name}_{'_'.join(map(str, feeds[piece.slot]))}",
            piece.node,
            colour_of(feeds[piece.slot][0])
            if piece.slot is not None and len(feeds[piece.slot]) == 1
            else OUTLET,
        )
        for piece in sorted(
            layout.pieces,
            key=lambda piece: (math.inf,) if piece.slot is None else feeds[piece.slot],
        )
    )
    between = (Group("secondaries", joined),) if joined else ()
    downstream = (Group("collector", pieces),) if pieces else ()
    on = tuple(Part(part.name, part.node, _colour_on(part)) for part in attached)
    standing = (Group("attachments", on),) if on else ()
    return Group(name, (plates, tubes, *between, *downstream, *standing))


def _colour_on(part: AttachedPart) -> tuple[float, float, float]:
    number = part.runner.rpartition(" ")[2]
    return colour_of(int(number)) if number.isdigit() else OUTLET


def _plates(flats: tuple[FlatPart, ...]) -> Group:
    return Group(
        "flanges",
        tuple(
            Part(flat.name, Prism(flat.frame, flat.drilled, flat.thickness), FLANGE)
            for flat in flats
            if not flat.loose
        ),
    )


def cast_whole(branch: Group, flats: tuple[FlatPart, ...]) -> Group:
    """The same metal as one casting, beside the plates that are cut."""
    casting = Part("casting", Fuse(tuple(part.node for part in parts_of(branch))), CASTING)
    plates = _plates(flats)
    return Group(branch.name, (casting, plates) if plates.children else (casting,))


def _runner(runner: Runner) -> Group:
    colour = colour_of(runner.cylinder)
    return Group(
        f"runner_{runner.cylinder}",
        (
            Part(f"transition_{runner.cylinder}", runner.transition.metal, colour),
            *(Part(section.part, _metal(runner, section), colour) for section in runner.tubes),
        ),
    )


def _metal(runner: Runner, section: TubeSection) -> Node:
    """A stretch of a runner's tube, with the holes in it."""
    node: Node = Tube(section.path, section.outer[0], section.inner[0])
    if section.is_step:
        node = RuledWall(_cone(section.path, section.outer), _cone(section.path, section.inner))
    holes = tuple(tool for part, tool in runner.holes if part == section.part)
    return Cut(node, holes) if holes else node


def _bore(section: TubeSection) -> Node:
    if section.is_step:
        return RuledWall(_cone(section.path, section.inner))
    return Tube(section.path, section.inner[0])


def _cone(path: Centreline, radii: tuple[float, float]) -> tuple[Section, Section]:
    return (
        Section(path.start, circle((0.0, 0.0), radii[0])),
        Section(path.end, circle((0.0, 0.0), radii[1])),
    )


def gas_volumes(
    name: str, runners: tuple[Runner, ...], secondaries: tuple[Secondary, ...], layout: Layout
) -> tuple[Part, ...]:
    """The gas from the gasket face to the outlets: one solid a scroll, with named ends."""
    return tuple(
        _gas_volume(
            f"{name}_gas_{scroll.name}" if scroll.name else f"{name}_gas",
            tuple(runner for runner in runners if runner.slot in scroll.slots),
            tuple(secondaries[link] for link in scroll.links),
            scroll,
        )
        for scroll in layout.scrolls
    )


def _gas_volume(
    name: str, runners: tuple[Runner, ...], secondaries: tuple[Secondary, ...], scroll: Scroll
) -> Part:
    nodes: list[Node] = []
    faces: list[NamedFace] = []
    for runner in runners:
        entry = runner.transition.entry
        face = runner.transition.face or entry.z
        nodes += [runner.transition.gas, *(_bore(section) for section in runner.tubes)]
        faces.append(NamedFace(f"INLET_{runner.cylinder}", entry.origin, scale(face, -1.0)))
    nodes += [Tube(tube.path, tube.inner_radius) for tube in secondaries]
    return Part(name, Fuse((*nodes, *scroll.gas)), GAS, (*faces, *scroll.outlets))
