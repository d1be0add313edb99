"""Every path of two bends: the curve of their two free numbers on which the length is right.

The first corner lies t ahead of the start, the second u behind the end, so the length is a
function of two numbers. It is tabulated once for each pair of radii; wherever it crosses
the target between neighbours, along either number, the crossing is solved for.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geomgen.geometry.frames import Frame
from geomgen.routing.paths import NEAR, Floats, half_tangent, shortening
from geomgen.routing.problem import Shelf
from geomgen.routing.roots import false_position

_SHARP = -0.87  # cosine of a turn too sharp for one corner


def two_bends(
    start: Frame, end: Frame, length: float, shelf: Shelf, at_start: float, grid: int
) -> tuple[Floats, Floats]:
    """Corners (n, 2, 3) and radii (n, 2) [mm] of paths of two bends with that length.

    Args:
        start: pose that they leave.
        end: pose that they arrive in.
        length: wanted [mm].
        shelf: what bends there are.
        at_start: least straight behind the start [mm].
        grid: how many values of each number are looked at.
    """
    corners, radii = [np.zeros((0, 2, 3))], [np.zeros((0, 2))]
    small = np.tan(0.5 * shelf.least_angle)
    part = np.linspace(0.0, 1.0, grid) ** 1.4
    for first in shelf.radii:
        for last in shelf.radii:
            t = at_start + small * first.clr + part * 0.95 * length
            u = shelf.straight_at_end + small * last.clr + part * 0.95 * length
            family = _Family(start, end, first.clr, last.clr)
            found = _crossings(family, t, u, length)
            corners.append(family.corners(found[:, 0], found[:, 1]))
            radii.append(np.tile([first.clr, last.clr], (len(found), 1)))
    return np.concatenate(corners), np.concatenate(radii)


class _Family:
    """Length as a function of the two numbers, for one pair of radii."""

    def __init__(self, start: Frame, end: Frame, first: float, last: float) -> None:
        self.a, self.z = np.array(start.origin), np.array(start.z)
        self.b, self.w = np.array(end.origin), np.array(end.z)
        self.first, self.last = first, last
        away = self.b - self.a
        # |leg|^2 as a polynomial of t and u; no vectors are needed for lengths.
        self.aa, self.az, self.aw = float(away @ away), float(away @ self.z), float(away @ self.w)
        self.zw = float(self.z @ self.w)

    def corners(self, t: Floats, u: Floats) -> Floats:
        """Corners (n, 2, 3) [mm]."""
        return np.stack([self.a + t[:, None] * self.z, self.b - u[:, None] * self.w], axis=1)

    def length(self, t: Floats, u: Floats) -> tuple[Floats, Floats]:
        """Length [mm], and the smaller cosine of the two turns."""
        square = self.aa + t * t + u * u - 2.0 * (t * self.az + u * self.aw - t * u * self.zw)
        leg = np.sqrt(np.maximum(square, 1e-9))
        one = (self.az - t - u * self.zw) / leg
        two = (self.aw - t * self.zw - u) / leg
        total = t + u + leg + shortening(half_tangent(one), self.first)
        return total + shortening(half_tangent(two), self.last), np.minimum(one, two)


def _crossings(family: _Family, t: Floats, u: Floats, length: float) -> Floats:
    """Pairs (n, 2) at which the length is right, one for every crossing of the grid."""
    total, cosine = family.length(t[:, None], u[None, :])
    f = np.where(cosine > _SHARP, total - length, np.nan)
    out = []
    i, j = np.nonzero(f[:, :-1] * f[:, 1:] < 0.0)
    v = _solved(lambda v: family.length(t[i], v)[0] - length, u[j], u[j + 1])
    out.append(np.stack([t[i], v], axis=1))
    i, j = np.nonzero(f[:-1] * f[1:] < 0.0)
    v = _solved(lambda v: family.length(v, u[j])[0] - length, t[i], t[i + 1])
    out.append(np.stack([v, u[j]], axis=1))
    found = np.concatenate(out)
    off = np.abs(family.length(found[:, 0], found[:, 1])[0] - length)
    return np.asarray(found[off < NEAR])


def _solved(f: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Roots between brackets, whichever way each function crosses."""
    if not len(low):
        return low
    way = np.sign(f(high))
    return false_position(lambda v: way * f(v), low, high, 7)[0]
