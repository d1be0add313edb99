"""By how much drawn paths come too near what stands still, and themselves.

Every fourth sample is looked at first: no sample is nearer than its neighbour less what lies
between them, so most of the others need not be looked at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Field
from geomgen.routing.candidates import SPACING, squares
from geomgen.routing.paths import Bools, Floats
from geomgen.routing.problem import Problem, half_turn, spared

Ints = NDArray[np.intp]


def fixed_shortfall(
    problem: Problem,
    edge: int,
    slots: Ints,
    stations: Floats,
    where: Floats,
    last: Bools,
    give: float,
) -> Floats:
    """By how much each path comes too near obstacles, bodies or itself, at the samples (n,) [mm].

    Paths that fall short by more than ``give`` are not looked at further: infinity.

    Args:
        problem: the bundle.
        edge: which tube.
        slots: (n,) into which each path goes.
        stations: of samples (n, count) [mm].
        where: samples (n, count, 3) [mm].
        last: (n, count) whether each is on the last straight.
        give: what may be short [mm].
    """
    tube = problem.edges[edge]
    short = np.zeros(len(where))
    left = np.arange(len(where))
    if len(left) == 0:
        return short
    coarse = _Coarse.of(stations, where)
    for obstacle in (*problem.obstacles, *problem.off):
        need = tube.radius + obstacle.gap
        left = _noted(short, left, coarse.shortfall(obstacle.field, need, left, give), give)
    if problem.bodies:
        by = _bodies_shortfall(problem, edge, slots, stations, last, coarse, left)
        left = _noted(short, left, by, give)
    turn, need = half_turn(problem, tube), 2.0 * tube.radius + problem.gap
    near = left[coarse.meets_itself(turn, need, left)]
    least = self_squares(turn, stations[near], where[near])
    by = np.full(len(where), -np.inf)
    by[near] = need - np.sqrt(least)
    left = _noted(short, left, by[left], give)
    out = np.full(len(where), np.inf)
    out[left] = short[left]
    return out


def _noted(short: Floats, left: Ints, by: Floats, give: float) -> Ints:
    short[left] = np.maximum(short[left], by)
    return left[by <= give]


_EVERY = 4


@dataclass(frozen=True)
class _Coarse:
    """Every fourth sample of some paths, which tell where the others need not be looked at.

    Attributes:
        where: (n, count, 3) all samples.
        points: (n, m, 3) those that were picked.
        picked: (m,) which they are.
        nearest: (count,) which of them stands for each sample.
        away: (count,) how far it is from there at most [mm].
    """

    where: Floats
    points: Floats
    picked: Ints
    nearest: Ints
    away: Floats

    @staticmethod
    def of(stations: Floats, where: Floats) -> _Coarse:
        count = where.shape[1]
        picked = np.arange(_EVERY // 2, count, _EVERY)
        every = np.arange(count)
        nearest = np.minimum(every // _EVERY, len(picked) - 1)
        step = float((stations[:, 1] - stations[:, 0]).max())
        away = np.abs(every - picked[nearest]) * step
        return _Coarse(where, where[:, picked], picked, nearest, away)

    def shortfall(self, field: Field, need: float, rows: Ints, give: float) -> Floats:
        """By how much each row's worst sample lacks ``need`` from a field; -inf: by nothing."""
        points = self.points[rows]
        room = field.distance(points.reshape(-1, 3)).reshape(points.shape[:2]) - need
        by = np.where(room.min(axis=1) < -give, np.inf, -np.inf)
        row, at = self.near(np.where((by < 0.0)[:, None], room, np.inf))
        if len(row):
            begins = np.flatnonzero(np.diff(row, prepend=-1))
            gap = field.distance(self.where[rows[row], at])
            by[row[begins]] = need - np.minimum.reduceat(gap, begins)
        return by

    def near(self, room: Floats) -> tuple[Ints, Ints]:
        """Row and number of samples that may have no room, by what those picked have (n, m)."""
        # No sample is nearer than its neighbour, less what lies between them.
        some = np.flatnonzero((room < self.away.max()).any(axis=1))
        row, at = np.nonzero(room[some][:, self.nearest] < self.away)
        return some[row], at

    def meets_itself(self, turn: float, need: float, rows: Ints) -> Bools:
        """Which rows may come nearer to themselves than ``need``, farther along than ``turn``."""
        points = self.points[rows]
        out = np.zeros(len(rows), dtype=bool)
        step = float(self.away.max()) / (_EVERY // 2) if len(self.away) else 0.0
        # Samples so many apart are at least so many picks apart, less one.
        apart = max(0, math.floor(math.ceil(turn / step) / _EVERY) - 1)
        far = (need + 2.0 * float(self.away.max())) ** 2
        for k in range(apart, points.shape[1]):
            d = points[:, k:] - points[:, : points.shape[1] - k]
            out |= (np.einsum("nkc,nkc->nk", d, d) < far).any(axis=1)
        return out


def _bodies_shortfall(
    problem: Problem,
    edge: int,
    slots: Ints,
    stations: Floats,
    last: Bools,
    coarse: _Coarse,
    rows: Ints,
) -> Floats:
    """By how much each row comes too near the body that it lacks most room from (n,) [mm].

    Not counted is where they are joined, and the last straight beside the collector.

    Returns:
        Minus infinity where a path is not near any.
    """
    tube = problem.edges[edge]
    turn = half_turn(problem, tube)
    axes = [_axis(body.path) for body in problem.bodies]
    centre = np.concatenate([axis for _, axis in axes]).mean(axis=0)
    balls = [_ball(body.path) for body in problem.bodies]
    points = coarse.points[rows]
    d = np.sqrt(np.maximum(squares(points, np.array([middle for middle, _ in balls])), 0.0))
    by = np.full(len(rows), -np.inf)
    for i, body in enumerate(problem.bodies):
        need = tube.radius + body.radius + problem.gap
        row, at = coarse.near(d[:, :, i] - (need + balls[i][1] + 0.1))
        if not len(row):
            continue
        along, axis = axes[i]
        d2 = squares(coarse.where[rows[row], at][None], axis, centre)[0]
        s = stations[rows[row], at]
        if body.edge == edge:
            d2[s[:, None] + (body.path.length - along) <= turn] = np.inf
        else:
            slot, free = slots[rows[row]], last[rows[row], at]
            into = np.isin(slot, [k for k in range(len(problem.slots)) if spared(problem, body, k)])
            d2[free & into] = np.inf
            # Its own stub goes on from it: no nearer than half a turn along the path.
            own = (slot == body.slot) & into
            d2[own[:, None] & ((tube.length - s)[:, None] + along <= turn)] = np.inf
        begins = np.flatnonzero(np.diff(row, prepend=-1))
        least = np.minimum.reduceat(d2.min(axis=1), begins)
        mine = row[begins]
        by[mine] = np.maximum(by[mine], need - np.sqrt(np.maximum(least, 0.0)))
    return by


@lru_cache(maxsize=256)
def _ball(path: Centreline) -> tuple[Floats, float]:
    """Middle and radius of a ball round the points of a body's axis."""
    _, points = _axis(path)
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    return middle, float(np.linalg.norm(points - middle, axis=1).max())


@lru_cache(maxsize=256)
def _axis(path: Centreline) -> tuple[Floats, Floats]:
    """Stations and points of a body's axis."""
    count = max(2, int(np.ceil(path.length / SPACING)) + 1)
    along = np.linspace(0.0, path.length, count)
    return along, points_at(path, along)


def self_squares(turn: float, stations: Floats, where: Floats) -> Floats:
    """Least squared distance of each path from itself, farther along than ``turn`` (n,) [mm2]."""
    n, count, _ = where.shape
    out = np.full(n, np.inf)
    if n == 0:
        return out
    offset = int(np.ceil(turn / float(stations[0, 1] - stations[0, 0])))
    for k in range(offset, count):
        d = where[:, k:] - where[:, : count - k]
        out = np.minimum(out, np.einsum("nkc,nkc->nk", d, d).min(axis=1))
    return out
