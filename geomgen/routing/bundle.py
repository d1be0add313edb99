"""Which candidates go together: one a tube, each in its own slot, all clear of one another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.candidates import SLACK, Pool, studs_served
from geomgen.routing.problem import Problem
from geomgen.routing.score import OUT_OF_ORDER, follows_firing_order

Bools = NDArray[np.bool_]
Singles = NDArray[np.float32]


@dataclass(frozen=True)
class Choice:
    """A set of candidates that go together: slot and candidate of each tube."""

    slots: tuple[int, ...]
    rows: tuple[int, ...]
    score: float
    in_order: bool


class Tables:
    """Pairwise tables, each worked out once when first asked for."""

    def __init__(self, problem: Problem, pools: dict[tuple[int, int], Pool]) -> None:
        self.problem, self.pools = problem, pools
        self._tables: dict[tuple[int, int, int, int], Bools] = {}

    def fits(self, a: int, slot_a: int, b: int, slot_b: int) -> Bools:
        """Whether each candidate of tube a goes with each of tube b (m, m)."""
        key = (a, slot_a, b, slot_b)
        if key not in self._tables:
            one, two = self.pools[a, slot_a], self.pools[b, slot_b]
            need = self.problem.edges[a].radius + self.problem.edges[b].radius
            self._tables[key] = pairs_clear(one, two, need + self.problem.gap + SLACK)
        return self._tables[key]


def pairs_clear(one: Pool, two: Pool, need: float) -> Bools:
    """Which pairs of candidates keep ``need`` between centrelines at the samples (m, m).

    Points on both last straights are exempt together: there the array sets the gap.
    """
    near = nearest_squares(one.points, one.last, two.points, two.last)
    return near >= need**2


def nearest_squares(
    a: NDArray[np.float64], last_a: Bools, b: NDArray[np.float64], last_b: Bools
) -> NDArray[np.float32]:
    """Least squared distance of each pair of point rows (n, m), last with last exempt [mm2]."""
    n, count, _ = a.shape
    m, other, _ = b.shape
    if n == 0 or m == 0:
        return np.zeros((n, m), dtype=np.float32)
    centre = a.reshape(-1, 3).mean(axis=0)
    p = (a.reshape(-1, 3) - centre).astype(np.float32)
    q = (b.reshape(-1, 3) - centre).astype(np.float32)
    # One product gives -2 p.q + |q|^2 and pushes last-last pairs out of reach.
    far = np.float32(1e7)
    left = np.concatenate(
        [
            -2.0 * p,
            np.ones((len(p), 1), np.float32),
            far * last_a.reshape(-1, 1).astype(np.float32),
        ],
        axis=1,
    )
    right = np.concatenate(
        [q, (q * q).sum(axis=1, keepdims=True), last_b.reshape(-1, 1).astype(np.float32)], axis=1
    )
    out = np.empty((n, m), dtype=np.float32)
    pp = (p * p).sum(axis=1)
    for i in range(n):
        rows = slice(i * count, (i + 1) * count)
        d2 = left[rows] @ right.T + pp[rows, None]
        out[i] = d2.min(axis=0).reshape(m, other).min(axis=1)
    return out


def orders(problem: Problem) -> tuple[tuple[tuple[int, ...], bool], ...]:
    """Every assignment of slots to tubes, those that follow the firing order first."""
    n = len(problem.edges)
    ranks = tuple(edge.order for edge in problem.edges)
    every = [(slots, follows_firing_order(slots, ranks)) for slots in permutations(range(n))]
    return tuple(sorted(every, key=lambda item: (not item[1], item[0])))


def choose(tables: Tables, slots: tuple[int, ...], in_order: bool, below: float) -> Choice | None:
    """The best set of candidates for one assignment, if it scores less than ``below``."""
    pools = [tables.pools[e, s] for e, s in enumerate(slots)]
    if any(len(pool) == 0 for pool in pools):
        return None
    n = len(pools)
    extra = 0.0 if in_order else OUT_OF_ORDER
    sequence = sorted(range(n), key=lambda e: (len(pools[e]), e))
    least = [float(pools[e].scores.min()) for e in sequence]
    rest = [sum(least[i:]) for i in range(n + 1)]
    best: list[Choice | None] = [None]
    bound = [below - extra]

    def descend(depth: int, rows: dict[int, int], allowed: dict[int, Bools], score: float) -> None:
        if depth == n:
            free = np.logical_and.reduce([pools[e].free[rows[e]] for e in range(n)])
            if studs_served(tables.problem, free[None])[0]:
                bound[0] = score
                picked = tuple(rows[e] for e in range(n))
                best[0] = Choice(slots, picked, score + extra, in_order)
            return
        e = sequence[depth]
        for row in np.flatnonzero(allowed[e]):
            total = score + float(pools[e].scores[row])
            if total + rest[depth + 1] >= bound[0]:
                break  # candidates come best first
            narrowed = dict(allowed)
            for later in sequence[depth + 1 :]:
                fits = tables.fits(e, slots[e], later, slots[later])[row]
                narrowed[later] = allowed[later] & fits
                if not narrowed[later].any():
                    break
            else:
                descend(depth + 1, {**rows, e: int(row)}, narrowed, total)

    everything = {e: np.ones(len(pools[e]), dtype=bool) for e in range(n)}
    descend(0, {}, everything, 0.0)
    return best[0]
