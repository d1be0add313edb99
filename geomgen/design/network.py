"""What the router is asked: edges, slots, bodies, shelf, obstacles, room for tools."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations

from geomgen.design.access import Site, tool_places, tools_for
from geomgen.design.attaching import stations_of
from geomgen.design.bends import bends_to_be_had
from geomgen.design.fixed import Fixed
from geomgen.design.hanging import bolted_flanges, bolted_plates, hung
from geomgen.design.heads import obstacles_of
from geomgen.design.model import Stud
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.families import Layout, Link
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box, Field, HalfSpace, Swept, placed
from geomgen.geometry.frames import Frame, Vec, dot
from geomgen.geometry.solid_field import Solid
from geomgen.profiles.loops import bounding_box
from geomgen.routing.problem import Body, Edge, Obstacle, Problem, Radius, Shelf
from geomgen.spec.header import HeaderSpec


def routing_problem(
    spec: HeaderSpec, fixed: Fixed, solids: Mapping[str, Solid] | None = None
) -> Problem:
    """What the router is asked.

    Args:
        spec: what was said.
        fixed: what is decided without runners.
        solids: obstacles given as STEP, measured, by file.
    """
    if fixed.layout.inside:
        _hold_pitch(fixed, fixed.layout.slots)
    bodies = _bodies(fixed, fixed.layout)
    beside = obstacles_of(spec, solids or {})
    obstacles = (*beside, *hung(spec, fixed.layout))
    places = tuple(
        place for site in _sites(spec, fixed, bodies, obstacles) for place in tool_places(site)
    )
    return Problem(
        edges=_edges(spec, fixed, fixed.layout),
        slots=fixed.layout.slots,
        bodies=bodies,
        shelf=_shelf(spec, fixed),
        gap=fixed.limits["runner_gap"],
        obstacles=(
            *obstacles,
            *_plates(fixed),
            *bolted_plates(fixed.layout, fixed.limits["runner_gap"]),
        ),
        off=_off_the_studs(fixed, beside),
        # A stud that nothing can reach beside what stands still is for the checks to name: no
        # layout of runners mends it.
        studs=tuple(dict.fromkeys(place.stud for place in places)),
        places=places,
        rings=fixed.layout.rings,
    )


def _shelf(spec: HeaderSpec, fixed: Fixed) -> Shelf:
    """Of the runners, whose last straights reach as far as their ends are inside a slip.

    Without a shelf, where the family lays them, it is of the bends that they have.
    """
    if not spec.shelf.bends:
        bends = [bend for path in fixed.layout.laid or () for bend in path.bends]
        own = dict.fromkeys(Radius(bend.radius, math.pi) for bend in bends)
        return Shelf(tuple(own), 0.0, 0.0, 0.0, 0.0)
    shelf, inside = bends_to_be_had(spec, spec.runners.tube.od), fixed.layout.inside
    return replace(shelf, straight_at_end=max(shelf.straight_at_end, inside))


def _hold_pitch(fixed: Fixed, slots: tuple[Frame, ...]) -> None:
    """Parallel slots leave the gap that runners keep up to their last straights.

    Where one of two tubes turns into its last straight the other runs beside it, or turns
    there too: between parallel slots they come as near as the slots are.
    """
    wanted = fixed.limits["runner_gap"]
    apart = min(math.hypot(*a.local(b.origin)[:2]) for a, b in combinations(slots, 2))
    left = apart - 2.0 * fixed.tube.outer_radius
    if left < wanted - 1e-9:
        raise SpecError(
            (
                Complaint(
                    ("collector", "entry_gap"),
                    f"runners {left:.2f} mm apart where they run in parallel",
                    f"the gap that runners keep, limits.runner_gap, {wanted:g} mm",
                    f"add {wanted - left:.2f} mm to collector.entry_gap, or set "
                    "limits.runner_gap to what the array leaves",
                ),
            )
        )


def with_layout(spec: HeaderSpec, fixed: Fixed, problem: Problem, layout: Layout) -> Problem:
    """The same problem with the collector laid out anew: its junctions stand elsewhere.

    Room for tools is that of the problem as it was.
    """
    return replace(
        problem,
        edges=_edges(spec, fixed, layout),
        slots=layout.slots,
        bodies=_bodies(fixed, layout),
        rings=layout.rings,
    )


def _edges(spec: HeaderSpec, fixed: Fixed, layout: Layout) -> tuple[Edge, ...]:
    order = spec.engine.firing_order
    pinned, taken = dict(spec.runners.slots or ()), dict(layout.takes)
    end = [dict(ends)[spec.runners.length_to] for ends in layout.ends]
    edges: list[Edge] = []
    for port, bend, target in zip(fixed.ports, fixed.transitions, fixed.targets, strict=True):
        slots = taken.get(port.cylinder)
        if port.cylinder in pinned:
            slots = _pinned(port.cylinder, pinned[port.cylinder], slots)
        # Where the family lays the runners, each has the slot of its own place in the row.
        first = len(edges) if layout.laid is not None else 0
        behind = end[slots[0]] if slots else end[first]
        edge = Edge(
            f"runner {port.cylinder}",
            bend.exit,
            target - bend.plate - bend.along - behind,
            fixed.tube.outer_radius,
            order.index(port.cylinder),
            slots=slots,
            stations=stations_of(spec, bend.plate + bend.along, layout.inside),
        )
        _hold_length(spec, edge, port.cylinder, target)
        edges.append(edge)
    number = {slot: i for i, ring in enumerate(layout.rings) for slot in ring}
    for link in layout.links:
        fed = [edge for edge in edges if edge.slots and number.get(edge.slots[0]) is not None]
        orders = [e.order for e in fed if number[(e.slots or (0,))[0]] == number[link.feeds[0]]]
        edges.append(
            Edge(
                link.name,
                link.start,
                link.length - link.before - end[link.slots[0]],
                link.tube.outer_radius,
                min(orders, default=0),
                slots=link.slots,
                at_start=spec.shelf.min_straight,
                shelf=bends_to_be_had(spec, 2.0 * link.tube.outer_radius),
            )
        )
        _hold_link(edges[-1], link)
    return tuple(edges)


def _pinned(cylinder: int, place: int, taken: tuple[int, ...] | None) -> tuple[int, ...]:
    if taken is None or place in taken:
        return (place,)
    raise SpecError(
        (
            Complaint(
                ("runners", "slots", str(cylinder)),
                f"place {place}, of another merge than the cylinder's own",
                f"one of {', '.join(map(str, taken))}",
                "correct the place, or collector.pairs",
            ),
        )
    )


def _hold_length(spec: HeaderSpec, edge: Edge, cylinder: int, target: float) -> None:
    if edge.length > 0.0:
        return
    listed = isinstance(spec.runners.length, tuple)
    raise SpecError(
        (
            Complaint(
                ("runners", "length", *([cylinder - 1] if listed else [])),
                f"{target:.1f} mm",
                f"more than {target - edge.length:.1f} mm, which plate, transition and "
                "stub alone take",
                "ask for a longer runner",
            ),
        )
    )


def _hold_link(edge: Edge, link: Link) -> None:
    if edge.length > 0.0:
        return
    raise SpecError(
        (
            Complaint(
                ("collector", "secondary", "length"),
                f"{link.length:.1f} mm for {link.name}",
                f"more than {link.length - edge.length:.1f} mm, which the merges at its ends "
                "alone take",
                "ask for a longer one",
            ),
        )
    )


def _sites(
    spec: HeaderSpec, fixed: Fixed, bodies: tuple[Body, ...], obstacles: tuple[Obstacle, ...]
) -> tuple[Site, ...]:
    faces = [(head.studs, head.place.seat, head.place.frame) for head in fixed.heads]
    faces += [(face.studs, face.seat, face.frame) for face in bolted_flanges(fixed.layout)]
    return tuple(
        Site(
            tools_for(spec.tools, studs),
            studs,
            seat,
            fixed.limits["tool_play"],
            fixed.limits["nut_start"],
            bodies,
            obstacles,
            frame,
        )
        for studs, seat, frame in faces
    )


def _bodies(fixed: Fixed, layout: Layout) -> tuple[Body, ...]:
    ends = tuple(
        Body(
            f"transition {port.cylinder}",
            Centreline(port.frame, (Straight(bend.plate + bend.length),)),
            bend.half_width,
            edge=i,
        )
        for i, (port, bend) in enumerate(zip(fixed.ports, fixed.transitions, strict=True))
    )
    first = len(fixed.ports)
    downstream = tuple(
        Body(
            envelope.name,
            envelope.path,
            envelope.radius,
            edge=None if envelope.link is None else first + envelope.link,
            slot=envelope.slot,
            takes=envelope.takes,
            free=envelope.free,
        )
        for envelope in layout.envelopes
        if not envelope.around
    )
    return (*ends, *downstream)


def _plates(fixed: Fixed) -> tuple[Obstacle, ...]:
    """The flanges and the heads behind them, for runners that come back towards them."""
    found = []
    for head in fixed.heads:
        place = head.place
        own = [flat.profile.outer for flat in fixed.flanges if flat.frame == place.frame]
        box = bounding_box(*own)
        field = Box((box.left, box.bottom, -40.0), (box.right, box.top, place.seat))
        name = " ".join(filter(None, (place.name, "head flange")))
        found.append(Obstacle(name, placed(field, place.frame), fixed.limits["runner_gap"]))
    return tuple(found)


def off_travel(studs: tuple[Stud, ...]) -> float:
    """How far the flange must slide to come off its studs [mm]."""
    return max((stud.at[2] + stud.protrusion for stud in studs), default=0.0)


def _off_the_studs(fixed: Fixed, obstacles: tuple[Obstacle, ...]) -> tuple[Obstacle, ...]:
    """Obstacles that a manifold could touch as it slides off; nothing else need be kept."""
    found = []
    for head in fixed.heads:
        way, travel = head.place.frame.z, off_travel(head.studs)
        found += [
            Obstacle(obstacle.name, Swept(obstacle.field, way, travel), 0.0)
            for obstacle in obstacles
            if travel > 0.0 and not _left_behind(obstacle.field, way, head.place.seat)
        ]
    return tuple(found)


def _left_behind(field: Field, way: Vec, front: float) -> bool:
    """Whether sliding only leads away: no tube is behind the plate's front."""
    if isinstance(field, HalfSpace):
        return dot(field.normal, way) >= 0.0
    return isinstance(field, Box | Solid) and way == (0.0, 0.0, 1.0) and field.high[2] <= front
