"""Port to round: matched loops, Minkowski blends and their areas."""

import math

import pytest
from flat_shapes import CIRCLES, facets
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPoint

from geomgen.profiles.convex import hull_of_circles, is_convex
from geomgen.profiles.distances import gap
from geomgen.profiles.loops import Arc, Line, area, circle, perimeter, slot
from geomgen.profiles.matching import blend, blend_area, match_to_circle, mixed_area

HULLS = CIRCLES.map(hull_of_circles)
ROUND = st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(5, 60))


@given(HULLS, ROUND)
def test_matched_loops_are_the_loop_and_the_circle(loop, target):
    x, y, r = target
    a, b = match_to_circle(loop, (x, y), r)
    assert len(a) == len(b)
    assert area(a) == pytest.approx(area(loop), rel=1e-12)
    assert area(b) == pytest.approx(math.pi * r * r, rel=1e-9)
    assert gap(b) < 1e-8
    for p, q in zip(a, b, strict=True):
        if isinstance(p, Arc):
            assert (p.begin, p.sweep) == (q.begin, q.sweep)
        else:
            assert isinstance(q, Line)
            assert q.length == 0.0


@given(HULLS, ROUND)
def test_mixed_area_with_a_circle_is_half_perimeter_times_radius(loop, target):
    # Steiner's formula, Schneider, Convex Bodies: 2 V(K, disc r) = r * perimeter(K)
    x, y, r = target
    a, b = match_to_circle(loop, (x, y), r)
    assert mixed_area(a, b) == pytest.approx(r * perimeter(loop) / 2, rel=1e-9)


@given(HULLS, ROUND, st.floats(0, 1))
def test_blend_area_is_the_area_of_the_blend_and_never_dips(loop, target, t):
    x, y, r = target
    a, b = match_to_circle(loop, (x, y), r)
    section = blend(a, b, t)
    assert gap(section) < 1e-8
    exact = blend_area(a, b, t)
    assert area(section) == pytest.approx(exact, rel=1e-9)
    # Brunn-Minkowski: the root of the area is concave
    low = (1 - t) * math.sqrt(area(a)) + t * math.sqrt(area(b))
    assert math.sqrt(exact) >= low * (1 - 1e-9)


def test_blend_is_the_minkowski_sum_of_facetted_twins():
    a, b = match_to_circle(slot(45, 37), (0.0, 2.0), 21.0)
    step, t = math.radians(3), 0.35
    sums = [
        ((1 - t) * p[0] + t * q[0], (1 - t) * p[1] + t * q[1])
        for p in facets(a, step)
        for q in facets(circle((0.0, 2.0), 21.0), step)
    ]
    twin = MultiPoint(sums).convex_hull.area
    off = 22.5 * (1 - math.cos(step / 2))
    assert twin <= blend_area(a, b, t) + 1e-6
    assert blend_area(a, b, t) <= twin + off * 150


def test_a_corner_becomes_an_arc():
    square = hull_of_circles([((0, 0), 0), ((4, 0), 0), ((4, 4), 0), ((0, 4), 0)])
    a, b = match_to_circle(square, (2.0, 2.0), 3.0)
    assert [type(p).__name__ for p in a] == ["Line"] * 8
    assert [type(p).__name__ for p in b] == ["Line", "Arc"] * 4
    assert area(blend(a, b, 1.0)) == pytest.approx(9 * math.pi)
    assert area(blend(a, b, 0.0)) == pytest.approx(16)
    # (1-t)^2 16 + 2 t (1-t) 3 * 16 / 2 + t^2 9 pi
    assert blend_area(a, b, 0.5) == pytest.approx(4 + 12 + 9 * math.pi / 4)


def test_a_dent_shrinks_to_one_point_and_takes_its_square_off_the_area():
    """(1-t)^2 (A - d) + 2 t (1-t) r P / 2 + t^2 B, P and A of the hull, d the dent's area."""
    dent = (
        Line((0, 0), (4, 0)),
        Line((4, 0), (4, 4)),
        Line((4, 4), (2, 2)),
        Line((2, 2), (0, 4)),
        Line((0, 4), (0, 0)),
    )
    assert not is_convex(dent)
    a, b = match_to_circle(dent, (2.0, 2.0), 3.0)
    assert area(a) == pytest.approx(12)
    assert area(b) == pytest.approx(9 * math.pi)
    for t in (0.0, 0.3, 0.5, 0.9):
        exact = (1 - t) ** 2 * (16 - 4) + 2 * t * (1 - t) * 3 * 16 / 2 + t**2 * 9 * math.pi
        assert blend_area(a, b, t) == pytest.approx(exact)
        assert area(blend(a, b, t)) == pytest.approx(exact)
