"""All paths of at most two bends whose angles are whole steps: a list, not a search.

With both angles given, the leg between two bends has at most two directions, and closure
leaves nothing free: three lengths of straight legs follow from three equations. So every
pair of angles can be looked at.
"""

from __future__ import annotations

import math

import numpy as np

from geomgen.geometry.frames import Frame
from geomgen.routing.paths import LENGTH_SLIP, Floats, shortening
from geomgen.routing.problem import Edge, Shelf

_FLAT = 1e-7
_MOST_ANGLES = 2000  # pairs of more are too many to hold at once


def stepped_two_bends(
    start: Frame, end: Frame, length: float, shelf: Shelf, step: float, slip: float = LENGTH_SLIP
) -> tuple[Floats, Floats] | None:
    """Corners (n, 2, 3) and radii (n, 2) of all such paths of two bends [mm].

    Straights are not judged here, but none is negative at its leg.

    Returns:
        None where the axes are parallel, or steps so fine that nothing can be counted.
    """
    z, w = np.array(start.z), np.array(end.z)
    away = np.array(end.origin) - np.array(start.origin)
    across = np.cross(z, w)
    square = float(across @ across)
    if square < _FLAT:
        return None
    most = max(radius.most for radius in shelf.radii)
    angles = step * np.arange(1, math.floor(most / step + 1e-9) + 1)
    angles = angles[angles >= shelf.least_angle - 1e-9]
    if len(angles) > _MOST_ANGLES:
        return None
    first, last = (grid.ravel() for grid in np.meshgrid(angles, angles, indexing="ij"))
    # d = a z + b w +- c (z x w) with d.z = cos(first), d.w = cos(last), |d| = 1.
    zw = float(z @ w)
    a = (np.cos(first) - zw * np.cos(last)) / (1.0 - zw * zw)
    b = (np.cos(last) - zw * np.cos(first)) / (1.0 - zw * zw)
    rest = 1.0 - (a * a + b * b + 2.0 * a * b * zw)
    # A hair outside counts as on the edge, where the leg lies in the axes' plane.
    keep = rest > -1e-9
    first, last, a, b, rest = (values[keep] for values in (first, last, a, b, rest))
    c = np.sqrt(np.maximum(rest, 1e-18) / square)
    halves = np.tan(0.5 * first), np.tan(0.5 * last)
    corners, radii = [np.zeros((0, 2, 3))], [np.zeros((0, 2))]
    for sign in (1.0, -1.0):
        leg = a[:, None] * z + b[:, None] * w + sign * c[:, None] * across
        # away = t z + between d + u w: between from the part across both axes, then t and u.
        normal = float(away @ across)
        between = normal / (leg @ across)
        rest_away = away - between[:, None] * leg
        p, q = rest_away @ z, rest_away @ w
        t, u = (p - zw * q) / (1.0 - zw * zw), (q - zw * p) / (1.0 - zw * zw)
        ahead = (t > 0.0) & (between > 0.0) & (u > 0.0)
        for one in shelf.radii:
            for two in shelf.radii:
                total = t + between + u + shortening(halves[0], one.clr)
                total += shortening(halves[1], two.clr)
                may = ahead & (np.abs(total - length) <= slip)
                may &= (first <= one.most + 1e-9) & (last <= two.most + 1e-9)
                made = np.stack(
                    [
                        np.array(start.origin) + t[may, None] * z,
                        np.array(end.origin) - u[may, None] * w,
                    ],
                    axis=1,
                )
                corners.append(made)
                radii.append(np.tile([one.clr, two.clr], (len(made), 1)))
    return np.concatenate(corners), np.concatenate(radii)


def none_of_few_bends(edge: Edge, slots: tuple[Frame, ...], shelf: Shelf) -> bool:
    """Whether a tube certainly has no path of at most two bends, in whole steps, to any slot.

    False wherever that could not be counted: where the axes lie in a plane, so that fewer
    bends than two would do or the count is not finite.
    """
    if shelf.angle_step is None or edge.kept:
        return False
    for slot in slots:
        away = np.array(slot.origin) - np.array(edge.start.origin)
        z, w = np.array(edge.start.z), np.array(slot.z)
        if abs(float(away @ np.cross(z, w))) < 1e-3:
            return False
        found = stepped_two_bends(edge.start, slot, edge.length, shelf, shelf.angle_step, 0.1)
        if found is None or len(found[0]):
            return False
    return True
