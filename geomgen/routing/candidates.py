"""Single tubes of the exact length, clear or nearly clear of everything that does not move.

Each draw is solved for its length and judged on straights and angles; then, best score
first, on obstacles, bodies and studs, until enough that differ from one another are kept.
What falls short by a little is kept at a price: the descent afterwards moves it clear.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import points_at
from geomgen.routing.draws import Plan, draw, form_of, plans
from geomgen.routing.paths import (
    SHARPEST,
    Batch,
    Bools,
    Floats,
    Measure,
    measure,
    points,
    rooms,
    with_length,
)
from geomgen.routing.problem import Body, Edge, Problem, Shelf
from geomgen.routing.score import path_scores
from geomgen.routing.two_bends import two_bends

SPACING = 12.0
"""Distance between samples along a path while searching [mm]; proofs do not use it."""

PRICE = 0.1
"""What a mm short of a gap counts against a right angle of turn while choosing."""

PER_RADIAN = 60.0
"""A radian too much or too little counts like so many mm."""

_CHUNK = 96
_OVERDRAWN = 8  # most draws are too long before anything is pulled out; they cost little
_APART = 22.0  # candidates differ by this somewhere [mm], or by _APART_PART of their length
_APART_PART = 0.03


@dataclass(frozen=True)
class Shapes:
    """Paths of one tube into one slot that the shelf allows, best score first.

    Attributes:
        batches: one per plan; ``which`` is (batch, row) of each path.
        which: (m, 2).
        scores: (m,) with the price of what falls short.
    """

    batches: tuple[Batch, ...]
    which: NDArray[np.intp]
    scores: Floats

    def __len__(self) -> int:
        return len(self.scores)

    def single(self, index: int) -> Batch:
        """One of them as a batch of one."""
        batch, row = self.which[index]
        return self.batches[int(batch)].take(np.array([row]))


@dataclass(frozen=True)
class Pool:
    """Candidates of one tube into one slot, cheapest first.

    Attributes:
        shapes: where they are from; ``rows`` says which.
        rows: (m,).
        costs: (m,) score and price of what falls short.
        points: (m, count, 3) [mm].
        last: (m, count) whether a point is on the last straight.
        free: (m, places) which tool places the candidate leaves free.
        gives: (m,) what each may fall short [mm].
    """

    shapes: Shapes
    rows: NDArray[np.intp]
    costs: Floats
    points: Floats
    last: Bools
    free: Bools
    gives: Floats

    def __len__(self) -> int:
        return len(self.rows)

    def single(self, index: int) -> Batch:
        """One candidate as a batch of one."""
        return self.shapes.single(int(self.rows[index]))


def sample_count(length: float) -> int:
    """Samples on a path of that length while choosing; the descent takes more."""
    return int(np.clip(np.ceil(length / SPACING), 24, 56))


def sampled(edge: Edge, batch: Batch, measured: Measure) -> tuple[Floats, Floats, Bools]:
    """Samples of one tube's paths: stations (n, count) [mm], points (n, count, 3) [mm], and
    whether each point is on the last straight (n, count)."""
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
    worst = (batch.form.least - measured.straights).max(axis=1)
    if batch.radii.shape[1]:
        over = np.maximum(least - measured.angles, measured.angles - most_angles(batch, shelf))
        worst = np.maximum(worst, PER_RADIAN * over.max(axis=1))
    if batch.form.rooms:
        worst = np.maximum(worst, (-rooms(batch, measured)).max(axis=1) - 1e-9)
    return np.asarray(worst)


def feasible(measured: Measure, batch: Batch, shelf: Shelf) -> Bools:
    """Which paths have straights and angles that the shelf allows."""
    return np.asarray(shape_shortfall(measured, batch, shelf) <= 0.0)


def shapes(
    problem: Problem,
    edge: int,
    slot: int,
    draws: tuple[tuple[int, int, int], ...],
    give: float,
) -> Shapes:
    """Everything drawn for one tube into one slot that the shelf allows.

    Args:
        problem: the bundle.
        edge: which tube.
        slot: which slot.
        draws: (bends, count, skip) of each drawing; a plan draws by its number of bends.
        give: what a path may fall short of the shelf [mm].
    """
    tube = problem.edges[edge]
    shelf = problem.shelf
    most = max(bends for bends, _, _ in draws)
    if shelf.most_bends is not None:
        most = min(most, shelf.most_bends)
    least = min(bends for bends, _, _ in draws)
    counts = {bends: (count, skip) for bends, count, skip in draws}
    batches, which, scores = [], [], []
    held = sum(len(part.bends) for part in tube.kept)
    for plan in plans(tube, problem.slots[slot], shelf, most + held):
        count, skip = counts.get(max(least, min(plan.bends, most)), (0, 0))
        if not count:
            continue
        batch = _drawn(plan, tube, shelf, count, skip)
        measured = measure(batch)
        short = shape_shortfall(measured, batch, shelf)
        ok = short <= give * yielding(batch)
        batch, measured = batch.take(ok), measured.take(ok)
        which += [(len(batches), row) for row in range(len(batch))]
        scores.append(path_scores(measured) + PRICE * np.maximum(short[ok], 0.0))
        batches.append(batch)
    every = np.concatenate(scores) if scores else np.zeros(0)
    order = np.argsort(every, kind="stable")
    return Shapes(
        tuple(batches), np.array(which, dtype=np.intp).reshape(-1, 2)[order], every[order]
    )


def _drawn(plan: Plan, tube: Edge, shelf: Shelf, count: int, skip: int) -> Batch:
    """Paths of a plan that have the tube's length."""
    if plan.bends == 2 and len(plan.runs) == 1:
        run = plan.runs[0]
        found = two_bends(run.start, run.end, tube.length, shelf, plan.at_start, count)
        return Batch(form_of(plan, shelf), *found)
    batch = draw(plan, tube.length, shelf, _OVERDRAWN * count, _OVERDRAWN * skip)
    return with_length(batch, tube.length, count)


