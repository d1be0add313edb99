"""A trace cut into as few stretches as one line or arc each can follow."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from geomgen.profiles.arc_chain import Array, Chain, anchored
from geomgen.profiles.loops import turn_between

Indices = npt.NDArray[np.int64]

CORNER = math.radians(20.0)
"""Turns at a joint from here on are corners; below, the joint is made tangent."""


def circle_through(points: Array) -> tuple[float, float, float, float, float]:
    """Circle or line through points: A (x2 + y2) + B x + C y + D = 0, and the farthest off.

    Pratt's fit: of all with B2 + C2 - 4 A D = 1, the one of least squares.
    """
    middle = points.mean(axis=0)
    flat = points - middle
    size = float(np.abs(flat).max()) or 1.0
    x, y = flat[:, 0] / size, flat[:, 1] / size
    design = np.column_stack((x * x + y * y, x, y, np.ones_like(x)))
    inverse = np.array([[0, 0, 0, -0.5], [0, 1.0, 0, 0], [0, 0, 1.0, 0], [-0.5, 0, 0, 0]])
    values, vectors = np.linalg.eig(inverse @ (design.T @ design))
    real = np.where(values.real < -1e-9 * len(x), np.inf, np.abs(values.real))
    a, b, c, d = vectors[:, int(np.argmin(real))].real
    norm = math.sqrt(max(b * b + c * c - 4.0 * a * d, 1e-300))
    a, b, c, d = a / norm, b / norm, c / norm, d / norm
    out = design @ np.array([a, b, c, d])
    off = 2.0 * out / (1.0 + np.sqrt(np.maximum(1.0 + 4.0 * a * out, 0.0)))
    worst = size * float(np.abs(off).max())
    return (
        a / size,
        b - 2.0 * a * float(middle[0]) / size,
        c - 2.0 * a * float(middle[1]) / size,
        size * d - b * float(middle[0]) - c * float(middle[1]) + a / size * float(middle @ middle),
        worst,
    )


def stretches(points: Array, most: float) -> list[int]:
    """Indices at which stretches begin that one arc or line follows within ``most``."""
    n = len(points)
    twice = np.concatenate((points, points, points[:1]))
    reach, end = [], 2
    for i in range(n):
        end = max(end, i + 2)
        while end < i + n and circle_through(twice[i : end + 2])[4] <= most:
            end += 1
        reach.append(end)
    return min((_cover(reach, n, begin) for begin in range(n)), key=lambda found: len(found))


def _cover(reach: list[int], n: int, begin: int) -> list[int]:
    found = [begin]
    at = begin
    while True:
        at += reach[at % n] - at % n
        if at >= begin + n:
            return found
        found.append(at % n)


def first_chain(points: Array, begins: list[int]) -> tuple[Chain, Indices]:
    """A chain to begin with, from stretches, and the piece that each point belongs to."""
    n = len(points)
    begins = begins if len(begins) > 1 else [begins[0], (begins[0] + n // 2) % n]
    owner = np.zeros(n, dtype=np.int64)
    rows = []
    for m, begin in enumerate(begins):
        count = (begins[(m + 1) % len(begins)] - begin) % n
        index = np.arange(begin, begin + count + 1) % n
        owner[index[:-1]] = m
        rows.append(_way_along(points[index]))
    turns = [turn_between(rows[m][1], rows[(m + 1) % len(rows)][0]) for m in range(len(rows))]
    corner = np.array([abs(turn) > CORNER for turn in turns])
    sweeps = np.array([row[2] * row[3] for row in rows])
    return anchored(points[begins], sweeps, np.zeros(len(rows), dtype=bool), corner), owner


def _way_along(points: Array) -> tuple[float, float, float, float]:
    """Heading at both ends, curvature and length of the arc that follows points."""
    a, b, c, _, _ = circle_through(points)
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    headings = []
    for end, step in ((points[0], points[1] - points[0]), (points[-1], points[-1] - points[-2])):
        gx, gy = 2.0 * a * float(end[0]) + b, 2.0 * a * float(end[1]) + c
        ahead = math.copysign(1.0, -gy * float(step[0]) + gx * float(step[1]))
        headings.append(math.atan2(ahead * gx, -ahead * gy))
    middle = len(points) // 2
    u, v = points[middle] - points[0], points[-1] - points[0]
    bend = math.copysign(1.0, float(u[0] * v[1] - u[1] * v[0]))
    return headings[0], headings[1], bend * 2.0 * abs(a), max(length, 1e-3)
