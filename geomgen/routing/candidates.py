"""Single tubes of the exact length, clear of everything that does not move.

Free numbers are drawn from a Kronecker sequence: even cover, no seed, the same on every
machine. Each draw is solved for its length, then judged on straights, angles, obstacles
and studs; the best few that differ from one another are kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.distance import points_at
from geomgen.geometry.frames import Frame
from geomgen.routing.paths import SHARPEST, Batch, Measure, measure, points, with_length
from geomgen.routing.problem import Body, Edge, Problem, Shelf
from geomgen.routing.score import path_scores

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SPACING = 12.0
"""Distance between samples along a path while searching [mm]; proofs do not use it."""

SLACK = 0.6
"""What sampling may hide while searching: sagitta of a half-spacing on a tight bend [mm]."""


@dataclass(frozen=True)
class Pool:
    """Candidates of one tube into one slot, best first.

    Attributes:
        batches: one per number of bends; ``which`` is (batch, row) of each candidate.
        scores: (m,).
        points: (m, count, 3) [mm].
        stations: (m, count) [mm].
        last: (m, count) whether a point is on the last straight.
        free: (m, places) which tool places the candidate leaves free.
        batch_of, row_of: where each candidate is.
    """

    batches: tuple[Batch, ...]
    batch_of: NDArray[np.intp]
    row_of: NDArray[np.intp]
    scores: Floats
    points: Floats
    stations: Floats
    last: Bools
    free: Bools

    def __len__(self) -> int:
        return len(self.scores)

    def single(self, index: int) -> Batch:
        """One candidate as a batch of one."""
        row = np.array([self.row_of[index]])
        return self.batches[int(self.batch_of[index])].take(row)


def sample_count(length: float) -> int:
    """Samples on a path of that length."""
    return max(8, int(np.ceil(length / SPACING)))


def kronecker(n: int, dimensions: int, skip: int = 0) -> Floats:
    """Evenly spread points of the unit cube (n, dimensions).

    Source: the additive recurrence with the generalised golden ratio, an open
    quasi-random construction (from memory).
    """
    ratio = 2.0
    for _ in range(60):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1.0))
    steps = ratio ** -(np.arange(dimensions) + 1.0)
    return np.asarray((0.5 + np.outer(np.arange(n) + 1.0 + skip, steps)) % 1.0)


def draw(
    start: Frame, end: Frame, length: float, shelf: Shelf, bends: int, count: int, skip: int
) -> Batch:
    """Paths of ``bends`` bends with free numbers drawn evenly; lengths not yet solved."""
    inner = bends - 2
    u = kronecker(count, 2 + 3 * max(inner, 0) + bends, skip)
    radii = np.array([radius.clr for radius in shelf.radii])
    pick = np.minimum((u[:, -bends:] * len(radii)).astype(int), len(radii) - 1)
    clr = radii[pick]
    reach = 0.4 * length
    first = shelf.straight_at_start + 0.25 * clr[:, 0] + u[:, 0] ** 2 * reach
    last = shelf.straight_at_end + 0.25 * clr[:, -1] + u[:, 1] ** 2 * reach
    corners = np.empty((count, bends, 3))
    corners[:, 0] = np.array(start.origin) + first[:, None] * np.array(start.z)
    corners[:, -1] = np.array(end.origin) - last[:, None] * np.array(end.z)
    for i in range(inner):
        v = u[:, 2 + 3 * i : 5 + 3 * i]
        heading = _sphere(v[:, 0], v[:, 1])
        if i < inner - 1:
            away = 0.25 * clr[:, i] + v[:, 2] * reach
            corners[:, i + 1] = corners[:, i] + away[:, None] * heading
        else:
            middle = 0.5 * (corners[:, i] + corners[:, -1])
            corners[:, i + 1] = middle + heading
    return Batch(start, end, corners, clr)


def sampled(problem: Problem, edge: int, batch: Batch) -> tuple[Measure, Floats, Floats, Bools]:
    """Measures of one tube's paths, and their samples.

    Returns:
        measures, stations (n, count) [mm], points (n, count, 3) [mm], and whether each
        point is on the last straight (n, count).
    """
    measured = measure(batch)
    stations, where = points(batch, measured, sample_count(problem.edges[edge].length))
    last = stations >= (measured.length - measured.straights[:, -1])[:, None]
    return measured, stations, where, last


def _sphere(a: Floats, b: Floats) -> Floats:
    z = 2.0 * a - 1.0
    r = np.sqrt(np.maximum(1.0 - z * z, 0.0))
    return np.stack([r * np.cos(2 * np.pi * b), r * np.sin(2 * np.pi * b), z], axis=1)


def feasible(measured: Measure, batch: Batch, shelf: Shelf) -> Bools:
    """Which paths have straights and angles that the shelf allows."""
    s, a = measured.straights, measured.angles
    most = np.zeros_like(a)
    for radius in shelf.radii:
        most = np.where(batch.radii == radius.clr, min(radius.most, SHARPEST), most)
    return np.asarray(
        (s[:, 0] >= shelf.straight_at_start)
        & (s[:, -1] >= shelf.straight_at_end)
        & (s[:, 1:-1] >= shelf.straight).all(axis=1)
        & (a >= shelf.least_angle).all(axis=1)
        & (a <= most).all(axis=1)
    )


def clear_of_fixed(
    problem: Problem, edge: int, slot: int, stations: Floats, where: Floats, last: Bools
) -> Bools:
    """Which paths keep clear of obstacles, bodies and themselves, at the samples (n,)."""
    n, count, _ = where.shape
    tube = problem.edges[edge]
    left = np.arange(n)
    for obstacle in (*problem.obstacles, *problem.off):
        gap = obstacle.field.distance(where[left].reshape(-1, 3)).reshape(-1, count).min(axis=1)
        left = left[gap >= tube.radius + obstacle.gap + SLACK]
    turn = np.pi * max(radius.clr for radius in problem.shelf.radii)
    for body in problem.bodies:
        own = body.edge == edge
        hit = _hits(
            tube, slot, body, turn, problem.gap, stations[left], where[left], last[left], own
        )
        left = left[~hit]
    left = left[_clear_of_self(tube, turn, problem.gap, stations[left], where[left])]
    ok = np.zeros(n, dtype=bool)
    ok[left] = True
    return ok


def _hits(
    tube: Edge,
    slot: int,
    body: Body,
    turn: float,
    gap: float,
    stations: Floats,
    where: Floats,
    last: Bools,
    own: bool,
) -> Bools:
    """Which paths come too near a body, not counting where they are joined to it (n,)."""
    count = max(2, int(np.ceil(body.path.length / SPACING)) + 1)
    along = np.linspace(0.0, body.path.length, count)
    need = (tube.radius + body.radius + gap + SLACK) ** 2
    near = squares(where, points_at(body.path, along)) < need
    if own:
        near &= stations[:, :, None] + (body.path.length - along) > turn
    elif body.edge is None:
        near &= ~last[:, :, None]
        if body.slot == slot:
            # Its own stub goes on from it: no nearer than half a turn along the path.
            near &= (tube.length - stations)[:, :, None] + along > turn
    return np.asarray(near.any(axis=(1, 2)))


def squares(a: Floats, b: Floats) -> Floats:
    """Squared distances (n, count, m) of points (n, count, 3) from points (m, 3) [mm2]."""
    aa = (a * a).sum(axis=2)
    bb = (b * b).sum(axis=1)
    return np.asarray(aa[:, :, None] + bb - 2.0 * (a @ b.T))


def _clear_of_self(tube: Edge, turn: float, gap: float, stations: Floats, where: Floats) -> Bools:
    """By Schur's theorem a path of bounded curvature cannot meet itself within half a turn."""
    need = (2.0 * tube.radius + gap) ** 2
    step = float(stations[0, 1] - stations[0, 0]) if where.shape[1] > 1 and len(where) else 1.0
    offset = int(np.ceil(turn / step))
    ok = np.ones(len(where), dtype=bool)
    for k in range(offset, where.shape[1]):
        d2 = ((where[:, k:] - where[:, :-k]) ** 2).sum(axis=2)
        ok &= (d2 >= need).all(axis=1)
    return ok


