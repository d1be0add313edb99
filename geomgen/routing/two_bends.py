"""Every path of two bends: the curve of their two free numbers on which the length is right.

The first corner lies t ahead of the start, the second u behind the end, so the length is a
function of two numbers. It is tabulated once for each end and pair of radii; wherever it
crosses the target between neighbours, along either number, the crossing is solved for. All
ends and pairs of radii are looked at together, for the tables are small.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame
from geomgen.routing.lengths import NEAR
from geomgen.routing.paths import Floats, half_tangent, shortening
from geomgen.routing.problem import Shelf
from geomgen.routing.roots import false_position

Ints = NDArray[np.intp]

_SHARP = -0.87  # cosine of a turn too sharp for one corner


def two_bends(
    start: Frame, ends: tuple[Frame, ...], length: float, shelf: Shelf, at_start: float, grid: int
) -> list[tuple[Floats, Floats]]:
    """Corners (n, 2, 3) and radii (n, 2) [mm] of paths of two bends with that length.

    Args:
        start: pose that they leave.
        ends: poses that they arrive in.
        length: wanted [mm].
        shelf: what bends there are.
        at_start: least straight behind the start [mm].
        grid: how many values of each number are looked at.

    Returns:
        The paths to each end.
    """
    stock = [radius.clr for radius in shelf.radii]
    radii = np.array([(first, last) for first in stock for last in stock])
    small = np.tan(0.5 * shelf.least_angle)
    part = np.linspace(0.0, 1.0, grid) ** 1.4
    t = (at_start + small * radii[:, :1]) + part * 0.95 * length
    u = (shelf.straight_at_end + small * radii[:, 1:]) + part * 0.95 * length
    pairs = len(radii)
    t, u = np.tile(t, (len(ends), 1)), np.tile(u, (len(ends), 1))
    which, t, u = _crossings(_families(start, ends, radii), t, u, length)
    order = np.argsort(which, kind="stable")
    which, t, u = which[order], t[order], u[order]
    bounds = np.searchsorted(which, pairs * np.arange(len(ends) + 1))
    a, z = np.array(start.origin), np.array(start.z)
    out = []
    for i, end in enumerate(ends):
        mine = slice(int(bounds[i]), int(bounds[i + 1]))
        b, w = np.array(end.origin), np.array(end.z)
        corners = np.stack([a + t[mine, None] * z, b - u[mine, None] * w], axis=1)
        out.append((corners, radii[which[mine] % pairs]))
    return out


def _families(start: Frame, ends: tuple[Frame, ...], radii: Floats) -> Floats:
    """What each end and pair of radii makes of the two numbers: (6, ends times pairs).

    The leg's square is a polynomial of t and u; no vectors are needed for lengths.
    """
    a, z = np.array(start.origin), np.array(start.z)
    rows = []
    for end in ends:
        away, w = np.array(end.origin) - a, np.array(end.z)
        four = (float(away @ away), float(away @ z), float(away @ w), float(z @ w))
        rows += [(*four, float(first), float(last)) for first, last in radii]
    return np.array(rows).T


def _length(family: Floats, t: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Length [mm], and the smaller cosine of the two turns."""
    aa, az, aw, zw, first, last = family
    square = aa + t * t + u * u - 2.0 * (t * az + u * aw - t * u * zw)
    leg = np.sqrt(np.maximum(square, 1e-9))
    one = (az - t - u * zw) / leg
    two = (aw - t * zw - u) / leg
    total = t + u + leg + shortening(half_tangent(one), first)
    return total + shortening(half_tangent(two), last), np.minimum(one, two)


def _crossings(
    families: Floats, t: Floats, u: Floats, length: float
) -> tuple[Ints, Floats, Floats]:
    """Families and numbers (n,) at which the length is right, one for every crossing.

    Args:
        families: see ``_families``.
        t: (families, grid) values that are looked at [mm].
        u: the same [mm].
        length: wanted [mm].
    """
    total, cosine = _length(families[:, :, None, None], t[:, :, None], u[:, None, :])
    f = np.where(cosine > _SHARP, total - length, np.nan)
    k, i, j = np.nonzero(f[:, :, :-1] * f[:, :, 1:] < 0.0)
    k2, i2, j2 = np.nonzero(f[:, :-1] * f[:, 1:] < 0.0)
    which = np.concatenate([k, k2])
    family = families[:, which]
    ahead = np.arange(len(which)) < len(k)  # t stands and u is looked for, or else
    still = np.concatenate([t[k, i], u[k2, j2]])

    def both(v: Floats) -> tuple[Floats, Floats]:
        return np.where(ahead, still, v), np.where(ahead, v, still)

    def off(v: Floats) -> Floats:
        return _length(family, *both(v))[0] - length

    low = np.concatenate([u[k, j], t[k2, i2]])
    v = _solved(off, low, np.concatenate([u[k, j + 1], t[k2, i2 + 1]]))
    found, ok = both(v), np.abs(off(v)) < NEAR
    return which[ok], found[0][ok], found[1][ok]


def _solved(f: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Roots between brackets, whichever way each function crosses."""
    if not len(low):
        return low
    way = np.sign(f(high))
    return false_position(lambda v: way * f(v), low, high, 7)[0]
