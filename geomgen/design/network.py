"""What the router is asked: edges, slots, bodies, shelf, obstacles, room for tools."""

from __future__ import annotations

from collections.abc import Mapping

from geomgen.design.access import Site, tool_places
from geomgen.design.bends import bends_to_be_had
from geomgen.design.fixed import Fixed
from geomgen.design.heads import obstacles_of
from geomgen.design.model import Stud
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box, Field, HalfSpace, Swept
from geomgen.geometry.frames import Vec, dot
from geomgen.geometry.solid_field import Solid
from geomgen.profiles.loops import bounding_box
from geomgen.routing.problem import Body, Edge, Obstacle, Problem
from geomgen.spec.header import HeaderSpec

FLANGE_NAME = "head flange"
"""Name of the obstacle that stands for the plate and the head face beside it."""


def routing_problem(
    spec: HeaderSpec, fixed: Fixed, solids: Mapping[str, Solid] | None = None
) -> Problem:
    """What the router is asked.

    Args:
        spec: what was said.
        fixed: what is decided without runners.
        solids: obstacles given as STEP, measured, by file.
    """
    end = dict(fixed.layout.stub)[spec.runners.length_to]
    order = spec.engine.firing_order
    pinned = dict(spec.runners.slots or ())
    edges = tuple(
        Edge(
            f"runner {port.cylinder}",
            bend.exit,
            target - bend.plate - bend.along - end,
            fixed.tube.outer_radius,
            order.index(port.cylinder),
            slots=(pinned[port.cylinder],) if port.cylinder in pinned else None,
        )
        for port, bend, target in zip(fixed.ports, fixed.transitions, fixed.targets, strict=True)
    )
    for edge, port, target in zip(edges, fixed.ports, fixed.targets, strict=True):
        if edge.length <= 0.0:
            listed = isinstance(spec.runners.length, tuple)
            raise SpecError(
                (
                    Complaint(
                        ("runners", "length", *([port.cylinder - 1] if listed else [])),
                        f"{target:.1f} mm",
                        f"more than {target - edge.length:.1f} mm, which plate, transition and "
                        "stub alone take",
                        "ask for a longer runner",
                    ),
                )
            )
    bodies = _bodies(fixed)
    obstacles = obstacles_of(spec, solids or {})
    places = tool_places(_site(spec, fixed, bodies, obstacles))
    return Problem(
        edges=edges,
        slots=fixed.layout.slots,
        bodies=bodies,
        shelf=bends_to_be_had(spec),
        gap=fixed.limits["runner_gap"],
        obstacles=(*obstacles, _plate(fixed)),
        off=_off_the_studs(fixed, obstacles),
        # A stud that nothing can reach beside what stands still is for the checks to name: no
        # layout of runners mends it.
        studs=tuple(dict.fromkeys(place.stud for place in places)),
        places=places,
    )


def _site(
    spec: HeaderSpec, fixed: Fixed, bodies: tuple[Body, ...], obstacles: tuple[Obstacle, ...]
) -> Site:
    return Site(
        spec.tools,
        fixed.studs,
        spec.flange.thickness,
        fixed.limits["tool_play"],
        fixed.limits["nut_start"],
        bodies,
        obstacles,
    )


def _bodies(fixed: Fixed) -> tuple[Body, ...]:
    ends = tuple(
        Body(
            f"transition {port.cylinder}",
            Centreline(port.frame, (Straight(bend.plate + bend.length),)),
            bend.half_width,
            edge=i,
        )
        for i, (port, bend) in enumerate(zip(fixed.ports, fixed.transitions, strict=True))
    )
    downstream = tuple(
        Body(envelope.name, envelope.path, envelope.radius, slot=envelope.slot)
        for envelope in fixed.layout.envelopes
    )
    return (*ends, *downstream)


def _plate(fixed: Fixed) -> Obstacle:
    """The flange and the head behind it, for runners that come back towards them."""
    box = bounding_box(*(flange.profile.outer for flange in fixed.flanges))
    return Obstacle(
        FLANGE_NAME,
        Box(
            (box.left, box.bottom, -40.0),
            (box.right, box.top, fixed.flanges[0].thickness),
        ),
        fixed.limits["runner_gap"],
    )


def off_travel(studs: tuple[Stud, ...]) -> float:
    """How far the flange must slide to come off its studs [mm]."""
    return max((stud.at[2] + stud.protrusion for stud in studs), default=0.0)


def _off_the_studs(fixed: Fixed, obstacles: tuple[Obstacle, ...]) -> tuple[Obstacle, ...]:
    """Obstacles that a manifold could touch as it slides off; nothing else need be kept."""
    way, travel = fixed.flanges[0].frame.z, off_travel(fixed.studs)
    return tuple(
        Obstacle(obstacle.name, Swept(obstacle.field, way, travel), 0.0)
        for obstacle in obstacles
        if travel > 0.0 and not _left_behind(obstacle.field, way, fixed.flanges[0].thickness)
    )


def _left_behind(field: Field, way: Vec, front: float) -> bool:
    """Whether sliding only leads away: no tube is behind the plate's front."""
    if isinstance(field, HalfSpace):
        return dot(field.normal, way) >= 0.0
    return isinstance(field, Box | Solid) and way == (0.0, 0.0, 1.0) and field.high[2] <= front
