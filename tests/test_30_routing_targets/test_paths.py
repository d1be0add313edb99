"""Batches of filleted polylines against single centrelines."""

import math

import numpy as np
import pytest

from geomgen.geometry.distance import points_at
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.routing.candidates import feasible
from geomgen.routing.draws import draw, kronecker, plans
from geomgen.routing.lengths import NEAR, with_length
from geomgen.routing.paths import exact_shape, measure, points
from geomgen.routing.problem import Edge, Radius, Shelf

START = Frame((0.0, -2.5, 55.0))
END = Frame.facing((300.0, -310.0, 210.0), (0.95, -0.3, 0.0))
SHELF = Shelf((Radius(67.5, math.pi), Radius(90.0, math.pi)), math.radians(8), 0.0, 10.0, 0.0)
TARGET = 640.0


@pytest.fixture(scope="module", params=[2, 3, 4])
def solved(request: pytest.FixtureRequest):
    edge = Edge("a", START, TARGET, 20.0, 0)
    (plan,) = (p for p in plans(edge, END, SHELF, 4) if p.bends == request.param)
    batch = with_length(draw(plan, TARGET, SHELF, 2400, 0), TARGET)
    batch = batch.take(feasible(measure(batch), batch, SHELF))
    assert len(batch) > 3
    return batch


def test_every_path_has_its_length_and_its_ends(solved) -> None:
    for i in range(0, len(solved), 7):
        path = solved.path(i)
        assert path.length == pytest.approx(TARGET, abs=NEAR)
        exact = exact_shape(solved.take(np.array([i])), TARGET).path(0)
        assert exact.length == pytest.approx(TARGET, abs=1e-9)
        assert distance(path.end.origin, END.origin) < 1e-9
        assert angle_between(path.end.z, END.z) < 1e-7
        assert path.start == START


def test_batch_points_lie_on_the_centreline(solved) -> None:
    stations, where = points(solved, measure(solved), 50)
    for i in range(0, len(solved), 7):
        on = points_at(solved.path(i), stations[i])
        assert np.abs(on - where[i]).max() < 1e-6


def test_only_shelf_radii_and_allowed_angles_come_out(solved) -> None:
    for i in range(0, len(solved), 7):
        for bend in solved.path(i).bends:
            assert bend.radius in (67.5, 90.0)
            assert math.radians(8) - 1e-9 <= bend.angle <= math.radians(150) + 1e-9


def test_kronecker_covers_evenly_and_repeats_nothing() -> None:
    u = kronecker(4000, 3)
    counts, _ = np.histogramdd(u, bins=(4, 4, 4), range=[(0, 1)] * 3)
    assert counts.min() > 0.8 * 4000 / 64
    assert counts.max() < 1.2 * 4000 / 64
    assert np.allclose(kronecker(10, 3, 20), kronecker(30, 3)[20:])
