"""Pools of single tubes, clear or nearly clear of what does not move.

Shapes that the shelf allows are judged, best score first, on obstacles, bodies and studs, until
enough that differ from one another are kept. What falls short by a little is kept at a price:
the descent afterwards moves it clear.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.candidates import (
    free_places,
    sample_count,
    sampled,
    studs_served,
)
from geomgen.routing.nearness import fixed_shortfall
from geomgen.routing.paths import Batch, Bools, Floats, Lines, measure
from geomgen.routing.problem import Edge, Problem
from geomgen.routing.shapes import PRICE, Shapes, yielding

_CHUNK = 96
_APART = 22.0  # candidates differ by this somewhere [mm], or by _APART_PART of their length
_APART_PART = 0.03


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


@dataclass
class _Filling:
    """A pool as it fills, chunk by chunk."""

    drawn: Shapes
    yields: Floats
    begin: int
    rows: list[NDArray[np.intp]]
    parts: list[tuple[Floats, Floats, Bools, Bools, Floats]]
    kept: Floats

    def next(self) -> NDArray[np.intp]:
        """The next chunk of shapes."""
        begin, self.begin = self.begin, min(self.begin + _CHUNK, len(self.drawn))
        return np.arange(begin, self.begin)

    def full(self, keep: int) -> bool:
        """Whether there is enough, or nothing more."""
        return self.begin >= len(self.drawn) or sum(len(r) for r in self.rows) >= keep


def pools(
    problem: Problem, edge: int, drawn: dict[int, Shapes], keep: int, give: float
) -> dict[int, Pool]:
    """The best differing candidates of one tube into each slot.

    Args:
        problem: the bundle.
        edge: which tube.
        drawn: what the shelf allows, by slot.
        keep: how many to keep for each.
        give: what a candidate may fall short of a gap [mm].
    """
    count = sample_count(problem.edges[edge].length)
    fillings = {
        slot: _Filling(
            mine,
            np.array([yielding(batch) for batch in mine.batches]),
            0,
            [],
            [],
            np.zeros((0, count, 3)),
        )
        for slot, mine in drawn.items()
    }
    while open_ := {slot: f for slot, f in fillings.items() if not f.full(keep)}:
        _fill(problem, edge, open_, give)
    return {slot: _pool(problem, f, count, keep) for slot, f in fillings.items()}


def _fill(problem: Problem, edge: int, fillings: dict[int, _Filling], give: float) -> None:
    """Judge one more chunk of each slot's shapes, all slots together."""
    tube = problem.edges[edge]
    apart = min(_APART, _APART_PART * tube.length)
    chunks = [filling.next() for filling in fillings.values()]
    bounds = np.cumsum([0, *(len(chunk) for chunk in chunks)])
    every = [(f.drawn, chunk) for f, chunk in zip(fillings.values(), chunks, strict=True)]
    stations, where, last = _samples(tube, every)
    slots = np.repeat(list(fillings), np.diff(bounds))
    short = fixed_shortfall(problem, edge, slots, stations, where, last, 1.5 * give)
    for filling, chunk, begin in zip(fillings.values(), chunks, bounds[:-1], strict=True):
        gives = give * filling.yields[filling.drawn.which[chunk, 0]]
        left = np.flatnonzero(short[begin : begin + len(chunk)] <= gives)
        left = left[new(where[begin + left], filling.kept, apart)]
        free = free_places(problem, edge, where[begin + left], give)
        served = studs_served(problem, free)
        left, free = left[served], free[served]
        at = begin + left
        costs = filling.drawn.scores[chunk[left]] + PRICE * short[at]
        filling.rows.append(chunk[left])
        filling.parts.append((costs, where[at], last[at], free, gives[left]))
        filling.kept = np.concatenate([filling.kept, where[at]])


def _pool(problem: Problem, filling: _Filling, count: int, keep: int) -> Pool:
    """The best of what was kept."""
    if not filling.rows:
        nothing = np.zeros((0, count), dtype=bool)
        free = np.zeros((0, len(problem.places)), dtype=bool)
        none, zero = np.zeros(0, dtype=np.intp), np.zeros(0)
        return Pool(filling.drawn, none, zero, np.zeros((0, count, 3)), nothing, free, zero)
    chosen = np.concatenate(filling.rows)
    costs, where, last, free, gives = (
        np.concatenate([part[i] for part in filling.parts]) for i in range(5)
    )
    order = np.argsort(costs, kind="stable")[:keep]
    return Pool(
        filling.drawn,
        chosen[order],
        costs[order],
        where[order],
        last[order],
        free[order],
        gives[order],
    )


def _samples(
    tube: Edge, chunks: list[tuple[Shapes, NDArray[np.intp]]]
) -> tuple[Floats, Floats, Bools]:
    """Samples of some shapes of each slot, in their order; those of as many bends together."""
    count = sample_count(tube.length)
    alike: dict[int, list[tuple[NDArray[np.intp], Batch]]] = {}
    begin = 0
    for drawn, chunk in chunks:
        which = drawn.which[chunk]
        for b, batch in enumerate(drawn.batches):
            mine = np.flatnonzero(which[:, 0] == b)
            if len(mine):
                some = (begin + mine, batch.take(which[mine, 1]))
                alike.setdefault(batch.radii.shape[1], []).append(some)
        begin += len(chunk)
    stations, where = np.empty((begin, count)), np.empty((begin, count, 3))
    last = np.empty((begin, count), dtype=bool)
    for group in alike.values():
        rows = np.concatenate([mine for mine, _ in group])
        nodes = np.concatenate([batch.nodes for _, batch in group])
        lines = Lines(nodes, np.concatenate([batch.radii for _, batch in group]))
        stations[rows], where[rows], last[rows] = sampled(tube, lines, measure(lines))
    return stations, where, last


def new(where: Floats, kept: Floats, apart: float) -> NDArray[np.intp]:
    """Rows at least so far apart, at their worst place, from those kept and from one another."""
    coarse = np.concatenate([kept[:, ::4], where[:, ::4]])
    alike = _alike(coarse, apart)
    first = len(kept)
    taken = np.arange(len(coarse)) < first
    for row in range(first, len(coarse)):
        taken[row] = not (alike[row] & taken)[:row].any()
    return np.flatnonzero(taken[first:])


def _alike(points: Floats, apart: float) -> Bools:
    """Which paths (n, count, 3) are nearer to which than ``apart`` everywhere: (n, n)."""
    n, count, _ = points.shape
    middle = points[:, count // 2]
    away = middle[:, None] - middle[None, :]
    i, j = np.nonzero(np.tril((away * away).sum(axis=2) < apart**2, -1))
    side = points[:, count // 4]
    near = ((side[i] - side[j]) ** 2).sum(axis=1) < apart**2
    i, j = i[near], j[near]
    alike = np.zeros((n, n), dtype=bool)
    alike[i, j] = ((points[i] - points[j]) ** 2).sum(axis=2).max(axis=1) < apart**2
    return alike
