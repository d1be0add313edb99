"""Proven distances against closed forms and dense samples."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.distance import Span, between, between_straights, points_at, to_field
from geomgen.geometry.fields import Box, Cylinder, Field, HalfSpace, Swing
from geomgen.geometry.frames import Frame, norm

coordinates = st.floats(-200, 200)
points3 = st.tuples(coordinates, coordinates, coordinates)
directions = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: norm(v) > 0.2)
paths = st.builds(
    lambda o, z, a, b, r, c: Centreline(
        Frame.facing(o, z),
        (Straight(60), Bend(60, a, r), Straight(c), Bend(60, b, 1.0), Straight(40)),
    ),
    points3,
    directions,
    st.floats(0.2, 2.5),
    st.floats(0.2, 2.5),
    st.floats(-3, 3),
    st.floats(1, 100),
)
fields = st.one_of(
    st.builds(
        lambda a, b: Box(
            tuple(min(x, y) for x, y in zip(a, b, strict=True)),
            tuple(max(x, y) + 1.0 for x, y in zip(a, b, strict=True)),
        ),
        points3,
        points3,
    ),
    st.builds(
        lambda a, d, r: Cylinder(a, tuple(x + 100 * y for x, y in zip(a, d, strict=True)), r),
        points3,
        directions,
        st.floats(2, 40),
    ),
    st.builds(lambda p, n: HalfSpace(p, tuple(x / norm(n) for x in n)), points3, directions),
    st.builds(
        lambda o, z, h: Swing(Frame.facing(o, z), 160.0, h, 6.0, 5.0, 10.0),
        points3,
        directions,
        st.floats(0.1, 1.5),
    ),
)


def test_crossing_straights_closed_form() -> None:
    one = Centreline(Frame((-100, 0, 0), (0, 1, 0), (1, 0, 0)), (Straight(200),))
    two = Centreline(Frame((0, -100, 37.5), (1, 0, 0), (0, 1, 0)), (Straight(200),))
    found = between(Span.whole(one), Span.whole(two))
    assert found.lower <= 37.5 <= found.upper + 1e-9
    assert found.upper - found.lower <= 1e-3 + 1e-9


def test_circle_to_point_on_its_axis_is_pythagoras() -> None:
    half = Centreline(Frame((80, 0, 0), (-1, 0, 0), (0, 1, 0)), (Bend(80, math.pi),))
    bar = Centreline(Frame((0, 0, 60), (1, 0, 0), (0, 0, 1)), (Straight(10),))
    found = between(Span.whole(half), Span.whole(bar))
    assert found.lower <= 100.0 <= found.upper + 1e-9


@given(paths, paths)
def test_bounds_hold_against_dense_samples(one: Centreline, two: Centreline) -> None:
    found = between(Span.whole(one), Span.whole(two), 0.05)
    a = points_at(one, np.linspace(0, one.length, 900))
    b = points_at(two, np.linspace(0, two.length, 900))
    dense = math.sqrt(min(((a[i] - b) ** 2).sum(axis=1).min() for i in range(0, 900, 3)))
    assert found.lower <= dense + 1e-9
    spacing = 0.5 * (3 * one.length + two.length) / 899
    assert found.upper >= dense - spacing - 1e-9
    assert found.upper - found.lower <= 0.05 + 1e-9


@given(paths, fields)
def test_field_bounds_hold_against_dense_samples(path: Centreline, field: Field) -> None:
    found = to_field(Span.whole(path), field, 0.01)
    dense = float(field.distance(points_at(path, np.linspace(0, path.length, 4000))).min())
    assert found.lower <= dense + 1e-9
    assert found.upper >= dense - path.length / 7998 - 1e-9


@given(fields, points3, points3)
def test_fields_never_change_faster_than_the_point_moves(
    field: Field, a: tuple[float, ...], b: tuple[float, ...]
) -> None:
    d = field.distance(np.array([a, b]))
    assert abs(d[0] - d[1]) <= math.dist(a, b) + 1e-9


@given(points3)
def test_box_distance_against_clamping(p: tuple[float, ...]) -> None:
    box = Box((-30.0, -20.0, -10.0), (40.0, 50.0, 60.0))
    clamped = [min(max(x, lo), hi) for x, lo, hi in zip(p, box.low, box.high, strict=True)]
    outside = math.dist(p, clamped)
    d = float(box.distance(np.array([p]))[0])
    if outside > 0:
        assert d == pytest.approx(outside, abs=1e-9)
    else:
        assert d <= 0


@given(st.floats(0, 250), st.floats(-math.pi, math.pi), st.floats(-40, 40))
def test_swing_distance_against_a_cloud_of_its_own_points(r: float, a: float, z: float) -> None:
    swing = Swing(Frame(), 160.0, math.radians(30), 6.0, 5.0, 10.0)
    p = np.array([[r * math.cos(a), r * math.sin(a), z]])
    d = float(swing.distance(p)[0])
    rho, phi = np.meshgrid(np.linspace(0, 160, 161), np.radians(np.linspace(-30, 30, 121)))
    flat = np.stack([(rho * np.cos(phi)).ravel(), (rho * np.sin(phi)).ravel()], axis=1)
    in_plane = np.sqrt(((flat - p[0, :2]) ** 2).sum(axis=1)).min() - 6.0
    in_plane = min(in_plane, r - 10.0)
    cloud = math.hypot(max(in_plane, 0.0), max(abs(z) - 5.0, 0.0))
    if cloud > 2.0:
        assert d == pytest.approx(cloud, abs=1.0)
    assert d <= cloud + 1e-6


def test_a_path_inside_an_obstacle_is_negative() -> None:
    path = Centreline(Frame(), (Straight(100),))
    found = to_field(Span.whole(path), Box((-10.0, -10.0, 20.0), (10.0, 10.0, 60.0)))
    assert found.upper == pytest.approx(-10.0, abs=0.02)


@given(points3, points3, points3, points3)
def test_straights_in_closed_form_against_a_convex_solver(a, b, c, d) -> None:
    """scipy's bounded least squares on the two parameters: another method for the same thing."""
    from scipy.optimize import lsq_linear

    u, v, w = (np.subtract(*pair) for pair in ((b, a), (d, c), (a, c)))
    found = lsq_linear(np.stack([u, -v], axis=1), -w, bounds=(0.0, 1.0))
    assert between_straights((a, b), (c, d)) == pytest.approx(
        float(np.linalg.norm(w + u * found.x[0] - v * found.x[1])), abs=1e-3
    )


def test_parallel_and_point_like_straights() -> None:
    assert between_straights(((0, 0, 0), (0, 0, 10)), ((48, 0, 5), (48, 0, 15))) == 48.0
    assert between_straights(((0, 0, 0), (0, 0, 10)), ((3, 0, 14), (3, 0, 20))) == 5.0
    assert between_straights(((0, 0, 0), (0, 0, 0)), ((3, 0, 4), (3, 0, 4))) == 5.0
