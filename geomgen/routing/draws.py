"""Paths drawn evenly over everything that the shelf and the kept parts leave free.

Between two poses that stand still, a run of bends has its first corner on the one's axis
and its last on the other's. A tube is one such run, or several with kept parts between.
Numbers come from a Kronecker sequence: even cover, no seed, the same on every machine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline, corners_of
from geomgen.geometry.frames import Frame, Vec, add, dot, norm, scale, sub
from geomgen.routing.paths import Batch, Floats, Form, Room
from geomgen.routing.problem import Edge, Shelf

_ON_AXIS = 1e-6


@dataclass(frozen=True)
class Run:
    """Bends between two poses that stand still.

    Attributes:
        start, end: the poses.
        bends: how many; 0 when the axes are one, 1 when they meet, else 2 or more.
        meet: where the axes meet, for one bend.
    """

    start: Frame
    end: Frame
    bends: int
    meet: Vec | None = None


@dataclass(frozen=True)
class Plan:
    """How a tube is made up.

    Attributes:
        runs: of bends between poses that stand still.
        kept: the bends that stand after each run: corner [mm] and radius [mm].
        at_start: least straight at its start [mm].
    """

    runs: tuple[Run, ...]
    kept: tuple[tuple[tuple[Vec, float], ...], ...]
    at_start: float

    @property
    def bends(self) -> int:
        """Of the whole tube."""
        return sum(run.bends for run in self.runs) + sum(len(kept) for kept in self.kept)


def plans(edge: Edge, slot: Frame, shelf: Shelf, most: int) -> tuple[Plan, ...]:
    """Every way to share at most ``most`` bends out, fewest first."""
    at_start = shelf.straight_at_start if edge.at_start is None else edge.at_start
    starts = [edge.start, *(part.end for part in edge.kept)]
    ends = [*(part.start for part in edge.kept), slot]
    kept = tuple(_corners(part) for part in edge.kept)
    choices = [_runs(a, b, most) for a, b in zip(starts, ends, strict=True)]
    made = [Plan(tuple(runs), (*kept, ()), at_start) for runs in product(*choices)]
    return tuple(sorted((p for p in made if p.bends <= most), key=lambda p: p.bends))


def _corners(part: Centreline) -> tuple[tuple[Vec, float], ...]:
    return tuple(zip(corners_of(part), (bend.radius for bend in part.bends), strict=True))


def _runs(start: Frame, end: Frame, most: int) -> list[Run]:
    away = sub(end.origin, start.origin)
    if norm(away) < _ON_AXIS and dot(start.z, end.z) > 1.0 - 1e-12:
        return [Run(start, end, 0)]
    along = dot(away, start.z)
    aside = norm(sub(away, scale(start.z, along)))
    if aside < _ON_AXIS and along > 0.0 and dot(start.z, end.z) > 1.0 - 1e-12:
        return [Run(start, end, 0), *(Run(start, end, k) for k in range(3, most + 1))]
    out = [Run(start, end, k) for k in range(2, most + 1)]
    meet = _meeting(start, end)
    return out if meet is None else [Run(start, end, 1, meet), *out]


def _meeting(start: Frame, end: Frame) -> Vec | None:
    """Where the axis ahead of ``start`` meets the axis behind ``end``."""
    cosine = dot(start.z, end.z)
    if abs(cosine) > 1.0 - 1e-9:
        return None
    away = sub(end.origin, start.origin)
    p, q = dot(away, start.z), dot(away, end.z)
    s = (p - cosine * q) / (1.0 - cosine * cosine)
    t = (q - cosine * p) / (1.0 - cosine * cosine)
    one, two = add(start.origin, scale(start.z, s)), sub(end.origin, scale(end.z, t))
    return one if s > 0.0 and t > 0.0 and norm(sub(one, two)) < _ON_AXIS else None


def kronecker(n: int, dimensions: int, skip: int = 0) -> Floats:
    """Evenly spread points of the unit cube (n, dimensions).

    Source: the additive recurrence with the generalised golden ratio, an open
    quasi-random construction (from memory).
    """
    return _kronecker(n, dimensions, skip).copy()


@lru_cache(maxsize=64)
def _kronecker(n: int, dimensions: int, skip: int) -> Floats:
    ratio = 2.0
    for _ in range(60):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1.0))
    steps = ratio ** -(np.arange(dimensions) + 1.0)
    return np.asarray((0.5 + np.outer(np.arange(n) + 1.0 + skip, steps)) % 1.0)


def draw(plan: Plan, length: float, shelf: Shelf, count: int, skip: int) -> Batch:
    """Paths of a plan with free numbers drawn evenly; lengths not yet solved.

    Args:
        plan: how many bends where.
        length: about how long the whole is [mm].
        shelf: what bends there are.
        count: how many to draw; one when nothing is free.
        skip: how many of the sequence were drawn before.
    """
    form = form_of(plan, shelf)
    if len(form.moves) == 0:
        count = 1
    free = sum(_numbers(run) for run in plan.runs)
    u = kronecker(count, max(free, 1), skip)
    corners, radii, used = [], [], 0
    for run, kept in zip(plan.runs, plan.kept, strict=True):
        mine = u[:, used : used + _numbers(run)]
        used += _numbers(run)
        made, clr = _drawn(run, length, shelf, mine)
        corners.append(made[0])
        radii.append(clr)
        if kept:
            where = np.array([corner for corner, _ in kept])
            corners.append(np.broadcast_to(where, (count, len(kept), 3)))
            radii.append(np.broadcast_to(np.array([r for _, r in kept]), (count, len(kept))))
    return Batch(form, np.concatenate(corners, axis=1), np.concatenate(radii, axis=1))


def _numbers(run: Run) -> int:
    """Numbers that a run is drawn from, a radius at each bend included."""
    return run.bends if run.bends < 2 else 2 + 3 * (run.bends - 2) + run.bends


def draw_each(
    start: Frame,
    ends: tuple[Frame, ...],
    bends: int,
    length: float,
    shelf: Shelf,
    count: int,
    skip: int,
) -> tuple[Floats, Floats]:
    """Paths of one run of three bends or more to each of some ends, by the same numbers.

    Returns:
        Corners (ends, count, bends, 3) and radii (count, bends) [mm].
    """
    run = Run(start, ends[0], bends)
    return _drawn(run, length, shelf, kronecker(count, _numbers(run), skip), ends)


def _drawn(
    run: Run, length: float, shelf: Shelf, u: Floats, ends: tuple[Frame, ...] = ()
) -> tuple[Floats, Floats]:
    """Corners (ends, count, bends, 3) and radii (count, bends) of a run [mm]."""
    count, bends = len(u), run.bends
    ends = ends or (run.end,)
    stock = np.array([radius.clr for radius in shelf.radii])
    if bends == 0:
        return np.zeros((1, count, 0, 3)), np.zeros((count, 0))
    clr = stock[np.minimum((u[:, -bends:] * len(stock)).astype(int), len(stock) - 1)]
    if run.meet is not None:
        return np.broadcast_to(np.array(run.meet), (1, count, 1, 3)), clr
    reach = 0.4 * length
    small = math.tan(0.5 * shelf.least_angle)
    first = shelf.straight_at_start + small * clr[:, 0]
    last = shelf.straight_at_end + small * clr[:, -1]
    first += 0.25 * clr[:, 0] + u[:, 0] ** 2 * reach
    last += 0.25 * clr[:, -1] + u[:, 1] ** 2 * reach
    corners = np.empty((len(ends), count, bends, 3))
    corners[:, :, 0] = np.array(run.start.origin) + first[:, None] * np.array(run.start.z)
    for e, end in enumerate(ends):
        corners[e, :, -1] = np.array(end.origin) - last[:, None] * np.array(end.z)
    for i in range(bends - 2):
        v = u[:, 2 + 3 * i : 5 + 3 * i]
        if i < bends - 3:
            away = 0.25 * clr[:, i] + v[:, 2] * reach
            corners[:, :, i + 1] = corners[:, :, i] + away[:, None] * _sphere(v[:, 0], v[:, 1])
        else:
            # Where the length is solved: it starts on the line and is pulled out sideways.
            line = corners[:, :, -1] - corners[:, :, i]
            corners[:, :, i + 1] = corners[:, :, i] + v[:, :1] * line + _aside(line, v[:, 1])
    return corners, clr


def form_of(plan: Plan, shelf: Shelf) -> Form:
    """Which corners of a plan's paths may move, and how."""
    moves: list[NDArray[np.float64]] = []
    stretch: int | None = None
    rail: Frame | None = None
    k, at = plan.bends, 0
    still = np.zeros(k, dtype=bool)
    rooms: list[Room] = []
    for index, (run, kept) in enumerate(zip(plan.runs, plan.kept, strict=True)):
        if run.bends >= 2:
            moves.append(_move(k, at, run.start.z))
            moves.append(_move(k, at + run.bends - 1, scale(run.end.z, -1.0)))
            for i in range(at + 1, at + run.bends - 1):
                moves += [_move(k, i, axis) for axis in ((1, 0, 0), (0, 1, 0), (0, 0, 1))]
            stretch = at + run.bends - (2 if run.bends > 2 else 1)
            rail = None if run.bends > 2 else run.end
        if run.bends and index > 0:
            rooms.append(Room(at, run.start.origin, scale(run.start.z, -1.0)))
        at += run.bends
        if run.bends and index + 1 < len(plan.runs):
            rooms.append(Room(at - 1, run.end.origin, run.end.z))
        still[at : at + len(kept)] = True
        at += len(kept)
    least = np.full(k + 1, shelf.straight)
    least[0], least[-1] = plan.at_start, max(shelf.straight_at_end, plan.at_start if k == 0 else 0)
    first, last = plan.runs[0].start, plan.runs[-1].end
    shape = np.array(moves).reshape(len(moves), k, 3)
    return Form(first, last, shape, stretch, rail, least, still, tuple(rooms))


def _move(k: int, corner: int, way: Vec | tuple[int, int, int]) -> Floats:
    out = np.zeros((k, 3))
    out[corner] = way
    return out


def _aside(line: Floats, turn: Floats) -> Floats:
    """Unit vectors square to lines (..., n, 3), ``turn`` (n,) of a whole turn about them."""
    least = np.eye(3)[np.abs(line).argmin(axis=-1)]
    x = np.cross(line, least)
    x /= np.maximum(np.linalg.norm(x, axis=-1), 1e-12)[..., None]
    y = np.cross(line, x)
    y /= np.maximum(np.linalg.norm(y, axis=-1), 1e-12)[..., None]
    angle = (2.0 * np.pi * turn)[:, None]
    return np.asarray(np.cos(angle) * x + np.sin(angle) * y)


def _sphere(a: Floats, b: Floats) -> Floats:
    z = 2.0 * a - 1.0
    r = np.sqrt(np.maximum(1.0 - z * z, 0.0))
    return np.stack([r * np.cos(2 * np.pi * b), r * np.sin(2 * np.pi * b), z], axis=1)
