"""Union, erosion and closing against shapely, over random patterns of ports and bosses."""

import math

import pytest
from flat_shapes import CIRCLES, left_out, polygon
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon
from shapely.ops import unary_union

from geomgen.profiles.convex import hull_of_circles
from geomgen.profiles.distances import gap, inside, is_simple, point_to_loop
from geomgen.profiles.loops import Arc, Line, area, circle, perimeter, placed, slot
from geomgen.profiles.union import closing, erode, union


def region(loops):
    """Net area of outer loops less holes."""
    return math.fsum(area(loop) for loop in loops)


def assert_sound(loops):
    for loop in loops:
        assert gap(loop) < 2e-6
        assert is_simple(loop, slack=1e-4)


@given(CIRCLES)
def test_union_of_circles(circles):
    shapes = [circle(c, r) for c, r in circles]
    loops = union(shapes)
    assert_sound(loops)
    twin = unary_union([polygon(s) for s in shapes])
    slack = sum(left_out(s) for s in shapes)
    assert twin.area - 1e-3 <= region(loops) <= twin.area + slack + 1e-3


def test_two_overlapping_circles_make_two_lens_arcs():
    # union = 2 circles less the lens: 2 r^2 acos(d/2r) - d/2 sqrt(4 r^2 - d^2)
    r, d = 5.0, 8.0
    (loop,) = union([circle((0, 0), r), circle((d, 0), r)])
    lens = 2 * r * r * math.acos(d / 2 / r) - d / 2 * math.sqrt(4 * r * r - d * d)
    assert area(loop) == pytest.approx(2 * math.pi * r * r - lens, rel=1e-13)


def test_union_of_equal_shapes_is_one():
    (loop,) = union([slot(45, 37)] * 3)
    assert area(loop) == pytest.approx(area(slot(45, 37)), rel=1e-14)
    assert len(loop) == 4


def test_shapes_that_share_an_edge_lose_it():
    def block(x):
        corners = [(x, 0), (x + 4, 0), (x + 4, 3), (x, 3)]
        return tuple(Line(p, q) for p, q in zip(corners, corners[1:] + corners[:1], strict=True))

    (loop,) = union([block(0), block(4)])
    assert area(loop) == pytest.approx(24)
    assert len(loop) == 4


def test_a_ring_of_circles_leaves_a_hole():
    ring = [
        circle((20 * math.cos(k * math.pi / 4), 20 * math.sin(k * math.pi / 4)), 9)
        for k in range(8)
    ]
    outer, hole = union(ring)
    assert area(outer) > 0 > area(hole)


def test_boss_inside_its_own_hull_adds_nothing():
    hull = hull_of_circles([((0, 0), 13.5), ((60, 20), 9)])
    (loop,) = union([hull, circle((0, 0), 13.5), circle((60, 20), 9)])
    assert area(loop) == pytest.approx(area(hull), rel=1e-12)
    assert len(loop) == len(hull)


def test_closing_of_two_circles_has_the_textbook_waist():
    # fillet circle touches both: its centre at height sqrt((r + R)^2 - (d/2)^2)
    r, R, d = 29.0, 30.0, 84.0
    (loop,) = closing([circle((0, 0), r), circle((d, 0), r)], R)
    waist = math.sqrt((r + R) ** 2 - (d / 2) ** 2) - R
    assert point_to_loop((d / 2, 0), loop) == pytest.approx(waist, abs=1e-9)
    assert sorted(p.radius for p in loop if p.sweep < 0) == pytest.approx([R, R])
    assert {round(p.radius, 9) for p in loop if p.sweep > 0} == {r}


def test_closing_of_shapes_whose_inflations_just_touch():
    # gap of 80 mm and a disc of 40: it fills the gap's middle point and no more
    loops = closing([slot(30, 31), placed(slot(30, 31), (110.0, 0.0))], 40.0)
    assert region(loops) >= 2 * area(slot(30, 31))
    assert_sound(loops)


def test_closing_with_a_small_disc_leaves_two_parts():
    loops = closing([circle((0, 0), 10), circle((30, 0), 10)], 4)
    assert len(loops) == 2
    assert region(loops) == pytest.approx(200 * math.pi)


@given(CIRCLES)
def test_closing_with_a_huge_disc_tends_to_the_hull(circles):
    (loop,) = closing([circle(c, r) for c, r in circles], 1e5)
    hull = hull_of_circles(circles)
    assert area(loop) <= area(hull) + 1e-4
    assert area(loop) == pytest.approx(area(hull), abs=perimeter(hull) * 0.2)


PORT_ROWS = st.builds(
    lambda n, pitch, w, h, boss, dx, dy: (
        [placed(slot(w, h), (k * pitch, 0.0)) for k in range(n)],
        [circle((k * pitch + sign * dx, sign * dy), boss) for k in range(n) for sign in (-1, 1)],
    ),
    st.integers(1, 4),
    st.integers(70, 110).map(float),
    st.integers(30, 60).map(float),
    st.integers(30, 60).map(float),
    st.integers(8, 16).map(float),
    st.integers(0, 45).map(float),
    st.integers(25, 50).map(float),
)


@settings(max_examples=25)
@given(PORT_ROWS, st.integers(5, 60).map(float))
def test_closing_of_port_rows(row, radius):
    windows, bosses = row
    shapes = windows + bosses
    loops = closing(shapes, radius)
    assert_sound(loops)
    assert all(isinstance(piece, Arc | Line) for loop in loops for piece in loop)
    for loop in loops:
        for piece in loop:
            if isinstance(piece, Arc) and piece.sweep < 0:
                assert piece.radius == pytest.approx(radius, rel=1e-12)
    # all shapes are inside
    for shape in shapes:
        for piece in shape:
            p = piece.start
            assert any(
                inside(p, loop) or point_to_loop(p, loop) < 1e-6 for loop in loops if area(loop) > 0
            )
    # shapely's closing of facetted twins; inflating facets that leave out a sagitta e
    # leaves out e as well, so the areas differ by no more than 2 e a mm of edge
    twin = unary_union([polygon(s) for s in shapes]).buffer(radius, quad_segs=60)
    twin = twin.buffer(-radius, quad_segs=60)
    sagitta = (radius + 60) * (1 - math.cos(math.pi / 240))
    edge = sum(perimeter(loop) for loop in loops) + math.tau * radius
    if twin.buffer(1.0).geom_type == Polygon().geom_type and len(loops) == 1:
        assert abs(region(loops) - twin.area) <= 2 * sagitta * edge


@given(PORT_ROWS)
def test_erosion_of_a_closing_keeps_its_distance(row):
    windows, bosses = row
    loops = closing(windows + bosses, 40.0)
    for loop in erode(loops, 6.0):
        for piece in loop:
            p = piece.start
            assert min(point_to_loop(p, edge) for edge in loops) == pytest.approx(6.0, abs=2e-6)
