"""A point from tape measurements: its distances from three or more known points.

Distances from points in one plane leave two answers, one on each side of that plane, so
the side must be said. Solved by least squares on the distances (Gauss-Newton with
Levenberg's damping), from the point that the differences of the squared distances give.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Vec

Side = Literal["out", "in", "face"]

MOST_TAPES = 6
"""Most distances for one point."""

_LEAST_SPREAD = 5.0  # of the known points square to their own line [mm]
_STEPS = 80


class TapesDoNotFix(ValueError):
    """The tapes do not fix a point; the text says why."""


@dataclass(frozen=True)
class TapeFix:
    """A point by tape.

    Attributes:
        point: where it is [mm].
        residuals: computed less measured distance, tape by tape [mm].
        error: how far the point may be off when every tape may be off by the stated
            error, either way: the worst of all combinations [mm].
    """

    point: Vec
    residuals: tuple[float, ...]
    error: float


def fix(
    known: Sequence[Vec],
    distances: Sequence[float],
    side: Side,
    tape_error: float = 0.0,
    outward: Vec = (0.0, 0.0, 1.0),
) -> TapeFix:
    """The point with these distances from known points.

    Args:
        known: three to six points, not in one line [mm].
        distances: from each of them [mm].
        side: of the plane through the known points: ``out`` on the outward side, ``in``
            on the other, ``face`` in it.
        tape_error: what each distance may be off, either way [mm].
        outward: which way is out.

    Raises:
        TapesDoNotFix: fewer than three tapes, more than six, or points in one line.
    """
    if not 3 <= len(known) <= MOST_TAPES or len(distances) != len(known):
        raise TapesDoNotFix(f"{len(known)} tapes, where 3 to {MOST_TAPES} are wanted")
    points = np.array(known, dtype=float)
    measured = np.array(distances, dtype=float)
    axes = _axes(points, np.array(outward, dtype=float))
    free = axes[:2] if side == "face" else axes
    first = _start(points, measured, axes, side)
    best = _refined(points, measured, first, free)
    residuals = np.linalg.norm(best - points, axis=1) - measured
    error = 0.0
    if tape_error > 0.0:
        for signs in product((-1.0, 1.0), repeat=len(known)):
            off = np.maximum(measured + tape_error * np.array(signs), 0.0)
            start = _start(points, off, axes, side)
            moved = _refined(points, off, start, free)
            error = max(error, float(np.linalg.norm(moved - best)))
    x, y, z = (float(v) for v in best)
    return TapeFix((x, y, z), tuple(float(r) for r in residuals), error)


def _axes(points: NDArray[np.float64], outward: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two axes in the plane that fits the known points best, and its outward normal."""
    centred = points - points.mean(axis=0)
    _, spread, axes = np.linalg.svd(centred, full_matrices=True)
    if spread[1] < _LEAST_SPREAD:
        raise TapesDoNotFix("the known points lie in one line")
    if float(axes[2] @ outward) < 0.0:
        axes[2] = -axes[2]
    return np.asarray(axes, dtype=float)


def _start(
    points: NDArray[np.float64],
    measured: NDArray[np.float64],
    axes: NDArray[np.float64],
    side: Side,
) -> NDArray[np.float64]:
    """From the differences of |p - s|^2 = d^2, which are linear in p along the plane."""
    centre = points.mean(axis=0)
    flat = (points - centre) @ axes[:2].T
    squares = np.sum((points - centre) ** 2, axis=1) - measured**2
    along = np.linalg.lstsq(2.0 * flat, squares - squares.mean(), rcond=None)[0]
    height = float(np.mean(measured**2 - np.sum((flat - along) ** 2, axis=1)))
    rise = {"out": 1.0, "in": -1.0, "face": 0.0}[side] * math.sqrt(max(height, 1.0))
    return np.asarray(centre + along @ axes[:2] + rise * axes[2], dtype=float)


def _refined(
    points: NDArray[np.float64],
    measured: NDArray[np.float64],
    start: NDArray[np.float64],
    free: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Least squares on the distances, moving along the ``free`` axes only."""
    at, damping = start, 1e-6
    cost = _cost(points, measured, at)
    for _ in range(_STEPS):
        away = at - points
        far = np.maximum(np.linalg.norm(away, axis=1), 1e-9)
        slopes = (away / far[:, None]) @ free.T
        gap = far - measured
        normal = slopes.T @ slopes
        normal += damping * np.eye(len(free))
        move = -np.linalg.solve(normal, slopes.T @ gap) @ free
        trial = at + move
        trial_cost = _cost(points, measured, trial)
        if trial_cost <= cost:
            at, cost, damping = trial, trial_cost, max(damping / 10.0, 1e-12)
            if float(np.linalg.norm(move)) < 1e-10:
                break
        else:
            damping *= 10.0
            if damping > 1e12:
                break
    return at


def _cost(
    points: NDArray[np.float64], measured: NDArray[np.float64], at: NDArray[np.float64]
) -> float:
    return float(np.sum((np.linalg.norm(at - points, axis=1) - measured) ** 2))
