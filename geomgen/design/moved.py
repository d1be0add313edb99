"""What moved between two layouts of the same runners."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Bend, Centreline
from geomgen.geometry.distance import points_at
from geomgen.geometry.frames import Vec

Floats = NDArray[np.float64]

SPACING = 0.25
"""Between the points of a path that are looked at: a displacement is at most half of it short
of the true one [mm]."""

STILL = 1e-6
"""What moved less than this has not moved [mm]."""


@dataclass(frozen=True)
class Layout:
    """Paths and slots of all runners, by cylinder, and their score."""

    paths: tuple[Centreline, ...]
    slots: tuple[int, ...]
    score: float


@dataclass(frozen=True)
class RunnerMove:
    """One runner before and after.

    Attributes:
        name: of the tube, ``runner 1``.
        slot, bends, turn, length: of each; before and after [count, rad, mm of bent tube].
        farthest: largest distance from a point of either centreline to the other [mm].
        where: that point.
        was: whether the point is on the old centreline.
    """

    name: str
    slot: tuple[int, int]
    bends: tuple[int, int]
    turn: tuple[float, float]
    length: tuple[float, float]
    farthest: float
    where: Vec
    was: bool

    @property
    def still(self) -> bool:
        """Whether the runner stands as it was."""
        return self.farthest <= STILL and self.slot[0] == self.slot[1]


def moves(before: Layout, after: Layout, names: tuple[str, ...]) -> tuple[RunnerMove, ...]:
    """What moved, runner by runner."""
    return tuple(
        _move(name, (a, b), slots)
        for name, a, b, slots in zip(
            names,
            before.paths,
            after.paths,
            zip(before.slots, after.slots, strict=True),
            strict=True,
        )
    )


def _move(name: str, paths: tuple[Centreline, Centreline], slots: tuple[int, int]) -> RunnerMove:
    old, new = paths
    away, at = farthest(new, old)
    back, was_at = farthest(old, new)
    was = back > away + STILL
    return RunnerMove(
        name,
        slots,
        (len(old.bends), len(new.bends)),
        (old.total_angle, new.total_angle),
        (old.length, new.length),
        max(away, back),
        was_at if was else at,
        was,
    )


def farthest(path: Centreline, other: Centreline) -> tuple[float, Vec]:
    """The point of a path that is farthest from another path, and how far that is [mm]."""
    count = max(2, math.ceil(path.length / SPACING) + 1)
    points = points_at(path, np.linspace(0.0, path.length, count))
    away = to_path(points, other)
    k = int(np.argmax(away))
    return float(away[k]), (float(points[k, 0]), float(points[k, 1]), float(points[k, 2]))


def to_path(points: Floats, path: Centreline) -> Floats:
    """Distance of each point (n, 3) to a path, exact (n,) [mm]."""
    best = np.full(len(points), np.inf)
    for frame, piece in zip(path.frames, path.pieces, strict=False):
        axes = frame.rolled(piece.roll) if isinstance(piece, Bend) else frame
        local = (points - np.array(axes.origin)) @ np.array([axes.x, axes.y, axes.z]).T
        away = _to_arc(local, piece) if isinstance(piece, Bend) else _to_line(local, piece.length)
        best = np.minimum(best, away)
    return best


def _to_line(local: Floats, length: float) -> Floats:
    """To the stretch of z from 0 to ``length``."""
    beyond = local[:, 2] - np.clip(local[:, 2], 0.0, length)
    return np.asarray(np.sqrt(local[:, 0] ** 2 + local[:, 1] ** 2 + beyond**2))


def _to_arc(local: Floats, bend: Bend) -> Floats:
    """To the arc that leaves the origin along z and bends towards x."""
    towards = bend.radius - local[:, 0]
    # Counted from the arc's middle, what lies beyond an end is nearest to that end.
    middle = bend.angle / 2.0
    turned = np.arctan2(local[:, 2], towards) - middle
    turned = np.arctan2(np.sin(turned), np.cos(turned))
    angle = middle + np.clip(turned, -middle, middle)
    nearest = bend.radius * np.stack(
        [1.0 - np.cos(angle), np.zeros_like(angle), np.sin(angle)], axis=1
    )
    return np.asarray(np.sqrt(((local - nearest) ** 2).sum(axis=1)))
