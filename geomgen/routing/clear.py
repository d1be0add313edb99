"""Is a layout proven clear? The same rules as ``prove``, answered yes or no.

Intervals of all tubes are held against one another at once. An interval whose middle is
farther than what must be kept, by its own half-length, is settled; the rest are halved
until all are, or one is found too near. So little is measured but what is nearly touching.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.fields import Field
from geomgen.geometry.tracing import Tracing
from geomgen.routing.paths import Bools, Floats
from geomgen.routing.problem import Problem, half_turn, leads_on, spared, together
from geomgen.routing.prove import free_places, last_straight, with_stub

Ints = NDArray[np.intp]

_FIRST = 12.0
_FINEST = 0.005
"""Half-length below which an interval that is not settled counts as too near [mm]."""

_ROOM = 1e-3
"""Kept on top of every gap, so that no other way of measuring finds it short [mm]."""


def clear(problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]) -> bool:
    """Whether a layout is proven clear of everything, with a tool for every stud."""
    return (
        _obstacles_clear(problem, paths)
        and _bars_clear(problem, paths, slots)
        and all(room >= 0.0 for _, _, room in free_places(problem, paths))
    )


@dataclass(frozen=True)
class _Intervals:
    """Stretches of bars: middle on the common line of stations, half-length, and whose.

    ``free`` tells the stretches from a last straight on, which are exempt from one another.
    """

    middle: Floats
    half: Floats
    owner: Ints
    free: Bools

    def halved(self) -> _Intervals:
        quarter = 0.5 * self.half
        return _Intervals(
            np.concatenate([self.middle - quarter, self.middle + quarter]),
            np.concatenate([quarter, quarter]),
            np.concatenate([self.owner] * 2),
            np.concatenate([self.free] * 2),
        )

    def take(self, rows: Ints | Bools) -> _Intervals:
        return _Intervals(self.middle[rows], self.half[rows], self.owner[rows], self.free[rows])


def _cut(begin: float, end: float, owner: int, free: bool) -> _Intervals:
    count = max(1, int(np.ceil((end - begin) / _FIRST)))
    half = 0.5 * (end - begin) / count
    middle = np.asarray(begin + half * (2.0 * np.arange(count) + 1.0), dtype=np.float64)
    return _Intervals(
        middle,
        np.full(count, half, dtype=np.float64),
        np.full(count, owner),
        np.full(count, free, dtype=bool),
    )


def _joined(parts: list[_Intervals]) -> _Intervals:
    return _Intervals(
        np.concatenate([part.middle for part in parts]),
        np.concatenate([part.half for part in parts]),
        np.concatenate([part.owner for part in parts]),
        np.concatenate([part.free for part in parts]),
    )


def _obstacles_clear(problem: Problem, paths: tuple[Centreline, ...]) -> bool:
    trace = Tracing.of(paths)
    begins = trace.begins
    parts = [_cut(begins[i], begins[i + 1], i, False) for i in range(len(paths))]
    every = _joined(parts)
    where = trace.points(every.middle)
    radius = np.array([edge.radius for edge in problem.edges])
    return all(
        _keeps(trace, every, where, obstacle.field, radius + obstacle.gap + _ROOM)
        for obstacle in (*problem.obstacles, *problem.off)
    )


def _keeps(trace: Tracing, every: _Intervals, where: Floats, field: Field, keep: Floats) -> bool:
    """Whether every tube keeps its distance from a field."""
    gap = field.distance(where) - keep[every.owner]
    while True:
        if bool((gap < 0.0).any()):
            return False
        every = every.take(gap < every.half)
        if len(every.middle) == 0:
            return True
        if float(every.half.max()) < _FINEST:
            return False
        every = every.halved()
        gap = field.distance(trace.points(every.middle)) - keep[every.owner]


def _bars_clear(problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]) -> bool:
    """Every tube from every other, from bodies, and from itself."""
    full = tuple(with_stub(problem, path, slot) for path, slot in zip(paths, slots, strict=True))
    bodies = [body for body in problem.bodies if body.slot is None]
    trace = Tracing.of((*full, *(body.path for body in bodies)))
    leading = {
        i: e
        for i, slot in enumerate(slots)
        for e in range(len(paths))
        if leads_on(problem, slot, e)
    }
    parts = []
    for i, path in enumerate(paths):
        begin, end = trace.begins[i], trace.begins[i + 1]
        held = begin + path.length - last_straight(path)
        slot = begin + path.length if i in leading else end
        parts += [_cut(begin, held, i, False), _cut(held, slot, i, True)]
        parts += [_cut(slot, end, i, True)] if slot < end else []
    n = len(paths)
    parts += [
        _cut(trace.begins[n + k], trace.begins[n + k + 1], n + k, True) for k in range(len(bodies))
    ]
    every = _joined([part for part in parts if part.half[0] > 0.0])
    where = trace.points(every.middle)
    exempt = _exempt(problem, slots)
    radius = np.array([*(edge.radius for edge in problem.edges), *(b.radius for b in bodies)])
    square = (where * where).sum(axis=1)
    d = np.sqrt(np.maximum(square[:, None] + square - 2.0 * (where @ where.T), 0.0))
    d -= radius[every.owner][:, None] + radius[every.owner] + problem.gap + _ROOM
    near = d < every.half[:, None] + every.half + 1e-6
    near &= every.owner[:, None] >= every.owner
    one, two = np.nonzero(near)
    one_by_one = (every.take(one), every.take(two))
    if leading:
        turned = [trace.begins[e] + half_turn(problem, problem.edges[e]) for e in range(n)]
        ends = [trace.begins[i] + path.length for i, path in enumerate(paths)]
        asked = ~_behind(*one_by_one, leading, ends, turned)
        asked &= ~_behind(*one_by_one[::-1], leading, ends, turned)
        one_by_one = (one_by_one[0].take(asked), one_by_one[1].take(asked))
    return _settled(problem, trace, *one_by_one, exempt, radius)


def _behind(
    one: _Intervals,
    two: _Intervals,
    leading: dict[int, int],
    ends: list[float],
    turned: list[float],
) -> Bools:
    """Pairs of a stub and, within half a turn of its start, the tube that its junction sends on.

    Args:
        one: of each pair.
        two: the other of it.
        leading: tube into a junction, and the tube that starts from it.
        ends: where each tube reaches its slot, on the common line of stations [mm].
        turned: where each has run for half a turn [mm].
    """
    out = np.zeros(len(one.middle), dtype=bool)
    for i, e in leading.items():
        stub = (one.owner == i) & (one.middle > ends[i])
        out |= stub & (two.owner == e) & (two.middle + two.half <= turned[e] + 1e-9)
    return out


def _exempt(problem: Problem, slots: tuple[int, ...]) -> NDArray[np.int8]:
    """How each two bars stand: 0 keep clear throughout, 1 not where both are free, 2 not at all.

    Tubes into one collector are free of one another from their last straights on, and of what
    stands behind its slots; a body that a tube starts from is behind it.
    """
    bodies = [body for body in problem.bodies if body.slot is None]
    n, m = len(problem.edges), len(bodies)
    table = np.full((n + m, n + m), 2, dtype=np.int8)
    table[:n, :n] = [[together(problem, one, two) for two in slots] for one in slots]
    for k, body in enumerate(bodies):
        for e in range(n):
            into = spared(problem, body, slots[e])
            table[n + k, e] = table[e, n + k] = 2 if body.edge == e else (1 if into else 0)
    return table


def _settled(
    problem: Problem,
    trace: Tracing,
    one: _Intervals,
    two: _Intervals,
    exempt: NDArray[np.int8],
    radius: Floats,
) -> bool:
    """Whether all pairs of intervals are proven to keep clear."""
    # Of bodies none is asked for: a body is not held against itself.
    turns = np.zeros(len(radius))
    turns[: len(problem.edges)] = [half_turn(problem, edge) for edge in problem.edges]
    while True:
        rule = exempt[one.owner, two.owner]
        asked = (rule == 0) | ((rule == 1) & ~(one.free & two.free))
        reach = one.half + two.half
        same, turn = one.owner == two.owner, turns[one.owner]
        # Within half a turn a tube cannot meet itself.
        asked &= ~same | (np.abs(one.middle - two.middle) + reach > turn)
        one, two, turn = one.take(asked), two.take(asked), turn[asked]
        same, reach = same[asked], reach[asked]
        if len(one.middle) == 0:
            return True
        apart = trace.points(one.middle) - trace.points(two.middle)
        gap = np.sqrt(np.einsum("nc,nc->n", apart, apart))
        gap -= radius[one.owner] + radius[two.owner] + problem.gap + _ROOM
        sure = ~same | (np.abs(one.middle - two.middle) > turn)
        if bool((gap[sure] < 0.0).any()):
            return False
        left = gap < reach
        if not left.any():
            return True
        if float(reach[left].max()) < _FINEST:
            return False
        one, two = one.take(left), two.take(left)
        halves_one, halves_two = one.halved(), two.halved()
        m = len(one.middle)
        rows = np.arange(m)
        i = np.concatenate([rows, rows, rows + m, rows + m])
        j = np.concatenate([rows, rows + m, rows, rows + m])
        one, two = halves_one.take(i), halves_two.take(j)