def pool(
    problem: Problem, edge: int, slot: int, drawn: Shapes, keep: int, give: float
) -> Pool:
    """The best differing candidates of one tube into one slot.

    Args:
        problem: the bundle.
        edge: which tube.
        slot: which slot.
        drawn: what the shelf allows.
        keep: how many to keep.
        give: what a candidate may fall short of a gap [mm].
    """
    tube = problem.edges[edge]
    rows: list[NDArray[np.intp]] = []
    parts: list[tuple[Floats, Floats, Bools, Bools]] = []
    kept = np.zeros((0, 0, 3))
    yields = np.array([yielding(batch) for batch in drawn.batches])
    for begin in range(0, len(drawn), _CHUNK):
        chunk = np.arange(begin, min(begin + _CHUNK, len(drawn)))
        stations, where, last = _chunk(tube, drawn, chunk)
        short = fixed_shortfall(problem, edge, slot, stations, where, last, 1.5 * give)
        gives = give * yields[drawn.which[chunk, 0]]
        left = np.flatnonzero(short <= gives)
        left = left[_new(where[left], kept, min(_APART, _APART_PART * tube.length))]
        free = free_places(problem, edge, where[left], give)
        served = studs_served(problem, free)
        left, free = left[served], free[served]
        costs = drawn.scores[chunk[left]] + PRICE * short[left]
        rows.append(chunk[left])
        parts.append((costs, where[left], last[left], free, gives[left]))
        kept = np.concatenate([kept.reshape(-1, where.shape[1], 3), where[left]])
        if sum(len(r) for r in rows) >= keep:
            break
    if not rows:
        count = sample_count(tube.length)
        nothing = np.zeros((0, count), dtype=bool)
        free = np.zeros((0, len(problem.places)), dtype=bool)
        none = np.zeros(0, dtype=np.intp)
        return Pool(
            drawn, none, np.zeros(0), np.zeros((0, count, 3)), nothing, free, np.zeros(0)
        )
    chosen = np.concatenate(rows)
    costs, where, last, free, gives = (np.concatenate([p[i] for p in parts]) for i in range(5))
    order = np.argsort(costs, kind="stable")[:keep]
    return Pool(
        drawn,
        chosen[order],
        costs[order],
        where[order],
        last[order],
        free[order],
        gives[order],
    )


