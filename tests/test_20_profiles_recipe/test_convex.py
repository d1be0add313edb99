"""Hulls and offsets of convex loops, against Steiner's formula and shapely."""

import math

import pytest
from flat_shapes import CIRCLES, left_out, polygon
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point
from shapely.ops import unary_union

from geomgen.profiles.convex import hull_of_circles, is_convex, offset
from geomgen.profiles.distances import gap, is_simple, point_to_loop
from geomgen.profiles.loops import Line, area, perimeter, slot


@given(CIRCLES)
def test_hull_is_the_hull(circles):
    loop = hull_of_circles(circles)
    assert gap(loop) < 1e-9
    assert is_convex(loop)
    assert is_simple(loop)
    twins = [Point(c).buffer(r, quad_segs=90) for c, r in circles]
    inner = unary_union(twins).convex_hull.area
    off = max(r for _, r in circles) * (1 - math.cos(math.pi / 360))
    outer = inner + perimeter(loop) * off
    assert inner - 1e-6 <= area(loop) <= outer + 1e-6
    for c, r in circles:
        assert point_to_loop(c, loop) >= r - 1e-9


def test_hull_of_two_equal_circles_is_a_slot():
    loop = hull_of_circles([((-4, 0), 18.5), ((4, 0), 18.5)])
    assert area(loop) == pytest.approx(area(slot(45, 37)), rel=1e-14)
    assert len(loop) == 4


def test_hull_of_points_is_a_polygon():
    loop = hull_of_circles([((0, 0), 0), ((3, 0), 0), ((3, 4), 0), ((2, 1), 0)])
    assert area(loop) == pytest.approx(6)
    assert all(isinstance(piece, Line) for piece in loop)


def test_hull_with_a_circle_swallowed():
    assert area(hull_of_circles([((0, 0), 10), ((2, 0), 3)])) == pytest.approx(100 * math.pi)
    touching = [((0.0, 0.0), 1.0), ((-0.0625, 0.0), 1.0625)]
    assert area(hull_of_circles(touching)) == pytest.approx(1.0625**2 * math.pi)


@given(CIRCLES, st.floats(0.1, 40))
def test_offset_follows_steiner_and_comes_back(circles, by):
    loop = hull_of_circles(circles)
    out = offset(loop, by)
    steiner = area(loop) + perimeter(loop) * by + math.pi * by**2
    assert area(out) == pytest.approx(steiner, rel=1e-9)
    assert perimeter(out) == pytest.approx(perimeter(loop) + math.tau * by, rel=1e-9)
    assert area(offset(out, -by)) == pytest.approx(area(loop), rel=1e-9)


def test_offset_of_a_corner_is_an_arc():
    square = hull_of_circles([((0, 0), 0), ((4, 0), 0), ((4, 4), 0), ((0, 4), 0)])
    assert area(offset(square, 1)) == pytest.approx(16 + 16 + math.pi)
    with pytest.raises(ValueError, match="corner"):
        offset(square, -1)


def test_offset_that_eats_an_arc_is_refused():
    with pytest.raises(ValueError, match="inwards"):
        offset(slot(45, 37), -19)


@given(CIRCLES, st.floats(0.5, 20))
def test_offset_agrees_with_shapely(circles, by):
    loop = hull_of_circles(circles)
    twin = polygon(loop).buffer(by, quad_segs=90)
    exact = area(offset(loop, by))
    slack = left_out(offset(loop, by)) + left_out(loop)
    slack += (perimeter(loop) + math.tau * by) * 40 * (1 - math.cos(math.radians(0.5)))
    assert twin.area - 1e-6 <= exact <= twin.area + slack + 1e-6
