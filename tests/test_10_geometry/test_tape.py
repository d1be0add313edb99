"""A point from tape measurements, against scipy's least squares and against random truth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from geomgen.geometry.tape import TapesDoNotFix, fix

STUDS = ((-32.0, 34.0, -1.2), (32.0, -34.0, -1.2), (152.0, 34.0, -1.2), (308.0, -34.0, -1.2))


def tapes(point, studs=STUDS):
    return [math.dist(point, stud) for stud in studs]


coordinate = st.floats(-500.0, 500.0)


@given(coordinate, coordinate, st.floats(20.0, 600.0), st.integers(3, 4))
@settings(deadline=None)
def test_finds_the_point_it_was_measured_from(x, y, z, count):
    point = (x, y, z)
    found = fix(STUDS[:count], tapes(point, STUDS[:count]), "out")
    assert math.dist(found.point, point) < 1e-5
    assert max(abs(r) for r in found.residuals) < 1e-7


@given(coordinate, coordinate, st.floats(20.0, 600.0))
@settings(deadline=None)
def test_the_other_side_is_the_mirror_image(x, y, z):
    point = (x, y, z)
    found = fix(STUDS, tapes(point), "in")
    assert math.dist(found.point, (x, y, -2.4 - z)) < 1e-5


@given(coordinate, coordinate)
@settings(deadline=None)
def test_in_the_face(x, y):
    found = fix(STUDS, tapes((x, y, -1.2)), "face")
    assert math.dist(found.point, (x, y, -1.2)) < 1e-6


@given(
    coordinate,
    coordinate,
    st.floats(60.0, 600.0),
    st.lists(st.floats(-2.0, 2.0), min_size=4, max_size=4),
)
@settings(deadline=None, max_examples=30)
def test_least_squares_agrees_with_scipy(x, y, z, slips):
    """Reference: scipy.optimize.least_squares (MINPACK) from the same side."""
    distances = [d + slip for d, slip in zip(tapes((x, y, z)), slips, strict=True)]
    found = fix(STUDS, distances, "out")
    studs = np.array(STUDS)
    reference = least_squares(
        lambda p: np.linalg.norm(p - studs, axis=1) - distances,
        x0=(x, y, z),
        jac=lambda p: (p - studs) / np.linalg.norm(p - studs, axis=1)[:, None],
        method="lm",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    assume(reference.x[2] > 5.0)
    ours = math.fsum(r * r for r in found.residuals)
    assert ours <= 2.0 * reference.cost + 1e-9
    assert np.linalg.norm(np.array(found.point) - reference.x) < 1e-3


@given(
    st.floats(-100.0, 400.0),
    st.floats(-400.0, 100.0),
    st.floats(100.0, 400.0),
    st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=3),
)
@settings(deadline=None, max_examples=30)
def test_stated_error_covers_what_tapes_do(x, y, z, share):
    """A point measured with tapes that are off by up to 2 mm lies within the stated error.

    The worst case is taken at the corners of the box of tape errors; between them the
    solution is not quite linear, hence the 10 %.
    """
    truth, slack = (x, y, z), 2.0
    studs = STUDS[:3]
    distances = [d + slack * s for d, s in zip(tapes(truth, studs), share, strict=True)]
    found = fix(studs, distances, "out", slack)
    assert math.dist(found.point, truth) <= 1.1 * found.error


def test_error_of_three_tapes_square_to_one_another():
    """Tapes along x, y and z, each off by e, put the point off by e * sqrt(3) (Pythagoras).

    Every tape fixes one coordinate; the tapes are long against e, so the spheres are flat.
    """
    far = 10_000.0
    studs = ((far, 0.0, 0.0), (0.0, far, 0.0), (0.0, 0.0, far))
    found = fix(studs, (far, far, far), "in", 1.0, outward=(1.0, 1.0, 1.0))
    assert math.dist(found.point, (0.0, 0.0, 0.0)) < 1e-6
    assert found.error == pytest.approx(math.sqrt(3.0), rel=1e-3)


def test_no_stated_error_no_error():
    assert fix(STUDS, tapes((10.0, 20.0, 300.0)), "out").error == 0.0


@pytest.mark.parametrize(
    "studs",
    [STUDS[:2], ((0.0, 0.0, 0.0), (92.0, 0.0, 0.0), (184.0, 0.0, 0.0))],
    ids=["two", "in one line"],
)
def test_refuses_what_fixes_no_point(studs):
    with pytest.raises(TapesDoNotFix):
        fix(studs, [100.0] * len(studs), "out")


def test_distances_that_do_not_meet_show_in_the_residuals():
    found = fix(STUDS[:3], (20.0, 20.0, 20.0), "out")
    assert max(abs(r) for r in found.residuals) > 10.0
