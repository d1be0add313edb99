"""What is kept of a tube stands in the answer where it stood, and the rest is proven about it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from proven import shortfall
from routing_bundles import CLR, SHELF, R, alone, bundle, dense, keeping

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.fields import HalfSpace
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.routing.failure import binding
from geomgen.routing.problem import Impossible, Obstacle, Problem, Routed
from geomgen.routing.solve import EFFORTS, barred, route, search
from geomgen.routing.tacked import advanced


@pytest.fixture(scope="module")
def routed() -> Routed:
    answer = route(bundle())
    assert isinstance(answer, Routed)
    return answer


def part(path: Centreline, begin: int, end: int) -> Centreline:
    """Pieces of a path where they stand."""
    return Centreline(path.frames[begin], path.pieces[begin:end])


def held(problem: Problem) -> Routed:
    """The answer, with all that every answer must have, measured without the router."""
    answer = route(problem)
    assert isinstance(answer, Routed)
    assert shortfall(problem, answer.paths, answer.slots) <= 0.0
    assert len(set(answer.slots)) == len(problem.edges)
    for path, edge, slot in zip(answer.paths, problem.edges, answer.slots, strict=True):
        assert path.start == edge.start
        assert distance(path.end.origin, problem.slots[slot].origin) < 1e-6
        assert angle_between(path.end.z, problem.slots[slot].z) < 1e-8
        assert abs(path.length - edge.length) <= 0.01
        assert all(piece.length >= 0.0 for piece in path.pieces)
        for kept in edge.kept:
            stands(path, kept)
    a, b = (dense(path, 1.0) for path in answer.paths)
    apart = np.sqrt(((a[:, None, :] - b) ** 2).sum(axis=2))
    exempt = [
        np.linspace(0.0, p.length, len(c)) > p.length - p.pieces[-1].length
        for p, c in zip(answer.paths, (a, b), strict=True)
    ]
    apart[exempt[0][:, None] & exempt[1]] = np.inf
    assert apart.min() >= 2 * R + problem.gap - 1e-6
    return answer


def stands(path: Centreline, kept: Centreline) -> None:
    """A kept part lies in a path: each bend with its ends, radius and angle; straights within."""
    frames = path.frames
    for here, there, piece in zip(kept.frames, kept.frames[1:], kept.pieces, strict=False):
        if isinstance(piece, Bend):
            (index,) = (
                i
                for i, mine in enumerate(path.pieces)
                if isinstance(mine, Bend) and distance(frames[i].origin, here.origin) < 1e-6
            )
            mine = path.pieces[index]
            assert isinstance(mine, Bend)
            assert mine.radius == pytest.approx(piece.radius, abs=1e-9)
            assert mine.angle == pytest.approx(piece.angle, abs=1e-9)
            assert distance(frames[index].origin, here.origin) < 1e-9
            assert distance(frames[index + 1].origin, there.origin) < 1e-9
            assert angle_between(frames[index].z, here.z) < 1e-9
            assert angle_between(frames[index + 1].z, there.z) < 1e-9
        elif piece.length > 0.0:
            assert any(
                isinstance(mine, Straight)
                and angle_between(frames[i].z, here.z) < 1e-9
                and all(_on(frames[i], mine.length, end) for end in (here, there))
                for i, mine in enumerate(path.pieces)
            )


def _on(begin: Frame, length: float, frame: Frame) -> bool:
    x, y, z = begin.local(frame.origin)
    return math.hypot(x, y) < 1e-9 and -1e-9 <= z <= length + 1e-9


TACKED = [
    (Straight(23.7), Bend(57.3, math.radians(37.3), 1.234)),
    (Straight(23.7), Bend(57.3, math.radians(37.3), 1.234), Straight(15.0)),
    (Bend(71.9, math.radians(12.9), -2.9),),
    (Straight(12.0), Bend(CLR, 0.6, -1.7), Bend(55.0, 0.5, 0.2)),
    (Straight(10.0), Bend(40.0, math.radians(95.0), -1.6), Straight(30.0)),
]


@pytest.mark.parametrize("pieces", TACKED, ids=range(len(TACKED)))
@pytest.mark.parametrize("clock", [0.0, 0.4, -2.2])
def test_a_tacked_beginning(pieces: tuple[Straight | Bend, ...], clock: float) -> None:
    """Odd angle and radius; the clock turns the part's own x, not the place that it takes."""
    problem = bundle()
    start = problem.edges[0].start.rolled(clock)
    turned = tuple(
        replace(p, roll=p.roll - clock) if i == _first_bend(pieces) else p
        for i, p in enumerate(pieces)
    )
    answer = held(keeping(problem, 0, Centreline(start, turned)))
    bends = [p for p in pieces if isinstance(p, Bend)]
    assert answer.paths[0].bends[0].roll == pytest.approx(bends[0].roll, abs=1e-9)
    assert [b.radius for b in answer.paths[0].bends[: len(bends)]] == [b.radius for b in bends]