def yielding(batch: Batch) -> float:
    """How much of what is given a path can make good, by what is free in it.

    Two bends leave one number free, and its whole range is drawn; three leave four.
    """
    return float(np.clip((len(batch.form.moves) - 1) / 4.0, 0.2, 1.5))


def _chunk(
    tube: Edge, drawn: Shapes, chunk: NDArray[np.intp]
) -> tuple[Floats, Floats, Bools]:
    """Samples of some of the shapes, in their order."""
    count = sample_count(tube.length)
    n = len(chunk)
    stations, where = np.empty((n, count)), np.empty((n, count, 3))
    last = np.empty((n, count), dtype=bool)
    for b, batch in enumerate(drawn.batches):
        mine = drawn.which[chunk, 0] == b
        if mine.any():
            some = batch.take(drawn.which[chunk[mine], 1])
            stations[mine], where[mine], last[mine] = sampled(tube, some, measure(some))
    return stations, where, last


def _new(where: Floats, kept: Floats, apart: float) -> NDArray[np.intp]:
    """Rows at least so far apart, at their worst place, from those kept and from one another."""
    coarse, known = where[:, ::4], kept[:, ::4]
    chosen: list[int] = []
    size = coarse.shape[1]
    taken = np.empty((len(known) + len(coarse), size, 3))
    taken[: len(known)] = known.reshape(len(known), size, 3)
    count = len(known)
    for row in range(len(coarse)):
        if count:
            d2 = ((taken[:count] - coarse[row]) ** 2).sum(axis=2).max(axis=1)
            if d2.min() < apart**2:
                continue
        taken[count] = coarse[row]
        count += 1
        chosen.append(row)
    return np.array(chosen, dtype=np.intp)


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
    turn = half_turn(problem)
    for body in problem.bodies:
        least = body_squares(problem, edge, slot, body, stations[left], where[left], last[left])
        need = tube.radius + body.radius + problem.gap
        left = _noted(short, left, need - np.sqrt(least), give)
    least = self_squares(turn, stations[left], where[left])
    left = _noted(short, left, 2.0 * tube.radius + problem.gap - np.sqrt(least), give)
    out = np.full(n, np.inf)
    out[left] = short[left]
    return out


def _noted(short: Floats, left: NDArray[np.intp], by: Floats, give: float) -> NDArray[np.intp]:
    short[left] = np.maximum(short[left], by)
    return left[by <= give]


def half_turn(problem: Problem) -> float:
    """Length along a path within which it cannot meet itself: half a turn [mm].

    By Schur's theorem a path of bounded curvature cannot come back sooner.
    """
    return float(np.pi * max(radius.clr for radius in problem.shelf.radii))


def body_squares(
    problem: Problem,
    edge: int,
    slot: int,
    body: Body,
    stations: Floats,
    where: Floats,
    last: Bools,
) -> Floats:
    """Least squared distance of each path from a body's axis (n,) [mm2].

    Not counted is where they are joined, and the last straight beside the collector.
    """
    along, axis = _axis(body.path)
    d2 = squares(where, axis)
    turn = half_turn(problem)
    if body.edge == edge:
        apart = stations[:, :, None] + (body.path.length - along)
        d2 = np.where(apart > turn, d2, np.inf)
    elif body.edge is None:
        d2 = np.where(last[:, :, None], np.inf, d2)
        if body.slot == slot:
            # Its own stub goes on from it: no nearer than half a turn along the path.
            apart = (problem.edges[edge].length - stations)[:, :, None] + along
            d2 = np.where(apart > turn, d2, np.inf)
    return np.asarray(np.maximum(d2.min(axis=(1, 2)), 0.0))


@lru_cache(maxsize=256)
def _axis(path: Centreline) -> tuple[Floats, Floats]:
    """Stations and points of a body's axis."""
    count = max(2, int(np.ceil(path.length / SPACING)) + 1)
    along = np.linspace(0.0, path.length, count)
    return along, points_at(path, along)


def squares(a: Floats, b: Floats) -> Floats:
    """Squared distances (n, count, m) of points (n, count, 3) from points (m, 3) [mm2]."""
    aa = (a * a).sum(axis=2)
    bb = (b * b).sum(axis=1)
    return np.asarray(aa[:, :, None] + bb - 2.0 * (a @ b.T))


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
