"""Centrelines: exact sums, exact tangency, and the same path told several ways."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.geometry.centreline import (
    Bend,
    Centreline,
    Straight,
    at,
    corners_of,
    from_corners,
    piece_at,
    sample,
)
from geomgen.geometry.distance import points_at
from geomgen.geometry.frames import Frame, angle_between, distance, dot, norm

lengths = st.floats(0.5, 300.0)
angles = st.floats(math.radians(2), math.radians(170))
rolls = st.floats(-math.pi, math.pi)
radii = st.floats(20.0, 150.0)
bends = st.builds(Bend, radii, angles, rolls)
straights = st.builds(Straight, lengths)
pieces = st.lists(st.one_of(straights, bends), min_size=1, max_size=12)
vectors = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: norm(v) > 0.1)
frames = st.builds(lambda o, z: Frame.facing(o, z), st.tuples(*[st.floats(-500, 500)] * 3), vectors)
paths = st.builds(lambda f, p: Centreline(f, tuple(p)), frames, pieces)


def close(a: Frame, b: Frame, slip: float = 1e-9) -> bool:
    return distance(a.origin, b.origin) < slip and angle_between(a.z, b.z) < 1e-9


@given(paths)
def test_length_is_the_sum_of_straights_and_radius_times_angle(path: Centreline) -> None:
    by_hand = sum(p.length if isinstance(p, Straight) else p.radius * p.angle for p in path.pieces)
    assert path.length == pytest.approx(by_hand, rel=1e-12)


@given(paths)
def test_frames_stay_orthonormal(path: Centreline) -> None:
    for frame in path.frames:
        assert abs(norm(frame.x) - 1) < 1e-12
        assert abs(norm(frame.z) - 1) < 1e-12
        assert abs(dot(frame.x, frame.z)) < 1e-12


def test_fifty_pieces_drift_by_nothing() -> None:
    path = Centreline(Frame(), tuple(Bend(60, 1.0 + 0.01 * i, 0.7 * i) for i in range(50)))
    assert abs(dot(path.end.x, path.end.z)) < 1e-12


@given(paths)
def test_reversed_twice_is_the_same_path(path: Centreline) -> None:
    there = path.reversed()
    assert there.length == pytest.approx(path.length, rel=1e-12)
    assert distance(there.end.origin, path.start.origin) < 1e-7
    back = there.reversed()
    assert close(back.end, path.end, 1e-7)


@given(paths, frames)
def test_a_rigid_motion_moves_the_end_with_the_start(path: Centreline, other: Frame) -> None:
    moved = Centreline(other, path.pieces)
    # The end in its own start's coordinates depends on the pieces alone.
    assert moved.start.local(moved.end.origin) == pytest.approx(
        path.start.local(path.end.origin), abs=1e-7
    )


def test_a_quarter_bend_ends_where_school_geometry_says() -> None:
    end = Centreline(Frame(), (Straight(10), Bend(60, math.pi / 2))).end
    assert end.origin == pytest.approx((60, 0, 70), abs=1e-12)
    assert end.z == pytest.approx((1, 0, 0), abs=1e-12)


def test_roll_follows_the_right_hand_rule_along_the_travel() -> None:
    end = Centreline(Frame(), (Bend(60, math.pi / 2, math.pi / 2),)).end
    assert end.z == pytest.approx((0, 1, 0), abs=1e-12)


def test_tangent_of_a_bend_against_handbook() -> None:
    # CLR 57.15, 45 deg: arc 44.8855, tangent 23.6723 mm (exact trigonometry, CLR*tan(a/2)).
    bend = Bend(57.15, math.radians(45))
    path = Centreline(Frame(), (bend,))
    assert bend.length == pytest.approx(44.8855, abs=1e-4)
    assert distance(corners_of(path)[0], path.start.origin) == pytest.approx(23.6723, abs=1e-4)


@given(st.lists(bends, min_size=1, max_size=5), st.lists(lengths, min_size=6, max_size=6))
def test_corners_give_the_path_back(turns: list[Bend], legs: list[float]) -> None:
    shaped: list[Straight | Bend] = []
    for turn, leg in zip(turns, legs, strict=False):
        shaped += [Straight(leg), turn]
    shaped.append(Straight(legs[-1]))
    path = Centreline(Frame(), tuple(shaped))
    again = from_corners(
        path.start, corners_of(path), path.end.origin, tuple(turn.radius for turn in turns)
    )
    assert again.length == pytest.approx(path.length, rel=1e-9)
    assert close(again.end, path.end, 1e-6)


@given(paths, st.floats(0, 1))
def test_at_and_points_at_agree(path: Centreline, fraction: float) -> None:
    station = fraction * path.length
    assert points_at(path, np.array([station]))[0] == pytest.approx(
        at(path, station).origin, abs=1e-6
    )


@given(paths)
def test_samples_leave_no_gap_wider_than_they_say(path: Centreline) -> None:
    stations, points, gap = sample(path, 7.0)
    assert len(stations) == len(points)
    edges = np.concatenate([[0.0], stations, [path.length]])
    widths = np.diff(edges)
    assert widths[0] <= gap + 1e-9
    assert widths[-1] <= gap + 1e-9
    assert widths[1:-1].max(initial=0.0) <= 2 * gap + 1e-9
    assert np.all(np.diff(stations) > 0)


def test_piece_at_counts_from_the_start() -> None:
    path = Centreline(Frame(), (Straight(10), Bend(50, 1.0), Straight(10)))
    assert [piece_at(path, s) for s in (5, 30, 65)] == [0, 1, 2]
