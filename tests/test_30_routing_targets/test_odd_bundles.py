"""Bundles that nobody would ask for: answered and proven, or told, and never a traceback."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from proven import shortfall
from routing_bundles import CLR, SHELF, alone, bundle

from geomgen.geometry.fields import Box, Cylinder
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.routing.failure import binding
from geomgen.routing.problem import Impossible, Obstacle, Problem, Radius, Routed, Shelf
from geomgen.routing.solve import EFFORTS, barred, search

INLINE = replace(
    bundle(2, 300.0),
    slots=tuple(Frame((110.0 * i, 0.0, 350.0)) for i in range(2)),
    bodies=(),
    obstacles=(),
)


def longer(problem: Problem, length: float) -> Problem:
    return replace(problem, edges=tuple(replace(e, length=length) for e in problem.edges))


def shelved(**other: object) -> Problem:
    return replace(bundle(), shelf=replace(SHELF, **other))  # type: ignore[arg-type]


def beside(field: Box | Cylinder) -> Problem:
    problem = bundle()
    return replace(problem, obstacles=(*problem.obstacles, Obstacle("odd", field, 0.0)))


ROUTED = {
    "one tube, slots to spare": replace(bundle(), edges=bundle().edges[:1]),
    "one tube, nothing else": alone(
        Frame(), Frame.facing((200.0, 100.0, 200.0), (1.0, 0.0, 0.0)), 600.0
    ),
    "more slots than tubes": replace(bundle(3), edges=bundle(3).edges[:2]),
    "parallel in line": INLINE,
    "parallel in line, too long for straights": longer(INLINE, 420.0),
    "slot beside, facing back": alone(
        Frame(), Frame((200.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)), 400.0
    ),
    "slot behind the port": alone(
        Frame(), Frame((150.0, 40.0, -100.0), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)), 700.0
    ),
    "face to face": alone(
        Frame(), Frame((0.0, 0.0, 200.0), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)), 600.0
    ),
    "nearly parallel": alone(Frame(), Frame.facing((100.0, 0.0, 300.0), (1e-10, 0.0, 1.0)), 350.0),
    "six times as long": longer(bundle(), 4000.0),
    "no least angle, no straights": shelved(least_angle=0.0, straight_at_start=0.0),
    "five radii": shelved(
        radii=tuple(Radius(r, math.pi / 2) for r in (40.0, 50.0, 63.0, 80.0, 100.0))
    ),
    "no bends allowed, none needed": alone(
        Frame(), Frame((0.0, 0.0, 300.0)), 300.0, replace(SHELF, most_bends=0)
    ),
    "steps of a hundredth of a degree": shelved(angle_step=math.radians(0.01)),
    "a box of nothing": beside(Box((50.0, -200.0, 100.0), (50.0, -200.0, 100.0))),
    "a box inside out": beside(Box((50.0, -100.0, 100.0), (40.0, -120.0, 90.0))),
    "a bar of no thickness": beside(Cylinder((50.0, -100.0, 100.0), (50.0, -100.0, 300.0), 0.0)),
}


@pytest.mark.parametrize("name", ROUTED)
def test_it_is_routed(name: str) -> None:
    problem = ROUTED[name]
    assert barred(problem) is None
    answer = search(problem, EFFORTS[0]).routed
    assert isinstance(answer, Routed)
    assert shortfall(problem, answer.paths, answer.slots) <= 0.0
    assert len(set(answer.slots)) == len(problem.edges)
    for path, edge, slot in zip(answer.paths, problem.edges, answer.slots, strict=True):
        assert abs(path.length - edge.length) <= 0.01
        assert distance(path.end.origin, problem.slots[slot].origin) < 1e-6
        assert angle_between(path.end.z, problem.slots[slot].z) < 1e-6
        assert all(piece.length >= 0.0 for piece in path.pieces)


TOLD = {
    "equal poses": alone(Frame(), Frame(), 600.0),
    "more tubes than slots": replace(
        bundle(), slots=bundle().slots[:1], bodies=bundle().bodies[:1]
    ),
    "both want one slot": replace(
        bundle(), edges=tuple(replace(e, slots=(1,)) for e in bundle().edges)
    ),
    "two slots in one place": replace(bundle(), slots=(bundle().slots[0],) * 2),
    "bends larger than the room": shelved(radii=(Radius(400.0, math.pi),)),
    "least angle over the largest": replace(
        bundle(), shelf=Shelf((Radius(CLR, 1.0),), 2.0, 0.0, 10.0, 0.0)
    ),
    "straights longer than the tubes": shelved(straight=500.0),
    "a straight at the port longer than the tube": shelved(straight_at_start=2000.0),
    "steps over half a turn": shelved(angle_step=math.radians(200.0)),
    "a hair too long to be straight": alone(Frame(), Frame((0.5, 0.0, 300.0)), 300.01),
    "half a mm": alone(Frame(), Frame.facing((0.001, 0.0, 0.5), (0.01, 0.0, 1.0)), 0.6),
}


@pytest.mark.parametrize("name", TOLD)
def test_it_is_told(name: str) -> None:
    problem = TOLD[name]
    answer = barred(problem)
    if answer is None:
        found = search(problem, EFFORTS[0])
        assert found.routed is None
        assert "runner" in binding(problem, (found,)).text


CERTAIN = {
    "length of none": ("floor", longer(bundle(), 0.0)),
    "length below none": ("floor", longer(bundle(), -5.0)),
    "below the floor by a millionth": (
        "floor",
        alone(Frame(), Frame((0.0, 0.0, 300.0)), 300.0 - 1e-6),
    ),
    "equal ports": (
        "pitch",
        replace(
            bundle(),
            edges=tuple(replace(e, start=bundle().edges[0].start) for e in bundle().edges),
        ),
    ),
    "no bends allowed, a turn needed": ("turn", shelved(most_bends=0)),
}


@pytest.mark.parametrize("name", CERTAIN)
def test_it_is_certain(name: str) -> None:
    kind, problem = CERTAIN[name]
    answer = barred(problem)
    assert isinstance(answer, Impossible)
    assert answer.kind == kind