def _first_bend(pieces: tuple[Straight | Bend, ...]) -> int:
    return next(i for i, piece in enumerate(pieces) if isinstance(piece, Bend))


@pytest.mark.parametrize("which", range(5))
def test_any_one_piece_that_is_pinned(routed: Routed, which: int) -> None:
    pin = part(routed.paths[0], which, which + 1)
    answer = held(keeping(bundle(), 0, pin))
    # What it was routed as still answers it, so it cannot come out much dearer.
    assert answer.score <= routed.score + 0.5


@pytest.mark.parametrize("pins", [((0, 3),), ((3, 5),), ((0, 1), (3, 5)), ((1, 2), (4, 5))])
def test_several_that_are_pinned(routed: Routed, pins: tuple[tuple[int, int], ...]) -> None:
    parts = (part(routed.paths[0], *pin) for pin in pins)
    held(keeping(bundle(), 0, *parts))


def test_a_pinned_bend_in_the_middle_of_other_ground(routed: Routed) -> None:
    """A bend off the shelf, at a place and a clock that no answer had."""
    path = routed.paths[0]
    corner = path.frames[3]
    away = Frame.facing(
        (corner.origin[0] - 14.0, corner.origin[1] + 6.0, corner.origin[2] + 9.0),
        (corner.z[0] + 0.12, corner.z[1] - 0.07, corner.z[2] + 0.05),
        corner.x,
    )
    answer = held(keeping(bundle(), 0, Centreline(away, (Bend(55.5, math.radians(41.7), 1.4),))))
    assert 55.5 in [bend.radius for bend in answer.paths[0].bends]


def test_a_whole_runner_stands(routed: Routed) -> None:
    answer = held(keeping(bundle(), 1, routed.paths[1]))
    ends = zip(answer.paths[1].frames, routed.paths[1].frames, strict=True)
    assert all(distance(a.origin, b.origin) < 1e-9 for a, b in ends)


@pytest.mark.parametrize("step", [None, math.radians(15)])
def test_all_runners_stand_whatever_the_step(routed: Routed, step: float | None) -> None:
    """Kept bends are as they were tacked; steps are for new ones."""
    problem = keeping(keeping(bundle(), 0, routed.paths[0]), 1, routed.paths[1])
    answer = held(replace(problem, shelf=replace(SHELF, angle_step=step)))
    assert answer.slots == routed.slots
    assert answer.score == pytest.approx(routed.score, abs=1e-9)


def test_a_runner_tighter_than_the_shelf_is_not_called_too_short() -> None:
    """The floor of 63 mm bends says nothing about a tube that is bent to 40 mm.

    A quarter turn and 100 mm on is 62.8 + 100 mm; with 63 mm bends the same point is 179 mm
    away by an arc and a tangent.
    """
    path = Centreline(Frame(), (Bend(40.0, math.pi / 2.0), Straight(100.0)))
    shelf = replace(SHELF, straight_at_start=0.0)
    problem = alone(path.start, path.end, path.length, shelf)
    bought = route(problem)
    assert isinstance(bought, Impossible)
    assert bought.floor == pytest.approx(179.6, abs=0.1)
    answer = route(keeping(problem, 0, path))
    assert isinstance(answer, Routed)
    assert abs(answer.paths[0].length - path.length) <= 1e-9