def free_places(problem: Problem, edge: int, where: Floats) -> Bools:
    """Which tool places each path leaves free, at the samples: (n, places)."""
    n, count, _ = where.shape
    radius = problem.edges[edge].radius
    free = np.ones((n, len(problem.places)), dtype=bool)
    if not problem.places or n == 0:
        return free
    flat, row = where.reshape(-1, 3), np.repeat(np.arange(n), count)
    lows = np.array([place.within.low for place in problem.places])
    highs = np.array([place.within.high for place in problem.places])
    reach = radius + SLACK + max(place.gap for place in problem.places)
    near = ((flat > lows.min(axis=0) - reach) & (flat < highs.max(axis=0) + reach)).all(axis=1)
    flat, row = flat[near], row[near]
    for index, place in enumerate(problem.places):
        inside = ((flat > lows[index] - reach) & (flat < highs[index] + reach)).all(axis=1)
        if not inside.any():
            continue
        for field in place.fields:
            gap = field.distance(flat[inside]) - radius
            free[row[inside][gap < place.gap + SLACK], index] = False
    return free


def studs_served(problem: Problem, free: Bools) -> Bools:
    """Whether every stud has a free place, for each row of ``free`` (n,)."""
    ok = np.ones(len(free), dtype=bool)
    for stud in problem.studs:
        mine = [i for i, place in enumerate(problem.places) if place.stud == stud]
        if mine:
            ok &= free[:, mine].any(axis=1)
    return ok


