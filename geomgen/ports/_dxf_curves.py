"""Points along ellipses and splines, close enough that chords are the curve."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from geomgen.profiles.loops import Point2

Array = npt.NDArray[np.float64]

FINE = 2e-4
"""Height of a curve over its chords, as a share of the curve's size [-]."""

_MOST_DEGREE, _MOST_CONTROL = 15, 5000


def ellipse(
    centre: Point2, major: Point2, ratio: float, begin: float, sweep: float
) -> list[Point2]:
    """Points of an elliptic arc; a negative ratio runs clockwise.

    Args:
        centre: of the ellipse.
        major: from the centre to the end of the major axis.
        ratio: of the minor axis to it.
        begin: eccentric angle of the first point [rad].
        sweep: of the arc [rad].
    """
    count = max(8, math.ceil(sweep / (2.0 * math.acos(1.0 - FINE))))
    (cx, cy), (ax, ay) = centre, major
    bx, by = -ay * ratio, ax * ratio
    angles = [begin + i / count * sweep for i in range(count + 1)]
    points = [
        (
            cx + math.cos(a) * ax + math.sin(a) * bx,
            cy + math.cos(a) * ay + math.sin(a) * by,
        )
        for a in angles
    ]
    return [*points[:-1], points[0]] if sweep > math.tau - 1e-9 else points


def spline(
    degree: int, knots: list[float], control: list[Point2], weights: list[float]
) -> list[Point2] | None:
    """Points of a B-spline (NURBS); None when its numbers do not make one."""
    count = len(control)
    sound = (
        1 <= degree <= _MOST_DEGREE
        and degree < count <= _MOST_CONTROL
        and len(knots) == count + degree + 1
        and all(a <= b for a, b in pairwise(knots))
        and len(weights) in (0, count)
        and all(w > 0.0 for w in weights)
    )
    if not sound:
        return None
    weight = np.array(weights or [1.0] * count)
    lifted = np.column_stack((np.array(control) * weight[:, None], weight))
    at = np.array(knots)
    edges = np.unique(at[degree : count + 1])
    if len(edges) < 2:
        return None
    size = float(np.ptp(np.array(control), axis=0).max())
    points: list[Point2] = []
    for low, high in pairwise(edges):
        span = _span(degree, at, lifted, float(low), float(high), FINE * size)
        points += [(float(x), float(y)) for x, y in (span if not points else span[1:])]
    return points


def _span(degree: int, at: Array, lifted: Array, low: float, high: float, most: float) -> Array:
    """Points of one knot span, ever finer until chords are the curve."""
    count = 4
    while True:
        points = _values(degree, at, lifted, np.linspace(low, high, 2 * count + 1))
        middle = (points[:-2:2] + points[2::2]) / 2.0
        if np.linalg.norm(points[1::2] - middle, axis=1).max() <= 4.0 * most or count >= 256:
            return points
        count *= 2


def _values(degree: int, at: Array, lifted: Array, where: Array) -> Array:
    """De Boor's algorithm at parameters within one knot span."""
    middle = (where[0] + where[-1]) / 2.0
    k = int(np.searchsorted(at, middle, side="right")) - 1
    d = np.repeat(lifted[k - degree : k + 1][None], len(where), axis=0)
    for r in range(1, degree + 1):
        for j in range(degree, r - 1, -1):
            i = j + k - degree
            share = (where - at[i]) / (at[j + 1 + k - r] - at[i])
            d[:, j] = (1.0 - share)[:, None] * d[:, j - 1] + share[:, None] * d[:, j]
    flat: Array = d[:, degree, :2] / d[:, degree, 2:]
    return flat
