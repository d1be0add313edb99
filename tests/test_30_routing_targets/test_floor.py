"""Shortest curvature-bounded path from a pose to a point, in closed form.

Source: Dubins 1957 (arcs and tangents); the values below are school geometry.
"""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame
from geomgen.routing.floor import floor_of, pose_to_point

R = 50.0


@pytest.mark.parametrize(
    ("goal", "length"),
    [
        ((0.0, 0.0, 100.0), 100.0),  # straight ahead
        ((R, 0.0, R), R * math.pi / 2),  # a quarter turn
        ((2 * R, 0.0, 0.0), R * math.pi),  # half a turn
        ((2 * R, 0.0, -30.0), R * math.pi + 30.0),  # half a turn and a straight
        ((R + 80.0, 0.0, R), R * math.pi / 2 + 80.0),  # a quarter turn and a straight
        ((0.0, R + 80.0, R), R * math.pi / 2 + 80.0),  # the same in another plane
    ],
)
def test_closed_form(goal: tuple[float, float, float], length: float) -> None:
    assert pose_to_point(Frame(), goal, R) == pytest.approx(length, abs=1e-9)


@given(
    st.lists(
        st.tuples(st.floats(0, 80), st.floats(0.05, 2.6), st.floats(-3.1, 3.1)),
        min_size=1,
        max_size=5,
    ),
    st.floats(0, 80),
    st.floats(1.0, 2.0),
)
def test_no_path_beats_its_floor(
    turns: list[tuple[float, float, float]], last: float, wider: float
) -> None:
    pieces: list[Straight | Bend] = []
    for straight, angle, roll in turns:
        pieces += [Straight(straight), Bend(R * wider, angle, roll)]
    path = Centreline(Frame(), (*pieces, Straight(last)))
    assume(path.length > 1.0)
    assert floor_of(path.start, path.end, R) <= path.length + 1e-6
