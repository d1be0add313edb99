"""Facetted twins of loops in shapely, with a bound on what the facets leave out."""

import math

from hypothesis import strategies as st
from shapely.geometry import Polygon

from geomgen.profiles.loops import Arc

STEP = math.radians(1.0)


def facets(loop, step=STEP):
    """Points round a loop; on arcs no more than ``step`` apart in angle."""
    points = []
    for piece in loop:
        if isinstance(piece, Arc):
            n = max(1, math.ceil(abs(piece.sweep) / step))
            points.extend(piece.at(i / n) for i in range(n))
        else:
            points.append(piece.start)
    return points


def polygon(loop, step=STEP):
    return Polygon(facets(loop, step))


def left_out(loop, step=STEP):
    """Most area between arcs and facets: r^2 / 2 (s - sin s) a facet of angle s."""
    total = 0.0
    for piece in loop:
        if isinstance(piece, Arc):
            n = max(1, math.ceil(abs(piece.sweep) / step))
            s = abs(piece.sweep) / n
            total += n * piece.radius**2 / 2 * (s - math.sin(s))
    return total


# values on a 1/16 mm grid: coincidences and tangencies do come up
COORDINATE = st.integers(-1600, 1600).map(lambda v: v / 16)
RADIUS = st.integers(16, 640).map(lambda v: v / 16)
CIRCLES = st.lists(st.tuples(st.tuples(COORDINATE, COORDINATE), RADIUS), min_size=1, max_size=6)
