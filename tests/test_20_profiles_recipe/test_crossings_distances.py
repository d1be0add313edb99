"""Meetings, distances and inside tests against shapely on fine facets."""

import itertools
import math

import pytest
from flat_shapes import COORDINATE, RADIUS, facets, polygon
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from geomgen.profiles.crossings import cut, meetings, point_at
from geomgen.profiles.distances import (
    inside,
    is_simple,
    loop_to_loop,
    point_to_loop,
    point_to_segment,
    segment_to_segment,
)
from geomgen.profiles.loops import Arc, Line, circle, placed, slot

POINTS = st.tuples(COORDINATE, COORDINATE)
LINES = st.builds(Line, POINTS, POINTS).filter(lambda line: line.length > 0.1)
ARCS = st.builds(
    Arc,
    POINTS,
    RADIUS,
    st.integers(-360, 360).map(math.radians),
    st.integers(-350, 350).filter(lambda d: abs(d) > 1).map(math.radians),
)
SEGMENTS = LINES | ARCS


def drawn(segment):
    """A facetted twin and the most it is off."""
    step = math.radians(0.5)
    if isinstance(segment, Line):
        return LineString([segment.start, segment.end]), 0.0
    n = math.ceil(abs(segment.sweep) / step)
    off = segment.radius * (1 - math.cos(abs(segment.sweep) / n / 2))
    return LineString([segment.at(i / n) for i in range(n + 1)]), off


@given(SEGMENTS, SEGMENTS)
def test_distance_agrees_with_shapely(a, b):
    (twin_a, off_a), (twin_b, off_b) = drawn(a), drawn(b)
    exact = segment_to_segment(a, b)
    assert exact == pytest.approx(segment_to_segment(b, a), abs=1e-9)
    assert abs(exact - twin_a.distance(twin_b)) <= off_a + off_b + 1e-8


@given(SEGMENTS, SEGMENTS)
def test_meeting_points_lie_on_both(a, b):
    for point in meetings(a, b):
        assert point_to_segment(point, a) < 3e-9
        assert point_to_segment(point, b) < 3e-9


@given(SEGMENTS, SEGMENTS)
def test_segments_that_do_not_meet_are_apart(a, b):
    if not meetings(a, b):
        assert segment_to_segment(a, b) > 0.0


def test_known_crossings():
    # 3-4-5 triangle: circles of radius 5 about (0, 0) and (8, 0) cross at (4, +-3)
    a, b = Arc((0, 0), 5, -1, 2), Arc((8, 0), 5, math.pi - 1, 2)
    assert sorted(meetings(a, b)) == [pytest.approx((4, -3)), pytest.approx((4, 3))]
    across = Line((3, -10), (3, 10))
    assert sorted(meetings(across, a)) == [pytest.approx((3, -4)), pytest.approx((3, 4))]
    assert meetings(Line((0, 5), (9, 5)), Arc((0, 0), 5, 0, 3)) == (pytest.approx((0, 5)),)
    assert meetings(Line((0, 0), (4, 4)), Line((0, 4), (4, 0))) == (pytest.approx((2, 2)),)
    assert set(meetings(Line((0, 0), (4, 0)), Line((3, 0), (9, 0)))) == {(4, 0), (3, 0)}


@given(SEGMENTS, st.lists(st.floats(0.01, 0.99), max_size=4))
def test_cut_pieces_make_up_the_whole(segment, fractions):
    pieces = cut(segment, [point_at(segment, f) for f in fractions])
    assert math.fsum(p.length for p in pieces) == pytest.approx(segment.length, rel=1e-12)
    assert pieces[0].start == pytest.approx(segment.start, abs=1e-9)
    assert pieces[-1].end == pytest.approx(segment.end, abs=1e-9)
    for p, q in itertools.pairwise(pieces):
        assert math.dist(p.end, q.start) < 1e-9


@given(POINTS, RADIUS, RADIUS, st.integers(0, 360).map(math.radians))
def test_inside_and_distance_of_an_oval(p, width, height, turn):
    loop = placed(slot(width, height), (1.0, 2.0), turn)
    twin = polygon(loop, math.radians(0.5))
    off = 40 * (1 - math.cos(math.radians(0.25)))
    exact = point_to_loop(p, loop)
    assert abs(exact - twin.exterior.distance(Point(p))) <= off + 1e-9
    if exact > off + 1e-9:
        assert inside(p, loop) == twin.contains(Point(p))


@pytest.mark.parametrize("y", [0.0, 5.0, -5.0, 1e-16, -1e-16])
def test_inside_on_the_awkward_heights(y):
    loop = circle((0.0, 0.0), 5.0)
    assert not inside((-9.0, y), loop)
    assert not inside((9.0, y), loop)
    assert inside((0.0, 0.0), loop)
    assert inside((-4.9, 0.0), loop)


@given(COORDINATE, COORDINATE, RADIUS)
def test_loop_to_loop_of_two_circles(x, y, r):
    a, b = circle((0.0, 0.0), 20.0), circle((x, y), r)
    d = math.hypot(x, y)
    expected = max(d - 20.0 - r, abs(20.0 - r) - d, 0.0)
    assert loop_to_loop(a, b) == pytest.approx(expected, abs=1e-8)


def test_simple_loops():
    square = tuple(
        Line(p, q)
        for p, q in [((0, 0), (4, 0)), ((4, 0), (4, 4)), ((4, 4), (0, 4)), ((0, 4), (0, 0))]
    )
    bow = tuple(
        Line(p, q)
        for p, q in [((0, 0), (4, 4)), ((4, 4), (4, 0)), ((4, 0), (0, 4)), ((0, 4), (0, 0))]
    )
    spike = (*square[:2], Line((4, 4), (9, 4)), Line((9, 4), (0, 4)), square[3])
    assert is_simple(square)
    assert is_simple(slot(45, 37))
    assert is_simple(circle((0, 0), 3))
    assert not is_simple(bow)
    assert not is_simple(spike)
    assert len(facets(square)) == 4


@given(POINTS, SEGMENTS)
def test_a_line_without_length_is_a_point(point, segment):
    dot = Line(point, point)
    wanted = point_to_segment(point, segment)
    assert segment_to_segment(dot, segment) == wanted == segment_to_segment(segment, dot)


def test_a_point_in_line_with_a_slot_lies_beside_it():
    row = Line((-0.75, 32.0), (0.75, 32.0))
    assert segment_to_segment(row, Line((180.0, 32.0), (180.0, 32.0))) == pytest.approx(179.25)
