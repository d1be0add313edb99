"""Copes against plane-cylinder and cylinder-cylinder geometry, Steinmetz's solid, and scipy."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from geomgen.geometry.copes import (
    PlaneCope,
    SaddleCope,
    crossing,
    curve,
    extremes,
    held,
    patch,
    points,
    skin,
    slash,
)
from geomgen.geometry.frames import Frame, Plane, angle_between, distance, unit

R, D = 30.15, 100.0
ROUND = np.linspace(0.0, 2.0 * np.pi, 181)


def saddle(offset: float = 0.0, lean: float = 0.0, radius: float = R) -> SaddleCope:
    """A tube that comes down on a log along x: set off its axis, leaning along it by ``lean``."""
    z = (math.sin(lean), 0.0, -math.cos(lean))
    tube = Frame((0.0, offset, D), (math.cos(lean), 0.0, math.sin(lean)), z)
    return SaddleCope(tube, (7.0, 0.0, 0.0), (1.0, 0.0, 0.0), radius)


@pytest.mark.parametrize("r", [5.0, 21.1, 30.0])
def test_square_saddle_is_the_textbook_form(r):
    height = curve(saddle(), r)
    for t in ROUND:
        # t counted from the log's direction
        assert height(t) == pytest.approx(D - math.sqrt(R**2 - (r * math.sin(t)) ** 2), abs=1e-9)


@pytest.mark.parametrize("offset", [-6.0, 3.5])
def test_a_saddle_off_the_axis_is_the_textbook_form(offset):
    height, tube = curve(saddle(offset), 20.0), saddle(offset).tube
    for t in ROUND:
        aside = offset + 20.0 * (math.cos(t) * tube.x[1] + math.sin(t) * tube.y[1])
        assert height(t) == pytest.approx(D - math.sqrt(R**2 - aside**2), abs=1e-9)


@pytest.mark.parametrize("lean", [-0.5, 0.3, 0.7])
def test_a_leaning_saddle_is_the_textbook_form(lean):
    """Two pipes whose axes meet: z = (D - sqrt(R^2 - r^2 sin^2 t) + r cos t sin lean) / cos lean.

    The generator at t starts r cos t sin(lean) higher and comes down at cos(lean) a mm.
    """
    height = curve(saddle(0.0, lean), 20.0)
    for t in ROUND:
        down = D + 20.0 * math.cos(t) * math.sin(lean)
        wanted = (down - math.sqrt(R**2 - (20.0 * math.sin(t)) ** 2)) / math.cos(lean)
        assert height(t) == pytest.approx(wanted, abs=1e-9)


@given(st.floats(-8, 8), st.floats(-0.8, 0.8), st.floats(4.0, 20.0), st.floats(-math.pi, math.pi))
def test_every_point_of_a_saddle_is_on_both_cylinders(offset, lean, r, t):
    cope = saddle(offset, lean)
    (p,) = points(cope, r, np.array([t]))
    along = p - np.array(cope.tube.origin)
    z = np.array(cope.tube.z)
    assert np.linalg.norm(along - (along @ z) * z) == pytest.approx(r, abs=1e-9)
    assert math.hypot(p[1], p[2]) == pytest.approx(R, abs=1e-9)
    # Nothing nearer on that generator is in the log: a step back is outside.
    back = p - 1e-3 * z
    assert math.hypot(back[1], back[2]) > R


@given(st.floats(0.0, 1.2), st.floats(-math.pi, math.pi), st.floats(2.0, 25.0))
def test_a_slash_is_a_sinusoid(angle, clock, r):
    tube = Frame.facing((1.0, 2.0, 3.0), (0.3, -0.2, 0.9))
    plane = slash(tube, 40.0, angle, clock)
    assert angle_between(plane.normal, tube.z) == pytest.approx(angle, abs=1e-7)
    height = curve(PlaneCope(tube, plane), r)
    for t in ROUND[::9]:
        wanted = 40.0 + r * math.tan(angle) * math.cos(t - clock)
        assert height(t) == pytest.approx(wanted, abs=1e-8)


@given(st.floats(-6, 6), st.floats(-0.7, 0.7))
def test_extremes_are_the_least_and_the_greatest(offset, lean):
    cope = saddle(offset, lean)
    low, high = extremes(cope, 20.0)
    fine = cope.heights(np.full(7200, 20.0), np.linspace(0, 2 * np.pi, 7200))
    assert low <= fine.min() + 1e-9
    assert high >= fine.max() - 1e-9
    assert low == pytest.approx(fine.min(), abs=1e-4)
    assert high == pytest.approx(fine.max(), abs=1e-4)


def test_equal_tubes_make_half_of_steinmetz_solid():
    """Two equal cylinders crossing square hold 16 r^3 / 3 in common, with a skin of 16 r^2.

    Of the rod from outside half of that lies beyond its cope: 8 r^3 / 3, and of its round side
    a quarter of the skin: 4 r^2.
    """
    r = 20.0
    cope = saddle(radius=r * (1.0 + 1e-12))
    assert held(cope, r) == pytest.approx(math.pi * r**2 * D - 8.0 * r**3 / 3.0, rel=1e-6)
    assert skin(cope, r) == pytest.approx(math.tau * r * D - 4.0 * r**2, rel=1e-5)


@pytest.mark.parametrize(("offset", "lean"), [(0.0, 0.0), (5.0, 0.4)])
def test_what_a_rod_holds_beside_scipy(offset, lean):
    cope, r = saddle(offset, lean), 21.1

    def over(rho: float, t: float) -> float:
        return rho * float(cope.heights(np.array(rho), np.array(t)))

    wanted, _ = dblquad(over, 0.0, math.tau, 0.0, r, epsabs=1e-3, epsrel=1e-9)
    assert held(cope, r) == pytest.approx(wanted, rel=1e-8)


def test_the_hole_in_a_square_saddle_beside_scipy():
    """Area of a cylinder within a rod that meets it square: its projection's every mm2 / cos."""
    r = 21.1

    def over(_: float, y: float) -> float:
        return R / math.sqrt(R**2 - y * y)

    wanted, _ = dblquad(
        over, -r, r, lambda y: -math.sqrt(r * r - y * y), lambda y: math.sqrt(r * r - y * y)
    )
    assert patch(saddle(), r) == pytest.approx(wanted, rel=1e-7)


