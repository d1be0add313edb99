"""Certificates rest on what is certainly too near, not on what may be: solids known loosely."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from test_certificates import cage, problem

from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame
from geomgen.geometry.solid_field import Body, Solid
from geomgen.geometry.triangles import Skin
from geomgen.routing.certificates import end_blocked, sealed
from geomgen.routing.problem import Obstacle

_SIDES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))


@cache
def body(box: Box) -> Body:
    ends = np.array([box.low, box.high])
    points = np.array(
        [(ends[i, 0], ends[j, 1], ends[k, 2]) for k in (0, 1) for j in (0, 1) for i in (0, 1)]
    )
    corners = [(a, b, c) for a, b, c, _ in _SIDES] + [(a, c, d) for a, _, c, d in _SIDES]
    return Body.of(Skin.of(points, np.array(corners)))


def as_solid(obstacle: Obstacle, off: float = 0.0) -> Obstacle:
    """A box as triangles that are known to within ``off`` only."""
    assert isinstance(obstacle.field, Box)
    bodies = (body(obstacle.field),)
    return replace(obstacle, field=Solid(obstacle.name, Frame(), bodies, off, off))


def fronted(opening: float, off: float) -> tuple[Obstacle, ...]:
    """The cage with the plates left and right of its window as solids."""
    *back, left, right, below, above = cage(opening)
    return (*back, below, above, as_solid(left, off), as_solid(right, off))


def test_a_cage_of_solids_seals_as_one_of_boxes_does() -> None:
    found = sealed(problem(110.0, 620.0, *fronted(0.001, 0.0)))
    assert found is not None
    assert found.kind == "sealed"


def test_a_window_that_is_known_loosely_is_not_called_shut() -> None:
    """A 100 mm window in plates known to 60 mm: by its lower bounds it would be closed."""
    loose = fronted(100.0, 60.0)
    centre = np.array([(55.0, 0.0, 175.0)])
    assert max(plate.field.distance(centre)[0] for plate in loose[-2:]) < 0.0
    assert sealed(problem(110.0, 620.0, *loose)) is None


@pytest.mark.parametrize(("off", "holds"), [(0.0, True), (0.15, False)])
def test_a_straight_is_blocked_only_by_what_is_certainly_there(off: float, holds: bool) -> None:
    """29.9 mm where 30 are asked for: blocked, unless the solid may be 0.15 mm farther off."""
    rail = Obstacle("rail", Box((-100.0, -60.0, 50.0), (300.0, -29.9, 60.0)), 9.0)
    found = end_blocked(problem(110.0, 620.0, as_solid(rail, off)))
    assert (found is not None) is holds
