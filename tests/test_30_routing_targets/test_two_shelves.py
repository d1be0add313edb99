"""Tubes of one bundle from different shelves: each is laid out, and judged, by its own."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from proven import shortfall
from routing_bundles import CLR, SHELF, R, alone, bundle, keeping

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame, angle_between
from geomgen.routing.certificates import (
    below_floor,
    end_blocked,
    ends_too_near,
    too_few_bends,
    too_little_turn,
)
from geomgen.routing.failure import binding
from geomgen.routing.junctions import Junction, route_joined
from geomgen.routing.problem import (
    Edge,
    Impossible,
    Obstacle,
    Problem,
    Radius,
    Routed,
    Shelf,
    half_turn,
    shelf_of,
)
from geomgen.routing.prove import clearances, self_gaps
from geomgen.routing.shortest import least_change
from geomgen.routing.solve import EFFORTS, route, search

STEP = math.radians(5.0)
WIDE = Shelf((Radius(76.0, math.pi),), math.radians(15), 12.0, 25.0, 18.0)
STEPPED = replace(WIDE, angle_step=STEP)
NOTHING = Shelf((Radius(900.0, 0.01), Radius(1.0, 0.01)), 1.0, 700.0, 700.0, 700.0, 0, 1.1)
"""A shelf that nothing could be made of: whoever looks at it, is found out."""


def mixed(own: Shelf, radius: float = 25.0) -> Problem:
    """Three tubes; the last is thicker, has more room, and comes from a shelf of its own."""
    problem = bundle(3, 640.0)
    thick = replace(problem.edges[2], radius=radius, shelf=own, slots=(2,))
    slots = (*problem.slots[:2], problem.slots[2].shifted((0.0, 12.0, 0.0)))
    stub = replace(problem.bodies[2], path=Centreline(slots[2], (Straight(60.0),)), radius=radius)
    return replace(
        problem,
        edges=(*problem.edges[:2], thick),
        slots=slots,
        bodies=(*problem.bodies[:2], stub),
    )


def owned(problem: Problem, shelf: Shelf = NOTHING) -> Problem:
    """The same bundle, with every tube's shelf its own and the problem's another."""
    edges = tuple(replace(edge, shelf=shelf_of(problem, edge)) for edge in problem.edges)
    return replace(problem, edges=edges, shelf=shelf)


def straights(path: Centreline) -> list[float]:
    """Straights before, between and behind the bends, those of none included [mm]."""
    out = [0.0]
    for piece in path.pieces:
        if isinstance(piece, Bend):
            out.append(0.0)
        else:
            out[-1] += piece.length
    return out


def holds_to(path: Centreline, shelf: Shelf) -> None:
    """By the path's pieces alone."""
    first, *between, last = straights(path)
    assert first >= shelf.straight_at_start - 1e-6
    assert last >= shelf.straight_at_end - 1e-6
    assert all(straight >= shelf.straight - 1e-6 for straight in between)
    for bend in path.bends:
        assert bend.radius in {radius.clr for radius in shelf.radii}
        assert bend.angle >= shelf.least_angle - 1e-6
        if shelf.angle_step is not None:
            assert bend.angle / shelf.angle_step == pytest.approx(
                round(bend.angle / shelf.angle_step), abs=1e-5
            )


@pytest.mark.parametrize("own", [WIDE, STEPPED], ids=["any angle", "steps of 5 deg"])
def test_each_tube_is_made_of_its_own_shelf(own: Shelf) -> None:
    problem = mixed(own)
    answer = route(problem)
    assert isinstance(answer, Routed)
    for edge, path, slot in zip(problem.edges, answer.paths, answer.slots, strict=True):
        holds_to(path, own if edge.shelf is own else SHELF)
        assert abs(path.length - edge.length) <= 0.01
        assert math.dist(path.end.origin, problem.slots[slot].origin) < 1e-6
        assert angle_between(path.end.z, problem.slots[slot].z) < 1e-6
    assert shortfall(problem, answer.paths, answer.slots) <= 0.0
    # The other tubes' angles have no step: not all of them come to whole ones by chance.
    free = [bend.angle / STEP for path in answer.paths[:2] for bend in path.bends]
    assert any(abs(turns - round(turns)) > 1e-4 for turns in free)