def test_of_a_plane_cut_everything_is_elementary():
    tube = Frame()
    cope = PlaneCope(tube, slash(tube, 40.0, 0.6, 1.0))
    assert held(cope, 20.0) == pytest.approx(math.pi * 400.0 * 40.0, rel=1e-12)
    assert skin(cope, 20.0) == pytest.approx(math.tau * 20.0 * 40.0, rel=1e-12)
    assert patch(cope, 20.0) == pytest.approx(math.pi * 400.0 / math.cos(0.6), rel=1e-12)


@given(
    st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)),
    st.tuples(*[st.floats(-100, 100)] * 3),
)
def test_a_line_passes_an_axis_where_the_two_are_nearest(way, start):
    assume(math.hypot(way[1], way[2]) > 0.05)
    line = Frame.facing(start, way)
    found = crossing(line, (3.0, 4.0, 5.0), (1.0, 0.0, 0.0))
    assert found is not None
    p, q = line.moved(found.height).origin, (3.0 + found.station, 4.0, 5.0)
    assert distance(p, q) == pytest.approx(found.offset, abs=1e-6)
    for step in (-0.1, 0.1):
        assert distance(line.moved(found.height + step).origin, q) >= found.offset - 1e-9
        assert distance(p, (q[0] + step, q[1], q[2])) >= found.offset - 1e-9


def test_a_line_along_an_axis_has_no_crossing():
    assert crossing(Frame.facing((0, 0, 9.0), (1, 0, 0)), (0.0, 0.0, 0.0), (1.0, 0.0, 0.0)) is None


def test_a_generator_that_misses_has_no_height():
    assert math.isnan(float(saddle(28.0).heights(np.array(10.0), np.array(math.pi / 2 * 3)))) or (
        math.isnan(float(saddle(28.0).heights(np.array(10.0), np.array(math.pi / 2))))
    )


def test_a_plane_cut_leans_alike_everywhere():
    cope = PlaneCope(Frame(), Plane((0, 0, 5.0), unit((0.0, 0.6, 0.8))))
    assert cope.leans(np.ones(3), np.zeros(3)) == pytest.approx([0.8] * 3)
