"""Which candidates go together: one a tube, each in its own slot, clear or nearly clear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.candidates import sampled, studs_served
from geomgen.routing.paths import Batch, Bools, Floats, measure
from geomgen.routing.pools import Pool
from geomgen.routing.problem import Problem, together
from geomgen.routing.shapes import PRICE

_MOST_STEPS = 60


@dataclass(frozen=True)
class Choice:
    """A set of candidates that go together: slot and candidate of each tube, and its cost."""

    slots: tuple[int, ...]
    rows: tuple[int, ...]
    cost: float


Standing = tuple[Floats, Bools]
"""A tube as it stands: its samples [mm], and which of them are on its last straight."""


def standing(problem: Problem, batches: tuple[Batch, ...]) -> tuple[Standing, ...]:
    """Samples of all tubes of a layout, as they are chosen by."""
    found = []
    for edge, batch in zip(problem.edges, batches, strict=True):
        _, where, last = sampled(edge, batch, measure(batch))
        found.append((where[0], last[0]))
    return tuple(found)


class Tables:
    """Pools, and what pairs of candidates fall short; worked out when first asked for."""

    def __init__(self, problem: Problem, pools: dict[tuple[int, int], Pool]) -> None:
        self.problem, self.pools = problem, pools
        self.costs = {key: pool.costs.copy() for key, pool in pools.items()}
        self._near: dict[tuple[int, int], Nearby] = {}
        self._rows: dict[tuple[int, int, int, int, int], Floats] = {}

    def ban(self, edge: int, slot: int, row: int) -> None:
        """Not to choose a candidate again."""
        self.costs[edge, slot][row] = np.inf

    def beside(
        self, edge: int, slot: int, others: tuple[Standing, ...], but: int | None = None
    ) -> Floats:
        """What each candidate of a tube into a slot costs beside the other tubes as they stand.

        Args:
            edge: which tube.
            slot: which slot.
            others: all tubes; its own place there is not looked at.
            but: another tube that is not looked at either.

        Returns:
            (m,) score, and price of what falls short.
        """
        pool = self.pools[edge, slot]
        costs = pool.costs.copy()
        if len(pool) == 0:
            return costs
        for other, (where, last) in enumerate(others):
            if other not in (edge, but):
                costs += self._priced(edge, slot, other, where, last)
        return costs

    def _priced(self, b: int, slot: int, a: int, points: Floats, last: Bools) -> Floats:
        """What each candidate of tube b falls short of tube a, priced (m,)."""
        if (b, slot) not in self._near:
            self._near[b, slot] = Nearby.of(self.pools[b, slot])
        edges = self.problem.edges
        need = edges[a].radius + edges[b].radius + self.problem.gap
        if self._apart(a, slot):
            last = np.zeros_like(last)
        near = self._near[b, slot].squares(points, last)
        return PRICE * np.maximum(need - np.sqrt(np.maximum(near, 0.0)), 0.0)

    def _apart(self, edge: int, slot: int) -> bool:
        """Whether a tube certainly ends at another collector than that of a slot."""
        slots = self.problem.edges[edge].slots
        return slots is not None and not any(together(self.problem, s, slot) for s in slots)

    def prices(self, a: int, slot_a: int, row: int, b: int, slot_b: int) -> Floats:
        """What one candidate of tube a costs beside each of tube b (m,); infinite: they clash."""
        key = (a, slot_a, row, b, slot_b)
        if key not in self._rows:
            one = self.pools[a, slot_a]
            price = self._priced(b, slot_b, a, one.points[row], one.last[row])
            gives = one.gives[row] + self.pools[b, slot_b].gives
            self._rows[key] = np.where(price <= PRICE * gives, price, np.inf)
        return self._rows[key]


@dataclass(frozen=True)
class Nearby:
    """A pool's samples, made ready to be measured from one path.

    One product of (x, y, z, 1, last) with it gives squared distances less the path's own
    square, and puts pairs that are both on a last straight out of reach.
    """

    ready: NDArray[np.float32]
    centre: Floats
    count: int

    @staticmethod
    def of(pool: Pool) -> Nearby:
        """The samples of all of a pool's candidates."""
        count = pool.points.shape[1]
        flat = pool.points.reshape(-1, 3)
        centre = flat.mean(axis=0)
        q = (flat - centre).astype(np.float32)
        square = (q * q).sum(axis=1, keepdims=True)
        last = np.float32(1e7) * pool.last.reshape(-1, 1).astype(np.float32)
        return Nearby(np.concatenate([-2.0 * q, square, last], axis=1).T.copy(), centre, count)

    def squares(self, points: Floats, last: Bools) -> NDArray[np.float32]:
        """Least squared distance of one path from each of the pool's (m,) [mm2]."""
        p = (points - self.centre).astype(np.float32)
        one = np.ones((len(p), 1), np.float32)
        left = np.concatenate([p, one, last[:, None].astype(np.float32)], axis=1)
        d2 = left @ self.ready
        d2 += (p * p).sum(axis=1, keepdims=True)
        return np.asarray(d2.min(axis=0).reshape(-1, self.count).min(axis=1))


def choose(tables: Tables, slots: tuple[int, ...], below: float) -> Choice | None:
    """The cheapest set of candidates for one assignment, if it costs less than ``below``.

    Branch and bound, tube with the fewest candidates first; it stops after a fixed number
    of steps with the best so far.
    """
    n = len(slots)
    pools = [tables.pools[e, s] for e, s in enumerate(slots)]
    costs = [tables.costs[e, s] for e, s in enumerate(slots)]
    if any(not np.isfinite(cost).any() for cost in costs):
        return None
    sequence = sorted(range(n), key=lambda e: (len(pools[e]), e))
    best: list[Choice | None] = [None]
    bound, steps = [below], [0]

    def descend(depth: int, rows: dict[int, int], left: list[Floats], cost: float) -> None:
        if depth == n:
            free = np.logical_and.reduce([pools[e].free[rows[e]] for e in range(n)])
            if studs_served(tables.problem, free[None])[0]:
                bound[0] = cost
                best[0] = Choice(slots, tuple(rows[e] for e in range(n)), cost)
            return
        e = sequence[depth]
        later = sequence[depth + 1 :]
        rest = sum(float(left[o].min()) for o in later)
        for row in np.argsort(left[e], kind="stable"):
            total = cost + float(left[e][row])
            if total + rest >= bound[0] or steps[0] >= _MOST_STEPS:
                break
            steps[0] += 1
            narrowed = list(left)
            ahead = total
            for o in later:
                narrowed[o] = left[o] + tables.prices(e, slots[e], int(row), o, slots[o])
                ahead += float(narrowed[o].min())
                if ahead >= bound[0]:
                    break
            else:
                descend(depth + 1, {**rows, e: int(row)}, narrowed, total)

    descend(0, {}, costs, 0.0)
    return best[0]
