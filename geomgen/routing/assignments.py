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


def assignments(problem: Problem, least: Floats) -> Iterator[tuple[tuple[int, ...], float, bool]]:
    """Every assignment, the one with the lowest bound first.

    Args:
        problem: the bundle.
        least: (edges, slots) lower bounds of each tube's cost in each slot; infinite where
            it cannot go.

    Yields:
        slots, bound of the cost, and whether the firing order is followed.
    """
    n = len(problem.edges)
    rest = np.zeros(n + 1)
    rest[:n] = least.min(axis=1)[::-1].cumsum()[::-1]
    # Best first over partial assignments; a complete one is weighed with its order.
    queue: list[tuple[float, int, tuple[int, ...], bool]] = []
    if np.isfinite(rest[0]):
        heappush(queue, (float(rest[0]), -0, (), False))
    while queue:
        bound, _, slots, complete = heappop(queue)
        if complete:
            yield slots, bound, in_order(problem, slots)
            continue
        e = len(slots)
        for slot in allowed(problem, e):
            if slot in slots or not np.isfinite(least[e, slot]):
                continue
            more = (*slots, slot)
            cost = bound - float(rest[e]) + float(least[e, slot]) + float(rest[e + 1])
            done = e + 1 == n
            if done and not in_order(problem, more):
                cost += OUT_OF_ORDER
            if np.isfinite(cost):
                heappush(queue, (cost, -(e + 1), more, done))
