"""Bend angles in whole steps, few bends, and the certificates for both."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from problem_set.stepped import aside, two_bend_lengths
from proven import shortfall
from routing_bundles import CLR, SHELF, alone, bundle

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, Vec, angle_between, distance
from geomgen.routing.problem import Impossible, NotFound, Problem, Radius, Routed, Shelf
from geomgen.routing.solve import EFFORTS, barred, route, search
from geomgen.routing.stepped import stepped_two_bends

ANGLES = st.floats(0.2, 2.2)
ROLLS = st.floats(-3.0, 3.0)
LEGS = st.floats(5.0, 150.0)


def stepped(problem: Problem, degrees: float, **other: Any) -> Problem:
    shelf = replace(problem.shelf, angle_step=math.radians(degrees), **other)
    return replace(problem, shelf=shelf)


def held(problem: Problem, answer: object) -> Routed:
    """A proven answer of exact length, whole angles and no more bends than asked."""
    assert isinstance(answer, Routed)
    assert shortfall(problem, answer.paths, answer.slots) <= 0.0
    shelf = problem.shelf
    for path, edge, slot in zip(answer.paths, problem.edges, answer.slots, strict=True):
        assert abs(path.length - edge.length) <= 0.01
        assert distance(path.end.origin, problem.slots[slot].origin) < 1e-6
        assert angle_between(path.end.z, problem.slots[slot].z) < 1e-6
        assert shelf.most_bends is None or len(path.bends) <= shelf.most_bends
        for bend in path.bends:
            assert bend.angle >= shelf.least_angle - 1e-9
            if shelf.angle_step is not None:
                off = math.remainder(bend.angle, shelf.angle_step)
                assert abs(off) < 1e-6
    return answer


@pytest.mark.parametrize(("degrees", "most"), [(1.0, None), (5.0, 3), (15.0, 4)])
def test_every_angle_of_a_bundle_is_whole(degrees: float, most: int | None) -> None:
    problem = stepped(bundle(), degrees, most_bends=most)
    free = replace(bundle(), shelf=replace(SHELF, most_bends=most))
    # A step can only cost, but for what either search leaves on the table.
    assert held(problem, route(problem)).score >= held(free, route(free)).score - 0.2


@pytest.mark.parametrize("degrees", [1.0, 5.0, 15.0, 45.0])
@pytest.mark.parametrize("most", [3, 4])
@pytest.mark.parametrize("rolls", [(0.3, 1.2, 2.0, -0.8), (2.3, 0.7, -1.8, 1.0)])
def test_a_planted_tube_of_whole_angles(
    degrees: float, most: int, rolls: tuple[float, ...]
) -> None:
    """Bends of 45 and 90 deg lead there, so there is an answer in every step that divides 45."""
    pieces: list[Straight | Bend] = []
    for i in range(most):
        angle = math.radians(90.0 if i % 2 else 45.0)
        pieces += [Straight(40.0 + 17.0 * i), Bend(CLR, angle, rolls[i])]
    path = Centreline(Frame(), (*pieces, Straight(60.0)))
    problem = stepped(alone(path.start, path.end, path.length), degrees, most_bends=most)
    rounds = (search(problem, effort).routed for effort in EFFORTS)
    held(problem, next((found for found in rounds if found), None))


def as_plain(problem: Problem) -> dict[str, Any]:
    """The problem as the independent count reads it."""
    shelf = problem.shelf
    return {
        "shelf": {
            "radii": [{"clr": r.clr, "most_angle": r.most} for r in shelf.radii],
            "least_angle": shelf.least_angle,
            "straight": shelf.straight,
            "straight_at_start": shelf.straight_at_start,
            "straight_at_end": shelf.straight_at_end,
        },
        "tubes": [{"origin": e.start.origin, "z": e.start.z} for e in problem.edges],
        "slots": [{"origin": s.origin, "z": s.z} for s in problem.slots],
    }


@pytest.mark.parametrize("degrees", [1.0, 5.0, 15.0, 45.0])
def test_two_bends_of_whole_angles_are_counted(degrees: float) -> None:
    """Impossible exactly where the other count finds no length within reach of the target."""
    problem = stepped(bundle(), degrees, most_bends=2)
    plain = as_plain(problem)
    step = math.radians(degrees)
    off = [
        min(
            (
                float(np.abs(two_bend_lengths(plain, tube, slot, step) - edge.length).min())
                for slot in range(len(problem.slots))
                if len(two_bend_lengths(plain, tube, slot, step))
            ),
            default=math.inf,
        )
        for tube, edge in enumerate(problem.edges)
    ]
    assert all(aside(plain, 0, slot) > 0.1 for slot in range(2))
    answer = barred(problem)
    if max(off) > 0.2:
        assert isinstance(answer, Impossible)
        assert answer.kind == "too-few-bends"
        assert answer.edge == problem.edges[int(np.argmax(np.array(off) > 0.2))].name
    else:
        assert answer is None


@settings(max_examples=25)
@given(
    st.integers(1, 9),
    st.integers(1, 9),
    ROLLS,
    ROLLS.filter(lambda r: abs(math.sin(r)) > 0.05),
    st.tuples(LEGS, LEGS, LEGS),
    st.floats(-0.009, 0.009),
)
def test_a_planted_pair_of_whole_angles_is_found(
    first: int, last: int, roll: float, turn: float, legs: Vec, slip: float
) -> None:
    """Two bends of whole 15 degrees, its length off by no more than may be."""
    step = math.radians(15.0)
    path = Centreline(
        Frame(),
        (
            Straight(legs[0] + 10.0),
            Bend(CLR, first * step, roll),
            Straight(legs[1]),
            Bend(CLR, last * step, turn),
            Straight(legs[2]),
        ),
    )
    shelf = replace(SHELF, angle_step=step, most_bends=2)
    problem = alone(path.start, path.end, path.length + slip, shelf)
    lengths = two_bend_lengths(as_plain(problem), 0, 0, step)
    assert np.abs(lengths - path.length).min() < 1e-5
    counted = stepped_two_bends(path.start, path.end, path.length + slip, shelf, step)
    assert counted is not None
    corner = np.array(path.frames[1].origin) + np.array(
        [0.0, 0.0, CLR * math.tan(first * step / 2)]
    )
    assert np.abs(counted[0][:, 0] - corner).max(axis=1).min() < 1e-5
    assert barred(problem) is None
    # The plain tube may foul itself; then nothing is promised.
    if shortfall(problem, (path,), (0,)) < -0.1:
        found = search(problem, EFFORTS[0]).routed
        held(problem, found)


@settings(max_examples=25)
@given(st.tuples(*[st.floats(-300.0, 300.0)] * 3), st.floats(0.3, 2.8), ROLLS, st.floats(300, 900))
def test_the_two_counts_agree(where: Vec, tilt: float, about: float, length: float) -> None:
    """All lengths, and which of them are within 0.01 mm of one."""
    way = (
        math.sin(tilt) * math.cos(about),
        math.sin(tilt) * math.sin(about),
        math.cos(tilt),
    )
    end = Frame.facing(where, way)
    step = math.radians(5.0)
    problem = alone(Frame(), end, length, replace(SHELF, angle_step=step, most_bends=2))
    if aside(as_plain(problem), 0, 0) < 0.1:
        return
    lengths = two_bend_lengths(as_plain(problem), 0, 0, step)
    near = lengths[np.abs(lengths - length) < 30.0]
    for one in near[:5]:
        found = stepped_two_bends(Frame(), end, float(one), problem.shelf, step)
        assert found is not None
        assert len(found[0]) >= 1
    if isinstance(barred(problem), Impossible):
        kind = barred(problem)
        assert isinstance(kind, Impossible)
        assert kind.kind in ("floor", "too-few-bends")
        assert not len(lengths) or np.abs(lengths - length).min() > 0.05


@pytest.mark.parametrize("most", [2, 3, 4, 5])
def test_no_more_bends_than_asked(most: int) -> None:
    problem = replace(bundle(), shelf=replace(SHELF, most_bends=most))
    held(problem, route(problem))


def test_one_bend_where_the_axes_meet() -> None:
    """School geometry: a quarter turn of 63 mm between legs of 150 mm."""
    end = Frame.facing((150.0, 0.0, 150.0), (1.0, 0.0, 0.0))
    length = 2.0 * (150.0 - CLR) + CLR * math.pi / 2.0
    for shelf in (
        replace(SHELF, most_bends=1),
        replace(SHELF, most_bends=1, angle_step=math.radians(15)),
        replace(SHELF, angle_step=math.radians(45)),
    ):
        problem = alone(Frame(), end, length, shelf)
        (path,) = held(problem, route(problem)).paths
        assert len(path.bends) == 1
        assert path.bends[0].angle == pytest.approx(math.pi / 2.0, abs=1e-9)
    off = alone(Frame(), end, length, replace(SHELF, most_bends=1, angle_step=math.radians(40)))
    assert search(off, EFFORTS[0]).routed is None


def test_one_bend_is_not_found_between_axes_that_pass() -> None:
    """Nothing is claimed but that nothing was found."""
    problem = replace(bundle(), shelf=replace(SHELF, most_bends=1))
    assert barred(problem) is None
    assert search(problem, EFFORTS[0]).routed is None


def test_straight_tubes_need_no_bend() -> None:
    """In line with its slot a tube is as long as its floor, in any direction."""
    for length in (77.7, 123.4, 300.0):
        start = Frame.facing((0.1, 0.2, 0.3), (0.3, 0.5, 0.81))
        for shelf in (SHELF, replace(SHELF, most_bends=1, angle_step=math.radians(15))):
            problem = alone(start, start.moved(length), length, shelf)
            answer = held(problem, route(problem))
            assert answer.score == 0.0
        short = alone(start, start.moved(length), length - 1e-6)
        told = route(short)
        assert isinstance(told, Impossible)
        assert told.kind == "floor"


def test_a_straight_tube_that_is_too_long_goes_round() -> None:
    problem = alone(Frame(), Frame((0.0, 0.0, 300.0)), 500.0)
    answer = held(problem, route(problem))
    assert len(answer.paths[0].bends) >= 3


@given(
    st.integers(1, 3),
    st.floats(20.0, 120.0),
    st.floats(5.0, 175.0),
)
def test_turn_against_plain_geometry(most: int, largest: float, tilt: float) -> None:
    """A chain of bends turns at most by their sum: the triangle inequality of directions."""
    t = math.radians(tilt)
    end = Frame.facing((200.0, 90.0, 150.0), (math.sin(t), 0.0, math.cos(t)))
    shelf = Shelf((Radius(CLR, math.radians(largest)),), 0.1, 0.0, 10.0, 0.0, most_bends=most)
    answer = barred(alone(Frame(), end, 900.0, shelf))
    too_much = tilt > most * largest + 1e-6
    assert (isinstance(answer, Impossible) and answer.kind == "turn") == too_much


@given(st.lists(st.tuples(LEGS, ANGLES, ROLLS), min_size=1, max_size=4))
def test_no_path_that_exists_is_denied(turns: list[tuple[float, float, float]]) -> None:
    """Any path, with a shelf that just allows it, gets no certificate against it."""
    pieces: list[Straight | Bend] = []
    for straight, angle, roll in turns:
        pieces += [Straight(straight + 10.0), Bend(CLR, angle, roll)]
    path = Centreline(Frame(), (*pieces, Straight(20.0)))
    largest = max(bend.angle for bend in path.bends)
    shelf = replace(SHELF, radii=(Radius(CLR, largest),), most_bends=len(path.bends))
    assert barred(alone(path.start, path.end, path.length, shelf)) is None


def test_bends_larger_than_the_room() -> None:
    problem = replace(bundle(), shelf=replace(SHELF, radii=(Radius(400.0, math.pi),)))
    answer = barred(problem)
    assert answer is None or answer.kind == "floor"
    assert search(problem, EFFORTS[0]).routed is None
    assert not isinstance(answer, NotFound)
