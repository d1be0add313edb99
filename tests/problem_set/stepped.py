"""All two-bend paths between two poses whose angles are whole steps.

With start direction z, slot direction w and angles a, b the straight between the bends
points along the unit u with ``u . z = cos a`` and ``u . w = cos b``: two directions at
most. The three straights then follow from the end points alone, so nothing is left with
which a length could be met: it comes out as it comes out.
"""

from __future__ import annotations

import math
from itertools import product
from typing import Any

import numpy as np
from problem_set.fillets import Floats

_EDGE = 1e-3


def two_bend_lengths(problem: dict[str, Any], tube: int, slot: int, step: float) -> Floats:
    """Lengths of every such path of a tube to a slot that the shelf allows [mm]."""
    shelf = problem["shelf"]
    p, z = (np.array(problem["tubes"][tube][key]) for key in ("origin", "z"))
    q, w = (np.array(problem["slots"][slot][key]) for key in ("origin", "z"))
    normal, c = np.cross(z, w), float(z @ w)
    square = float(normal @ normal)
    if square < 1e-8:
        raise ValueError("the directions are parallel: the straight between may point anywhere")
    found = [np.empty(0)]
    for first, last in product(shelf["radii"], repeat=2):
        a, b = (g.ravel() for g in np.meshgrid(*(_steps(shelf, k, step) for k in (first, last))))
        along_z = (np.cos(a) - c * np.cos(b)) / square
        along_w = (np.cos(b) - c * np.cos(a)) / square
        rest = 1.0 - along_z**2 - along_w**2 - 2.0 * c * along_z * along_w
        # A hair outside counts as on the edge: the answer may be off by rounding.
        real = rest > -1e-9
        a, b, along_z, along_w, rest = (v[real] for v in (a, b, along_z, along_w, rest))
        for sign in (1.0, -1.0):
            across = sign * np.sqrt(np.maximum(rest, 0.0) / square)
            u = along_z[:, None] * z + along_w[:, None] * w + across[:, None] * normal
            found.append(_lengths(shelf, (p, z, q, w), u, (a, b), (first["clr"], last["clr"])))
    return np.concatenate(found)


def _steps(shelf: dict[str, Any], kind: dict[str, float], step: float) -> Floats:
    least = math.ceil(shelf["least_angle"] / step - 1e-9)
    return step * np.arange(least, math.floor(kind["most_angle"] / step + 1e-9) + 1)


def _lengths(
    shelf: dict[str, Any],
    ends: tuple[Floats, Floats, Floats, Floats],
    u: Floats,
    angles: tuple[Floats, Floats],
    radii: tuple[float, float],
) -> Floats:
    """The straights that close the path, and the lengths of those that are long enough."""
    p, z, q, w = ends
    # q - p = i z + j u + k w, by the products with the cross products of the other two
    size = np.cross(u, w) @ z
    keep = np.abs(size) > 1e-9
    u, size = u[keep], size[keep]
    a, b = angles[0][keep], angles[1][keep]
    d = q - p
    i = np.cross(u, w) @ d / size
    j = float(np.cross(w, z) @ d) / size
    k = np.cross(z, u) @ d / size
    first, last = radii[0] * np.tan(a / 2.0), radii[1] * np.tan(b / 2.0)
    straights = (i - first, j - first - last, k - last)
    least = (shelf["straight_at_start"], shelf["straight"], shelf["straight_at_end"])
    fine = np.ones(len(a), dtype=bool)
    for have, want in zip(straights, least, strict=True):
        fine &= have >= want - _EDGE
    total = sum(straights) + radii[0] * a + radii[1] * b
    return np.asarray(total[fine])


def aside(problem: dict[str, Any], tube: int, slot: int) -> float:
    """How far the start's axis passes the slot's axis [mm]: none or one bend needs 0."""
    p, z = (np.array(problem["tubes"][tube][key]) for key in ("origin", "z"))
    q, w = (np.array(problem["slots"][slot][key]) for key in ("origin", "z"))
    normal = np.cross(z, w)
    return abs(float((q - p) @ normal)) / float(np.linalg.norm(normal))


def off_target(problem: dict[str, Any], tube: int) -> float:
    """How far the nearest length that whole steps give is off a tube's target [mm].

    Infinite where no such path exists; 0 where fewer bends might do as well.
    """
    target, step = problem["tubes"][tube]["length"], problem["angle_step"]
    off = math.inf
    for slot in range(len(problem["slots"])):
        if aside(problem, tube, slot) < 0.1:
            return 0.0
        lengths = two_bend_lengths(problem, tube, slot, step)
        if len(lengths):
            off = min(off, float(np.abs(lengths - target).min()))
    return off
