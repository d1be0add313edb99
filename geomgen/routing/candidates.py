"""What a drawn path keeps, and by how much it falls short: shelf, obstacles, bodies, studs."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import points_at
from geomgen.routing.paths import (
    ROUNDING,
    SHARPEST,
    Batch,
    Bools,
    Floats,
    Measure,
    points,
    rooms,
)
from geomgen.routing.problem import Edge, Problem, Shelf, half_turn, spared

SPACING = 12.0
"""Distance between samples along a path while searching [mm]; proofs do not use it."""

PER_RADIAN = 60.0
"""A radian too much or too little counts like so many mm."""


def sample_count(length: float) -> int:
    """Samples on a path of that length while choosing; the descent takes more."""
    return int(np.clip(np.ceil(length / SPACING), 24, 56))


def sampled(edge: Edge, batch: Batch, measured: Measure) -> tuple[Floats, Floats, Bools]:
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
    slot: int,
    stations: Floats,
    where: Floats,
    last: Bools,
    give: float,
) -> Floats:
    """By how much each path comes too near obstacles, bodies or itself, at the samples (n,) [mm].

    Paths that fall short by more than ``give`` are not looked at further: infinity.
    """
    n, count, _ = where.shape
    tube = problem.edges[edge]
    short = np.zeros(n)
    left = np.arange(n)
    for obstacle in (*problem.obstacles, *problem.off):
        gap = obstacle.field.distance(where[left].reshape(-1, 3)).reshape(-1, count).min(axis=1)
        left = _noted(short, left, tube.radius + obstacle.gap - gap, give)
    turn = half_turn(problem, tube)
    if problem.bodies:
        by = bodies_shortfall(problem, edge, slot, stations[left], where[left], last[left])
        left = _noted(short, left, by, give)
    least = self_squares(turn, stations[left], where[left])
    left = _noted(short, left, 2.0 * tube.radius + problem.gap - np.sqrt(least), give)
    out = np.full(n, np.inf)
    out[left] = short[left]
    return out


def _noted(short: Floats, left: NDArray[np.intp], by: Floats, give: float) -> NDArray[np.intp]:
    short[left] = np.maximum(short[left], by)
    return left[by <= give]


def bodies_shortfall(
    problem: Problem, edge: int, slot: int, stations: Floats, where: Floats, last: Bools
) -> Floats:
    """By how much each path comes too near the body that it lacks most room from (n,) [mm].

    Not counted is where they are joined, and the last straight beside the collector.
    """
    tube = problem.edges[edge]
    turn = half_turn(problem, tube)
    axes = [_axis(body.path) for body in problem.bodies]
    begins = np.cumsum([0, *(len(along) for along, _ in axes)])
    d2 = squares(where, np.concatenate([points for _, points in axes]))
    for i, body in enumerate(problem.bodies):
        cols, along = slice(begins[i], begins[i + 1]), axes[i][0]
        part = d2[:, :, cols]
        if body.edge == edge:
            part[stations[:, :, None] + (body.path.length - along) <= turn] = np.inf
        elif spared(problem, body, slot):
            part[last] = np.inf
            if body.slot == slot:
                # Its own stub goes on from it: no nearer than half a turn along the path.
                part[(tube.length - stations)[:, :, None] + along <= turn] = np.inf
    least = np.minimum.reduceat(d2.min(axis=1), begins[:-1], axis=1)
    need = np.array([tube.radius + body.radius + problem.gap for body in problem.bodies])
    return np.asarray((need - np.sqrt(np.maximum(least, 0.0))).max(axis=1))


@lru_cache(maxsize=256)
def _axis(path: Centreline) -> tuple[Floats, Floats]:
    """Stations and points of a body's axis."""
    count = max(2, int(np.ceil(path.length / SPACING)) + 1)
    along = np.linspace(0.0, path.length, count)
    return along, points_at(path, along)


def squares(a: Floats, b: Floats) -> NDArray[np.float32]:
    """Squared distances (n, count, m) of points (n, count, 3) from points (m, 3) [mm2].

    In single precision about a common centre: for choosing, not for proving.
    """
    centre = b.mean(axis=0)
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
