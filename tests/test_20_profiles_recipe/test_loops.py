"""Loops: boxes, areas, turning round and moving."""

import math

import pytest
from flat_shapes import facets
from hypothesis import given
from hypothesis import strategies as st

from geomgen.profiles.loops import (
    Arc,
    Line,
    area,
    backwards,
    bounding_box,
    circle,
    perimeter,
    placed,
    slot,
)


def test_box_of_a_circle():
    box = bounding_box(circle((3.0, -2.0), 5.0))
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((-2, -7, 8, 3), abs=1e-12)


@given(st.floats(-10, 10), st.floats(-6.28, 6.28).filter(lambda s: abs(s) > 1e-3))
def test_box_of_an_arc_holds_it_tightly(begin, sweep):
    arc = Arc((1.0, 2.0), 10.0, begin, sweep)
    box = bounding_box((arc,))
    points = [arc.at(i / 720) for i in range(721)]
    sag = 10 * (1 - math.cos(abs(sweep) / 1440))
    for low, high, values in (
        (box.left, box.right, [p[0] for p in points]),
        (box.bottom, box.top, [p[1] for p in points]),
    ):
        assert low - 1e-9 <= min(values) <= low + sag + 1e-9
        assert high - sag - 1e-9 <= max(values) <= high + 1e-9


def test_backwards_turns_the_sign_of_the_area():
    loop = slot(45, 37)
    assert area(backwards(loop)) == pytest.approx(-area(loop), rel=1e-14)
    assert perimeter(backwards(loop)) == pytest.approx(perimeter(loop), rel=1e-14)
    assert backwards(loop)[0].start == pytest.approx(loop[-1].end)


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(-4, 4))
def test_a_rigid_move_keeps_area_and_distances(x, y, turn):
    loop = slot(45, 37)
    moved = placed(loop, (x, y), turn)
    assert area(moved) == pytest.approx(area(loop), rel=1e-9)
    for p, q in zip(facets(loop, 0.5), facets(moved, 0.5), strict=True):
        assert math.hypot(*p) == pytest.approx(math.dist(q, (x, y)), abs=1e-9)


def test_a_quarter_turn_goes_left():
    (line,) = placed((Line((1.0, 0.0), (2.0, 0.0)),), (10.0, 0.0), math.pi / 2)
    assert line.start == pytest.approx((10.0, 1.0))
    assert line.end == pytest.approx((10.0, 2.0))
