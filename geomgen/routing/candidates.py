"""What a drawn path keeps, and by how much it falls short: shelf, obstacles, bodies, studs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Field
from geomgen.routing.paths import (
    ROUNDING,
    SHARPEST,
    Batch,
    Bools,
    Floats,
    Lines,
    Measure,
    points,
    rooms,
)
from geomgen.routing.problem import Edge, Problem, Shelf, half_turn

SPACING = 12.0
"""Distance between samples along a path while searching [mm]; proofs do not use it."""

PER_RADIAN = 60.0
"""A radian too much or too little counts like so many mm."""


def sample_count(length: float) -> int:
    """Samples on a path of that length while choosing; the descent takes more."""
    return int(np.clip(np.ceil(length / SPACING), 24, 56))


def sampled(edge: Edge, batch: Batch | Lines, measured: Measure) -> tuple[Floats, Floats, Bools]:
    """Samples of one tube's paths.

    Returns:
        stations (n, count) [mm], points (n, count, 3) [mm], and whether each point is on
        the last straight (n, count).
    """
    stations, where = points(batch, measured, sample_count(edge.length))
    last = stations >= (measured.length - measured.straights[:, -1])[:, None]
    return stations, where, last


def most_angles(batch: Batch, shelf: Shelf) -> Floats:
    """Largest angle that each bend may have (n, k) [rad]; a kept bend any."""
    most = np.zeros_like(batch.radii)
    for radius in shelf.radii:
        most = np.where(batch.radii == radius.clr, min(radius.most, SHARPEST), most)
    return np.asarray(np.where(batch.form.kept, np.pi, most))


def shape_shortfall(measured: Measure, batch: Batch, shelf: Shelf) -> Floats:
    """By how much each path's worst straight or angle falls short of the shelf (n,) [mm].

    A radian counts like ``PER_RADIAN`` mm; negative when all are kept.
    """
    least = np.where(batch.form.kept, 0.0, shelf.least_angle)
    # A straight of none, between bends that touch, may come out as less by rounding.
    worst = (batch.form.least - measured.straights).max(axis=1) - ROUNDING
    if batch.radii.shape[1]:
        over = np.maximum(least - measured.angles, measured.angles - most_angles(batch, shelf))
        worst = np.maximum(worst, PER_RADIAN * over.max(axis=1))
    if batch.form.rooms:
        worst = np.maximum(worst, (-rooms(batch, measured)).max(axis=1) - ROUNDING)
    return np.asarray(worst)


def feasible(measured: Measure, batch: Batch, shelf: Shelf) -> Bools:
    """Which paths have straights and angles that the shelf allows."""
    return np.asarray(shape_shortfall(measured, batch, shelf) <= 0.0)


def fixed_shortfall(
    problem: Problem,
    edge: int,
    slots: NDArray[np.intp],
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
        stations, where, last: see ``sampled``.
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


def _noted(short: Floats, left: NDArray[np.intp], by: Floats, give: float) -> NDArray[np.intp]:
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
    picked: NDArray[np.intp]
    nearest: NDArray[np.intp]
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

    def shortfall(self, field: Field, need: float, rows: NDArray[np.intp], give: float) -> Floats:
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

    def near(self, room: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Row and number of samples that may have no room, by what those picked have (n, m)."""
        # No sample is nearer than its neighbour, less what lies between them.
        some = np.flatnonzero((room < self.away.max()).any(axis=1))
        row, at = np.nonzero(room[some][:, self.nearest] < self.away)
        return some[row], at

    def meets_itself(self, turn: float, need: float, rows: NDArray[np.intp]) -> Bools:
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
    slots: NDArray[np.intp],
    stations: Floats,
    last: Bools,
    coarse: _Coarse,
    rows: NDArray[np.intp],
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
            into = np.isin(slot, body.takes) if body.edge is not None else np.True_
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


def squares(a: Floats, b: Floats, centre: Floats | None = None) -> NDArray[np.float32]:
    """Squared distances (n, count, m) of points (n, count, 3) from points (m, 3) [mm2].

    In single precision about a common centre: for choosing, not for proving.
    """
    centre = b.mean(axis=0) if centre is None else centre
    p, q = (a - centre).astype(np.float32), (b - centre).astype(np.float32)
    out = p.reshape(-1, 3) @ (-2.0 * q.T)
    out += np.einsum("...c,...c->...", p, p).reshape(-1, 1)
    out += np.einsum("mc,mc->m", q, q)
    return np.asarray(out.reshape(*a.shape[:2], len(b)))


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


def free_places(problem: Problem, edge: int, where: Floats, give: float = 0.0) -> Bools:
    """Which tool places each path leaves free, at the samples: (n, places)."""
    n, count, _ = where.shape
    radius = problem.edges[edge].radius - give
    free = np.ones((n, len(problem.places)), dtype=bool)
    if not problem.places or n == 0:
        return free
    flat, row = where.reshape(-1, 3), np.repeat(np.arange(n), count)
    lows = np.array([place.within.low for place in problem.places])
    highs = np.array([place.within.high for place in problem.places])
    reach = radius + max(place.gap for place in problem.places)
    near = ((flat > lows.min(axis=0) - reach) & (flat < highs.max(axis=0) + reach)).all(axis=1)
    flat, row = flat[near], row[near]
    for index, place in enumerate(problem.places):
        inside = ((flat > lows[index] - reach) & (flat < highs[index] + reach)).all(axis=1)
        if not inside.any():
            continue
        for field in place.fields:
            gap = field.distance(flat[inside]) - radius
            free[row[inside][gap < place.gap], index] = False
    return free


def studs_served(problem: Problem, free: Bools) -> Bools:
    """Whether every stud has a free place, for each row of ``free`` (n,)."""
    ok = np.ones(len(free), dtype=bool)
    for stud in problem.studs:
        mine = [i for i, place in enumerate(problem.places) if place.stud == stud]
        if mine:
            ok &= free[:, mine].any(axis=1)
    return ok