def test_bends_that_touch_and_a_bend_into_the_slot() -> None:
    """No straight between, none at the end: worked out to within rounding of nothing."""
    path = Centreline(
        Frame(),
        (Straight(50.0), Bend(40.0, 1.0), Bend(40.0, 1.2, 1.0), Straight(60.0), Bend(CLR, 0.7)),
    )
    problem = keeping(alone(path.start, path.end, path.length), 0, path)
    answer = route(problem)
    assert isinstance(answer, Routed)
    stands(answer.paths[0], path)


def test_a_straight_behind_what_is_tacked_counts() -> None:
    """A tube of one bend needs no straight of its own where 15 mm are tacked already."""
    shelf = replace(SHELF, straight=12.0)
    made = (Straight(20.0), Bend(CLR, 0.5, 0.3), Straight(15.0))
    rest = (Bend(CLR, 0.9, 1.0), Straight(14.0), Bend(CLR, 0.8, 0.9), Straight(40.0))
    whole = Centreline(Frame(), (*made, *rest))
    problem = alone(whole.start, whole.end, whole.length, shelf)
    answer = route(keeping(problem, 0, Centreline(whole.start, made)))
    assert isinstance(answer, Routed)
    stands(answer.paths[0], Centreline(whole.start, made))
    inner = [p.length for p in answer.paths[0].pieces[1:-1] if isinstance(p, Straight)]
    assert min(inner) >= 12.0 - 1e-9


def test_what_is_tacked_is_not_asked_for_straight_at_the_port_again() -> None:
    """A bend may follow a tacked one at once; 60 mm more of straight would meet the wall."""
    made = (Straight(60.0), Bend(CLR, math.radians(60)))
    back = Bend(CLR, math.radians(60), math.pi)
    whole = Centreline(Frame(), (*made, back, Straight(90.0)))
    straight_on = Centreline(Frame(), (*made, Straight(60.0))).end.origin[0]
    farthest = whole.end.origin[0] + R + 2.0
    assert straight_on + R > farthest
    wall = Obstacle("wall", HalfSpace((farthest, 0.0, 0.0), (-1.0, 0.0, 0.0)), 1.0)
    shelf = replace(SHELF, straight_at_start=60.0)
    problem = replace(alone(whole.start, whole.end, whole.length, shelf), obstacles=(wall,))
    answer = route(keeping(problem, 0, Centreline(whole.start, made)))
    assert isinstance(answer, Routed)
    stands(answer.paths[0], Centreline(whole.start, made))


CONTRADICTORY = {
    "longer than the tube": (
        Centreline(Frame((0.0, 0.0, 50.0)), (Straight(400.0), Bend(CLR, 1.0), Straight(400.0))),
    ),
    "nowhere near": (Centreline(Frame((0.0, 0.0, 900.0)), (Bend(CLR, 1.0),)),),
    "in the block": (Centreline(Frame((0.0, -200.0, -50.0)), (Bend(CLR, 1.0),)),),
    "half a turn": (Centreline(Frame((0.0, -50.0, 150.0)), (Bend(CLR, math.pi, -1.57),)),),
    "backwards at the port": (
        Centreline(Frame((0.0, 0.0, 50.0), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)), (Bend(CLR, 1.0),)),
    ),
    "twice the same": (Centreline(Frame((0.0, 0.0, 50.0)), (Straight(20.0), Bend(CLR, 1.0))),) * 2,
    "folded between": (
        Centreline(Frame((0.0, 0.0, 120.0)), (Bend(CLR, 0.5),)),
        Centreline(Frame((0.0, 0.0, 90.0)), (Bend(CLR, 0.5),)),
    ),
}


@pytest.mark.parametrize("name", CONTRADICTORY)
def test_what_contradicts_itself_is_told_not_raised(name: str) -> None:
    problem = keeping(bundle(), 0, *CONTRADICTORY[name])
    certain = barred(advanced(problem))
    found = search(problem, EFFORTS[0])
    assert found.routed is None
    told = binding(advanced(problem), (found,)).text if certain is None else certain.reason
    assert "runner 1" in told or certain is not None
    assert "nan" not in told


@pytest.mark.parametrize("pieces", [(), (Straight(0.0),)])
def test_a_part_of_nothing_keeps_nothing(pieces: tuple[Straight, ...]) -> None:
    held(keeping(bundle(), 0, Centreline(bundle().edges[0].start, pieces)))
