"""Which tube goes to which slot: assignments in order of promise."""

from __future__ import annotations

from collections.abc import Iterator
from heapq import heappop, heappush

import numpy as np

from geomgen.routing.paths import Floats
from geomgen.routing.problem import Problem
from geomgen.routing.score import OUT_OF_ORDER, follows_firing_order


def allowed(problem: Problem, edge: int) -> tuple[int, ...]:
    """Slots that a tube may take."""
    given = problem.edges[edge].slots
    return tuple(range(len(problem.slots))) if given is None else given


def in_order(problem: Problem, slots: tuple[int, ...]) -> bool:
    """Whether neighbours round every collector follow the firing order."""
    rings = problem.rings or (tuple(range(len(problem.slots))),)
    for ring in rings:
        members = [e for e, slot in enumerate(slots) if slot in ring]
        if len(members) != len(ring):
            continue
        places = tuple(ring.index(slots[e]) for e in members)
        orders = tuple(problem.edges[e].order for e in members)
        if not follows_firing_order(places, orders):
            return False
    return True


_MOST_POPS = 3000


def assignments(problem: Problem, least: Floats) -> list[tuple[float, tuple[int, ...], bool]]:
    """Assignments in order of promise: bound of the cost, slots, whether in firing order.

    All that follow the firing order round a single collector are there, and of the others
    as many as a fixed number of steps of a best-first search finds.

    Args:
        problem: the bundle.
        least: (edges, slots) lower bounds of each tube's cost in each slot; infinite where
            it cannot go.
    """
    found: dict[tuple[int, ...], tuple[float, bool]] = {}
    for slots in _round(problem):
        bound = float(sum(least[e, slot] for e, slot in enumerate(slots)))
        if np.isfinite(bound):
            found[slots] = (bound, True)
    for bound, slots in _cheapest(problem, least):
        if slots not in found:
            follows = in_order(problem, slots)
            found[slots] = (bound + (0.0 if follows else OUT_OF_ORDER), follows)
    return sorted((bound, slots, follows) for slots, (bound, follows) in found.items())


def _round(problem: Problem) -> Iterator[tuple[int, ...]]:
    """Assignments that follow the firing order, either way round, when there is one ring."""
    n = len(problem.edges)
    rings = problem.rings or (tuple(range(len(problem.slots))),)
    if len(rings) != 1 or len(rings[0]) != n:
        return
    ranked = sorted(range(n), key=lambda e: problem.edges[e].order)
    for way in (1, -1):
        for first in range(n):
            slots = [0] * n
            for i, e in enumerate(ranked):
                slots[e] = rings[0][(first + way * i) % n]
            yield tuple(slots)


def _cheapest(problem: Problem, least: Floats) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Complete assignments, the lowest bound first, as far as the steps reach."""
    n = len(problem.edges)
    rest = np.append(least.min(axis=1)[::-1].cumsum()[::-1], 0.0)
    if not np.isfinite(rest[0]):
        return
    queue: list[tuple[float, int, tuple[int, ...]]] = [(float(rest[0]), 0, ())]
    for _ in range(_MOST_POPS):
        if not queue:
            return
        bound, _, slots = heappop(queue)
        e = len(slots)
        if e == n:
            yield bound, slots
            continue
        for slot in allowed(problem, e):
            cost = bound - float(rest[e]) + float(least[e, slot]) + float(rest[e + 1])
            if slot not in slots and np.isfinite(cost):
                heappush(queue, (cost, -(e + 1), (*slots, slot)))
