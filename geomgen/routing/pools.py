"""Pools of single tubes of the exact length, clear or nearly clear of what does not move.

Each draw is solved for its length and judged on straights and angles; then, best score
first, on obstacles, bodies and studs, until enough that differ from one another are kept.
What falls short by a little is kept at a price: the descent afterwards moves it clear.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.candidates import (
    fixed_shortfall,
    free_places,
    sample_count,
    sampled,
    shape_shortfall,
    studs_served,
)
from geomgen.routing.draws import Plan, draw, form_of, plans
from geomgen.routing.paths import Batch, Bools, Floats, measure, with_length
from geomgen.routing.problem import Edge, Problem, Shelf, shelf_of
from geomgen.routing.score import path_scores
from geomgen.routing.stepped import stepped_two_bends
from geomgen.routing.two_bends import two_bends

PRICE = 0.1
"""What a mm short of a gap counts against a right angle of turn while choosing."""

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
    shelf = shelf_of(problem, tube)
    most = max(bends for bends, _, _ in draws)
    if shelf.most_bends is not None:
        most = min(most, shelf.most_bends)
    least = min(bends for bends, _, _ in draws)
    counts = {bends: (count, skip) for bends, count, skip in draws}
    batches: list[Batch] = []
    which: list[tuple[int, int]] = []
    scores: list[Floats] = []
    held = sum(len(part.bends) for part in tube.kept)
    for plan in plans(tube, problem.slots[slot], shelf, most + held):
        count, skip = counts.get(max(least, min(plan.bends, most)), (0, 0))
        if not count:
            continue
        batch = _drawn(plan, tube, shelf, count, skip)
        if batch is None:
            continue
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


def _drawn(plan: Plan, tube: Edge, shelf: Shelf, count: int, skip: int) -> Batch | None:
    """Paths of a plan that have the tube's length; None when its angles cannot be whole."""
    pair = plan.bends == 2 and len(plan.runs) == 1
    form = form_of(plan, shelf)
    free = len(form.moves)
    # Where nothing is free the angles are what they are, and are judged at the end.
    if shelf.angle_step is not None and 0 < free < 1 + int((~form.kept).sum()):
        run = plan.runs[0]
        whole = (
            stepped_two_bends(run.start, run.end, tube.length, shelf, shelf.angle_step)
            if pair
            else None
        )
        return None if whole is None else Batch(form, *whole)
    if pair:
        run = plan.runs[0]
        found = two_bends(run.start, run.end, tube.length, shelf, plan.at_start, count)
        return Batch(form, *found)
    batch = draw(plan, tube.length, shelf, _OVERDRAWN * count, _OVERDRAWN * skip)
    return with_length(batch, tube.length, count)


def pool(problem: Problem, edge: int, slot: int, drawn: Shapes, keep: int, give: float) -> Pool:
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
    parts: list[tuple[Floats, Floats, Bools, Bools, Floats]] = []
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
        return Pool(drawn, none, np.zeros(0), np.zeros((0, count, 3)), nothing, free, np.zeros(0))
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


def _chunk(tube: Edge, drawn: Shapes, chunk: NDArray[np.intp]) -> tuple[Floats, Floats, Bools]:
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