def pool(
    problem: Problem, edge: int, slot: int, draws: tuple[tuple[int, int, int], ...], keep: int
) -> Pool:
    """The best differing candidates of one tube into one slot.

    Args:
        problem: the bundle.
        edge: which tube.
        slot: which slot.
        draws: (bends, count, skip) of each drawing.
        keep: how many to keep.
    """
    tube = problem.edges[edge]
    batches: list[Batch] = []
    for bends, count, skip in draws:
        drawn = draw(
            tube.start, problem.slots[slot], tube.length, problem.shelf, bends, count, skip
        )
        batches.append(_solved(problem, drawn, edge, slot))
    return gather(problem, edge, tuple(batches), keep)


def _solved(problem: Problem, drawn: Batch, edge: int, slot: int) -> Batch:
    """Of a drawing, the paths that have the length and are clear of what does not move."""
    tube = problem.edges[edge]
    solved, done = with_length(drawn, tube.length)
    solved = solved.take(done)
    measured = measure(solved)
    solved = solved.take(feasible(measured, solved, problem.shelf))
    if len(solved) == 0:
        return solved
    _, stations, where, last = sampled(problem, edge, solved)
    return solved.take(clear_of_fixed(problem, edge, slot, stations, where, last))


def gather(problem: Problem, edge: int, batches: tuple[Batch, ...], keep: int) -> Pool:
    """Score, thin out and sample the paths of some batches."""
    parts = []
    for b, batch in enumerate(batches):
        if len(batch) == 0:
            continue
        measured, stations, where, last = sampled(problem, edge, batch)
        scores = path_scores(measured)
        order = np.argsort(scores, kind="stable")[: 12 * keep]
        parts.append((b, order, scores[order], stations[order], where[order], last[order]))
    if not parts:
        count = sample_count(problem.edges[edge].length)
        nothing = np.zeros((0, count))
        return Pool(
            batches,
            np.zeros(0, int),
            np.zeros(0, int),
            np.zeros(0),
            np.zeros((0, count, 3)),
            nothing,
            nothing.astype(bool),
            np.zeros((0, len(problem.places)), bool),
        )
    batch_of = np.concatenate([np.full(len(p[1]), p[0]) for p in parts])
    row_of = np.concatenate([p[1] for p in parts])
    scores, stations, where, last = (np.concatenate([p[i] for p in parts]) for i in (2, 3, 4, 5))
    chosen = _thinned(scores, where, keep * 2)
    free = free_places(problem, edge, where[chosen])
    served = studs_served(problem, free)
    chosen, free = chosen[served][:keep], free[served][:keep]
    return Pool(
        batches,
        batch_of[chosen],
        row_of[chosen],
        scores[chosen],
        where[chosen],
        stations[chosen],
        last[chosen],
        free,
    )


def _thinned(scores: Floats, where: Floats, keep: int, apart: float = 22.0) -> NDArray[np.intp]:
    """Best first, each at least ``apart`` mm from those already taken, at its worst place."""
    order = np.argsort(scores, kind="stable")
    chosen: list[int] = []
    coarse = where[:, ::4]
    for index in order:
        if chosen:
            d2 = ((coarse[chosen] - coarse[index]) ** 2).sum(axis=2).max(axis=1)
            if d2.min() < apart**2:
                continue
        chosen.append(int(index))
        if len(chosen) >= keep:
            break
    return np.array(chosen, dtype=np.intp)
