"""Slanting sections as lines and arcs, what they sweep, and what a tool cuts out of a loop."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from geomgen.profiles.convex import corner_turns, hull_of_circles, is_convex, offset
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import gap, is_simple
from geomgen.profiles.loops import Line, area, bounding_box, circle, perimeter, placed, slot
from geomgen.profiles.slanted import slanted, swept
from geomgen.profiles.union import difference

TOLERANCE = 0.02
FINE = 120


def turned(angle):
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def lean(angle, towards, roll=0.0):
    """The map of a prism's section square to its axis on to the face that it leans from."""
    r = turned(towards)
    m = r @ np.diag([1.0 / math.cos(angle), 1.0]) @ r.T @ turned(roll)
    return tuple(map(tuple, m.tolist()))


def points(loop, n=FINE):
    return np.array([point_at(piece, i / n) for piece in loop for i in range(n)])


SHAPES = (
    slot(45.0, 37.0),
    circle((3.0, -2.0), 20.0),
    hull_of_circles([((-20, -15), 0.0), ((20, -15), 3.0), ((20, 15), 6.0), ((-20, 15), 0.0)]),
)


@settings(max_examples=15)
@given(
    st.sampled_from(SHAPES),
    st.floats(0.01, 1.0),
    st.floats(0, math.tau),
    st.floats(0, math.tau),
)
def test_a_slanting_section_lies_outside_the_true_one_by_no_more_than_the_tolerance(
    shape, angle, towards, roll
):
    matrix = lean(angle, towards, roll)
    found = slanted(shape, matrix, TOLERANCE)
    # the true image is convex: of chords of it the outside can only be nearer
    true = Polygon(points(shape) @ np.array(matrix).T)
    outline = points(found)
    away = [true.exterior.distance(Point(p)) for p in outline[::7]]
    assert Polygon(points(found, 600)).buffer(1e-4).contains(true)
    chord = max(piece.length for piece in shape) / FINE / math.cos(angle)
    assert max(away) <= TOLERANCE + chord**2 / 4.0
    assert gap(found) < 1e-9
    assert is_convex(found)
    assert is_simple(found)


def test_no_corner_is_new():
    found = slanted(SHAPES[0], lean(0.4, 1.0), TOLERANCE)
    assert max(abs(turn) for turn in corner_turns(found)) < 1e-9
    assert sum(isinstance(piece, Line) for piece in found) == 2


def test_area_of_a_slanting_section_is_the_square_one_over_the_cosine():
    found = slanted(SHAPES[1], lean(0.5, 2.0), TOLERANCE)
    true = math.pi * 400.0 / math.cos(0.5)
    assert 0.0 < area(found) - true < TOLERANCE * perimeter(found)


def test_a_map_that_turns_over_and_a_dented_loop_are_refused():
    with pytest.raises(ValueError, match="turned over"):
        slanted(SHAPES[0], ((1.0, 0.0), (0.0, -1.0)), TOLERANCE)
    with pytest.raises(ValueError, match="convex"):
        slanted(difference(slot(40.0, 20.0), circle((0.0, 12.0), 8.0))[0], lean(0.1, 0), TOLERANCE)


@settings(max_examples=25)
@given(st.sampled_from(SHAPES), st.floats(0.1, 30), st.floats(0, math.tau), st.floats(0, math.tau))
def test_swept_area_is_the_loop_and_its_width_times_the_way(shape, far, towards, roll):
    """Moved by a vector a convex shape covers area + width square to the way x length."""
    loop = placed(shape, (0.0, 0.0), roll)
    by = (far * math.cos(towards), far * math.sin(towards))
    found = swept(loop, by)
    across = bounding_box(placed(loop, (0.0, 0.0), -towards)).height
    assert area(found) == pytest.approx(area(loop) + across * far, rel=1e-9)
    assert perimeter(found) == pytest.approx(perimeter(loop) + 2.0 * far, rel=1e-9)
    assert gap(found) < 1e-6
    assert is_convex(found)


def test_nothing_swept_is_the_loop():
    assert swept(SHAPES[0], (0.0, 0.0)) == SHAPES[0]


def test_a_slot_swept_along_its_sides_stays_a_slot():
    found = swept(slot(45.0, 37.0), (5.0, 0.0))
    assert sum(isinstance(piece, Line) for piece in found) == 2
    assert area(found) == pytest.approx(area(slot(50.0, 37.0)), rel=1e-12)


@settings(max_examples=30)
@given(st.floats(-18, 18), st.floats(2, 6), st.floats(5, 60))
def test_a_slot_cut_from_the_edge_agrees_with_shapely(x, width, deep):
    plate = offset(slot(80.0, 50.0), 1.0)
    tool = slot(width, 2.0 * deep, (x, 26.0))
    assume(width < deep)
    assume(abs(26.0 - deep + 26.0) > 0.05)
    rest = difference(plate, tool)
    twin = Polygon(points(plate, 400)).difference(Polygon(points(tool, 400)))
    parts = [twin] if twin.geom_type == "Polygon" else list(twin.geoms)
    assert len(rest) == len(parts)
    assert sum(map(area, rest)) == pytest.approx(twin.area, abs=0.1)
    assert all(is_simple(loop) and gap(loop) < 1e-6 for loop in rest)