TACKED = Centreline(bundle().edges[0].start, (Straight(20.0), Bend(CLR, math.radians(35), 0.4)))
PINNED = Centreline(
    Frame.facing((190.0, -248.0, 190.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)), (Straight(15.0),)
)
SAME = {
    "free": bundle(),
    "steps": replace(bundle(), shelf=replace(SHELF, angle_step=STEP)),
    "two bends of whole steps": alone(
        Frame(),
        Frame.facing((200.0, 100.0, 200.0), (1.0, 0.0, 0.0)),
        600.0,
        replace(SHELF, angle_step=math.radians(1), most_bends=3),
    ),
    "tacked": keeping(bundle(), 0, TACKED),
    "pinned": keeping(replace(bundle(), slots=bundle().slots), 1, PINNED),
    "floor": bundle(2, 330.0),
    "turn": replace(bundle(), shelf=replace(SHELF, radii=(Radius(CLR, 0.3),), most_bends=2)),
    "too few bends": replace(bundle(), shelf=replace(SHELF, angle_step=STEP, most_bends=2)),
}


@pytest.mark.parametrize("name", SAME)
def test_the_problems_shelf_is_not_looked_at_where_each_has_its_own(name: str) -> None:
    problem = SAME[name]
    answer = route(problem, efforts=EFFORTS[:1])
    assert route(owned(problem), efforts=EFFORTS[:1]) == answer
    if isinstance(answer, Routed):
        found = clearances(problem, answer.paths, answer.slots)
        assert clearances(owned(problem), answer.paths, answer.slots) == found


def test_nor_by_what_explains() -> None:
    wall = Obstacle("wall", Box((-300.0, -160.0, 5.0), (500.0, -60.0, 90.0)), 40.0)
    problem = replace(bundle(), obstacles=(*bundle().obstacles, wall), gap=60.0)
    rounds = tuple(search(p, EFFORTS[0]) for p in (problem, owned(problem)))
    assert rounds[0].routed is None
    assert binding(problem, rounds[:1]) == binding(owned(problem), rounds[1:])
    assert least_change(problem) == least_change(owned(problem))


def test_nor_where_junctions_are_placed() -> None:
    junction = Junction("slot", Frame.facing((200.0, -50.0, 220.0), (1, 0, 0)), (30, 30, 30), 0.3)

    def with_pose(poses: tuple[Frame, ...]) -> Problem:
        return alone(Frame(), poses[0], 520.0)

    one = route_joined((junction,), with_pose)
    two = route_joined((junction,), lambda poses: owned(with_pose(poses)))
    assert one is not None
    assert two is not None
    assert (two.poses, two.routed) == (one.poses, one.routed)


def test_a_floor_is_by_the_tubes_own_radius() -> None:
    """A point 300 mm beside a start: an arc, then the tangent (plane geometry).

    With r = 63 mm they make 344.4 mm, with r = 100 mm 382.6 mm.
    """
    slot = Frame((300.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0))
    for radius, floor in ((63.0, 344.4), (100.0, 382.6)):
        tangent = math.sqrt((300.0 - radius) ** 2 - radius**2)
        arc = radius * (math.pi - math.acos(radius / (300.0 - radius)))
        assert tangent + arc == pytest.approx(floor, abs=0.05)
    small = alone(Frame(), slot, 360.0)
    assert below_floor(small) is None
    own = replace(SHELF, radii=(Radius(100.0, math.pi),))
    large = replace(small, edges=(replace(small.edges[0], shelf=own),))
    named = below_floor(large)
    assert isinstance(named, Impossible)
    assert named.floor == pytest.approx(382.6, abs=0.05)
    assert least_change(large) == pytest.approx(22.6, abs=0.05)
    assert below_floor(replace(large, shelf=own, edges=small.edges)) is not None


