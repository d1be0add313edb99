"""Solids of triangles: distances against closed forms of boxes, bounds, sides, bytes and back."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.distance import Span, to_field
from geomgen.geometry.fields import Box, Swept, at_most
from geomgen.geometry.frames import Frame
from geomgen.geometry.solid_field import FEW, MARGIN, Body, Solid
from geomgen.geometry.solid_file import key_of, packed, unpacked
from geomgen.geometry.triangles import NotClosed, Skin

OFF = 0.25
LOW, HIGH = (-20.0, -35.0, 5.0), (60.0, 30.0, 45.0)
near = st.tuples(st.floats(-80, 120), st.floats(-100, 90), st.floats(-60, 110))
_SIDES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))


def box_triangles(low, high) -> tuple[np.ndarray, np.ndarray]:
    """Corners of a box and twelve triangles, counter-clockwise seen from outside."""
    ends = np.array([low, high])
    points = np.array(
        [(ends[i, 0], ends[j, 1], ends[k, 2]) for k in (0, 1) for j in (0, 1) for i in (0, 1)]
    )
    corners = [(a, b, c) for a, b, c, _ in _SIDES] + [(a, c, d) for a, _, c, d in _SIDES]
    return points, np.array(corners)


@cache
def box(low=LOW, high=HIGH) -> Body:
    return Body.of(Skin.of(*box_triangles(low, high)))


@cache
def boxes() -> Solid:
    """Two boxes that overlap: their union is not convex."""
    return Solid("two", Frame(), (box(), box((20.0, -10.0, 30.0), (45.0, 80.0, 70.0))), OFF, OFF)


def union(points: np.ndarray) -> np.ndarray:
    """Distance to the same two boxes in closed form; only outside."""
    two = (Box(LOW, HIGH), Box((20.0, -10.0, 30.0), (45.0, 80.0, 70.0)))
    return np.min([b.distance(points) for b in two], axis=0)


@given(near)
def test_distance_to_a_box_is_the_closed_form_on_both_sides(p) -> None:
    points = np.array([p])
    assert box().skin.distance(points)[0] == pytest.approx(
        Box(LOW, HIGH).distance(points)[0], abs=1e-9
    )


@given(near)
def test_near_it_is_exact_less_what_the_solid_may_stand_out(p) -> None:
    points = np.array([p])
    true = union(points)[0]
    lower, upper = boxes().distance(points)[0], boxes().at_most(points)[0]
    if true < 0.0:
        assert lower < 0.0
        assert upper < OFF + 1e-9
    elif true < 50.0:
        assert lower == pytest.approx(true - OFF, abs=1e-9)
        assert upper == pytest.approx(true + OFF, abs=1e-9)
    assert lower <= true - OFF + 1e-9 or true < 0.0
    assert upper >= true


def test_many_points_at_once_are_bounded_and_the_bounds_are_close() -> None:
    rng = np.random.default_rng(7)
    points = rng.uniform((-160, -180, -140), (200, 220, 200), (5 * FEW, 3))
    true, lower, upper = union(points), boxes().distance(points), boxes().at_most(points)
    out = true > 0.0
    assert (lower[out] <= true[out] - OFF + 1e-9).all()
    assert (upper[out] >= true[out] - 1e-9).all()
    assert (lower[true < -1.0] < 0.0).all()
    # The step of a grid bounds what interpolation may lose where distances have a ridge.
    step = max(body.step for body in boxes().bodies)
    on_grid = out & (
        np.maximum(np.array(boxes().low) - points, points - np.array(boxes().high)).max(axis=1)
        < MARGIN - 1.0
    )
    lost = true[on_grid] - OFF - lower[on_grid]
    assert lost.max() <= step
    assert lost.mean() <= 0.1 * step


def test_far_away_it_is_a_box_round_the_solid() -> None:
    points = np.array([(4000.0, 0.0, 0.0), (0.0, -2500.0, 900.0)])
    lower, upper = boxes().distance(points), boxes().at_most(points)
    assert (lower <= union(points) - OFF).all()
    assert (lower >= 0.97 * union(points)).all()
    assert (upper >= union(points)).all()


@given(near, near)
def test_distance_grows_no_faster_than_one_goes(p, q) -> None:
    a, b = boxes().distance(np.array([p, q]))
    assert abs(a - b) <= math.dist(p, q) + 1e-9 or max(a, b) > 50.0 or min(a, b) < -5.0


@given(near, st.floats(-3, 3), st.floats(-1, 1), st.tuples(*[st.floats(-300, 300)] * 3))
def test_it_stands_where_it_is_placed(p, turn, lean, at) -> None:
    z = (math.sin(lean), 0.3, math.cos(lean))
    frame = Frame.facing(at, z, (math.cos(turn), math.sin(turn), 0.0))
    placed = boxes().placed(frame)
    here, there = np.array([p]), np.array([frame.point(p)])
    assert placed.distance(there)[0] == pytest.approx(boxes().distance(here)[0], abs=1e-6)
    corners = np.array([frame.point(tuple(c)) for c in placed.bodies[0].skin.points])
    assert (corners >= np.array(placed.low) + OFF - 1e-6).all()
    assert (corners <= np.array(placed.high) - OFF + 1e-6).all()


def test_a_pin_hole_and_a_skin_inside_out_are_refused() -> None:
    points, corners = box_triangles(LOW, HIGH)
    with pytest.raises(NotClosed, match="hole"):
        Skin.of(points, corners[1:])
    with pytest.raises(NotClosed, match="inside out"):
        Skin.of(points, corners[:, ::-1])
    flipped = corners.copy()
    flipped[0] = flipped[0, ::-1]
    with pytest.raises(NotClosed, match="hole"):
        Skin.of(points, flipped)


def test_points_that_a_mesher_wrote_twice_become_one() -> None:
    points, corners = box_triangles(LOW, HIGH)
    apart = points[corners].reshape(-1, 3)
    skin = Skin.of(apart, np.arange(len(apart)).reshape(-1, 3))
    assert len(skin.points) == 8
    assert skin.volume == pytest.approx(80.0 * 65.0 * 40.0)


def test_equal_content_and_place_are_equal() -> None:
    again = replace(boxes(), bodies=boxes().bodies[:1])
    assert boxes() == again
    assert hash(boxes()) == hash(again)
    assert boxes() != boxes().placed(Frame((1.0, 0.0, 0.0)))
    assert boxes() != replace(boxes(), key="other")


def test_bytes_and_back() -> None:
    solid = replace(boxes(), key=key_of(b"some STEP"))
    data = packed(solid)
    back = unpacked(data, key_of(b"some STEP"))
    assert back == solid
    assert packed(back) == data
    points = np.random.default_rng(3).uniform(-150, 150, (400, 3))
    assert np.array_equal(back.distance(points), solid.distance(points))
    assert unpacked(data, key_of(b"some STEP, changed")) is None


@pytest.mark.parametrize("at", [0, 8, 40, 150, -1, -2000])
def test_damaged_bytes_are_not_used(at: int) -> None:
    data = bytearray(packed(boxes()))
    data[at] ^= 0x41
    assert unpacked(bytes(data), "two") is None
    assert unpacked(bytes(data[: at % len(data)]), "two") is None


def test_a_header_that_lies_is_not_used() -> None:
    data = packed(boxes())
    lies = (
        (b'"points":8', b'"points":7'),
        (b'"corners":12', b'"corners":99999999'),
        (b'"grid":[', b'"grid":[9'),
        (b'"step":', b'"step":-'),
        (b'"outside":', b'"outside":-'),
        (b'"bodies":[', b'"bodies":[[],'),
    )
    for old, new in lies:
        assert old in data
        assert unpacked(data.replace(old, new, 1), "two") is None


def test_a_path_beside_it_is_proven_and_certainly_comes_so_near() -> None:
    path = Centreline(Frame((-100.0, -60.0, 20.0), (0, 1, 0), (1, 0, 0)), (Straight(250.0),))
    found = to_field(Span.whole(path), boxes(), 0.02)
    assert found.lower == pytest.approx(25.0 - OFF, abs=0.021)
    assert found.lower <= 25.0 <= found.upper
    assert found.upper == pytest.approx(25.0 + OFF, abs=0.021)


@given(near)
def test_a_slide_past_it_is_bounded_from_both_sides(p) -> None:
    swept = Swept(boxes(), (0.0, 0.0, 1.0), 30.0)
    points = np.array([p])
    way = np.linspace(0.0, 30.0, 601)[:, None] * np.array([0.0, 0.0, 1.0])
    true = float(union(points + way).min())
    if true > 0.0:
        assert swept.distance(points)[0] <= true
        assert at_most(swept, points)[0] >= true - 0.05
