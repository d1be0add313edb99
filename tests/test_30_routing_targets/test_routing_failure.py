"""What is said when nothing is found: which way the collector must go, and what binds."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proven import shortfall
from routing_bundles import CLR, SHELF, R, alone, bundle

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame, scale, sub
from geomgen.routing.failure import binding, collector_moves, moved
from geomgen.routing.problem import Body, Move, NotFound, Obstacle, Problem, Routed
from geomgen.routing.solve import EFFORTS, quiet, route, search

AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


def by_move(problem: Problem, move: Move, part: float = 1.0) -> Problem:
    return moved(problem, scale(AXES[move.axis], part * move.by))


def aside(axis: str, by: float) -> Problem:
    """One tube of one bend whose slot stands aside of where the axes would meet.

    A quarter turn of 63 mm between legs of 150 mm: there is no other path of one bend, and
    its length is that.
    """
    end = Frame.facing((150.0, 0.0, 150.0), (1.0, 0.0, 0.0))
    length = 2.0 * (150.0 - CLR) + CLR * math.pi / 2.0
    shelf = replace(SHELF, most_bends=1)
    return moved(alone(Frame(), end, length, shelf), scale(AXES[axis], -by))


@pytest.mark.parametrize("by", [20.0, -20.0, 5.0, 80.0])
def test_the_one_way_that_frees_it_is_told(by: float) -> None:
    problem = aside("y", by)
    answer = route(problem)
    assert isinstance(answer, NotFound)
    # By school geometry: only along y, and only by as much as it stands aside.
    assert answer.moves == (Move("y", by, True),)
    (move,) = answer.moves
    freed = by_move(problem, move)
    there = route(freed)
    assert isinstance(there, Routed)
    assert shortfall(freed, there.paths, there.slots) <= 0.0
    assert search(by_move(problem, move, 0.5), EFFORTS[0]).routed is None
    assert answer.nearest_length is None


def test_a_collector_too_far_off_for_the_length() -> None:
    """What is said of a length that does not reach: every move routes, none by its half."""
    problem = bundle(1, 440.0)
    answer = route(problem, efforts=EFFORTS[:1])
    assert isinstance(answer, NotFound)
    assert answer.moves
    for move in answer.moves:
        freed = by_move(problem, move)
        found = search(freed, EFFORTS[0]).routed
        assert found is not None
        assert shortfall(freed, found.paths, found.slots) <= 0.0
        assert move.half_failed
        assert search(by_move(problem, move, 0.5), EFFORTS[0]).routed is None
    assert answer.nearest_length is not None
    longer = replace(
        problem,
        edges=tuple(replace(e, length=e.length + answer.nearest_length) for e in problem.edges),
    )
    assert search(longer, EFFORTS[0]).routed is not None


@given(
    st.sampled_from(sorted(AXES)),
    st.sampled_from([1.0, -1.0]),
    st.floats(0.6, 150.0),
)
def test_the_move_is_the_least_by_halves(axis: str, way: float, least: float) -> None:
    """For a problem that is freed from some way on, and a budget that always tells."""
    problem = bundle(2)
    asked = 0

    def fits(there: Problem) -> tuple[bool, int]:
        nonlocal asked
        asked += 7
        gone = sub(there.slots[0].origin, problem.slots[0].origin)
        along = sum(a * b for a, b in zip(gone, AXES[axis], strict=True))
        return way * along >= least - 1e-9, 7

    moves, tried = collector_moves(problem, fits, quiet)
    (move,) = moves
    assert (move.axis, move.half_failed) == (axis, True)
    assert way * move.by >= least - 1e-6
    assert way * move.by < 2.0 * least + 1e-6
    assert tried == asked


def test_no_move_is_told_when_none_frees() -> None:
    moves, tried = collector_moves(bundle(2), lambda _: (False, 1), quiet)
    assert moves == ()
    assert tried == 6 * 6  # 5, 10, 20, 40, 80 and 160 mm, both ways along three axes


def test_moves_are_not_halved_for_ever() -> None:
    """When any move at all frees it, the least that is looked at is told as what it is."""
    moves, _ = collector_moves(bundle(2), lambda _: (True, 1), quiet)
    assert [move.axis for move in moves] == ["x", "y", "z"]
    assert all(0.0 < move.by <= 0.5 and not move.half_failed for move in moves)


def test_the_collector_moves_with_what_stands_behind_it() -> None:
    problem = bundle(2)
    start = problem.edges[0].start
    transition = Body("transition", Centreline(start.moved(-30.0), (Straight(30.0),)), R, edge=0)
    cone = Body("cone", Centreline(problem.slots[0].moved(60.0), (Straight(80.0),)), 40.0)
    problem = replace(problem, bodies=(*problem.bodies, transition, cone))
    there = moved(problem, (3.0, -4.0, 5.0))
    assert there.edges == problem.edges
    for old, new in zip(problem.slots, there.slots, strict=True):
        assert sub(new.origin, old.origin) == pytest.approx((3.0, -4.0, 5.0))
        assert (new.x, new.z) == (old.x, old.z)
    for was, now in zip(problem.bodies, there.bodies, strict=True):
        by = (0.0, 0.0, 0.0) if was.edge is not None else (3.0, -4.0, 5.0)
        assert sub(now.path.start.origin, was.path.start.origin) == pytest.approx(by)
    assert there.obstacles == problem.obstacles


def test_what_binds_is_named() -> None:
    """Room for one tube of 42 mm where two must pass."""
    problem = bundle(2)
    walls = tuple(
        Obstacle(name, Box(low, high), 5.0)
        for name, low, high in (
            ("wall left", (-900.0, -170.0, -900.0), (40.0, -160.0, 900.0)),
            ("wall right", (94.0, -170.0, -900.0), (1500.0, -160.0, 900.0)),
            ("wall below", (40.0, -170.0, -900.0), (94.0, -160.0, 150.0)),
            ("wall above", (40.0, -170.0, 240.0), (94.0, -160.0, 900.0)),
        )
    )
    narrow = replace(problem, obstacles=(*problem.obstacles, *walls))
    found = search(narrow, EFFORTS[0])
    assert found.routed is None
    told = binding(narrow, (found,)).text
    assert "runner" in told
    assert any(word in told for word in ("comes within", "finds no path", "no set of them"))


def test_more_tubes_than_slots_is_told() -> None:
    problem = bundle(2)
    short = replace(problem, slots=problem.slots[:1], bodies=problem.bodies[:1])
    found = search(short, EFFORTS[0])
    assert found.routed is None
    assert binding(short, (found,)).text