OWN: dict[str, tuple[Callable[[Problem], Impossible | None], Shelf, Problem]] = {
    "turn": (
        too_little_turn,
        replace(SHELF, radii=(Radius(CLR, math.radians(40)),), most_bends=2),
        bundle(),
    ),
    "too few bends": (too_few_bends, replace(SHELF, angle_step=STEP, most_bends=2), bundle()),
    "start blocked": (
        end_blocked,
        replace(SHELF, straight_at_start=70.0),
        replace(
            bundle(),
            obstacles=(Obstacle("roof", Box((-90.0, -90.0, 125.0), (300.0, 90.0, 150.0)), 10.0),),
        ),
    ),
    "slot blocked": (
        end_blocked,
        replace(SHELF, straight_at_end=70.0),
        replace(
            bundle(),
            obstacles=(Obstacle("post", Box((190.0, -400.0, 150.0), (200.0, 0.0, 230.0)), 10.0),),
        ),
    ),
    "pitch": (
        ends_too_near,
        replace(SHELF, straight_at_start=90.0),
        replace(
            bundle(),
            edges=tuple(
                replace(edge, start=Frame.facing(edge.start.origin, (0.7 - 1.4 * i, 0.0, 1.0)))
                for i, edge in enumerate(bundle().edges)
            ),
        ),
    ),
}


@pytest.mark.parametrize("name", OWN)
def test_a_certificate_is_by_the_tubes_own_shelf(name: str) -> None:
    proof, own, problem = OWN[name]
    assert proof(problem) is None
    edges = tuple(replace(e, shelf=own, slots=(i,)) for i, e in enumerate(problem.edges))
    assert proof(replace(problem, edges=edges)) is not None
    # And not where the tubes' own shelves are the kinder ones.
    kind = tuple(replace(e, shelf=SHELF) for e in problem.edges)
    assert proof(replace(problem, edges=kind, shelf=own)) is None


def test_a_slot_that_one_tube_may_take_is_blocked_by_that_tubes_straight_alone() -> None:
    _, own, problem = OWN["slot blocked"]
    first, second = problem.edges
    open_to_both = replace(problem, edges=(replace(first, shelf=own), second))
    assert end_blocked(open_to_both) is None
    given = replace(
        problem, edges=(replace(first, shelf=own, slots=(1,)), replace(second, slots=(0,)))
    )
    named = end_blocked(given)
    assert named is not None
    assert named.edge == "slot 2"


def test_half_a_turn_is_of_the_tubes_own_widest_bend() -> None:
    problem = mixed(WIDE)
    assert [half_turn(problem, edge) for edge in problem.edges] == pytest.approx(
        [math.pi * CLR, math.pi * CLR, math.pi * 76.0]
    )


def test_a_tube_is_held_against_itself_by_its_own_shelf() -> None:
    """Three quarters of a turn at 63 mm: a tube as thick as that comes back to itself.

    Were a wide shelf of the problem's taken, all of it would lie within half a turn.
    """
    loop = Centreline(Frame(), (Straight(80.0), Bend(CLR, 1.6 * math.pi, 0.0), Straight(80.0)))
    wide = replace(SHELF, radii=(Radius(300.0, math.pi),))
    edge = Edge("runner 1", loop.start, loop.length, R, 0, shelf=SHELF)
    problem = Problem((edge,), (loop.end,), (), wide, 6.0, (), (), ())
    assert min(found.gap for found in self_gaps(problem, (loop,), (0,))) < 6.0
    assert not list(self_gaps(replace(problem, edges=(replace(edge, shelf=None),)), (loop,), (0,)))
