"""Which set of candidates is moved next: one an assignment, cheapest first."""

from __future__ import annotations

from dataclasses import dataclass, field
from heapq import heappop, heappush

import numpy as np

from geomgen.routing.assignments import assignments
from geomgen.routing.bundle import Choice, Tables, choose
from geomgen.routing.paths import Floats
from geomgen.routing.score import OUT_OF_ORDER

_HOPE = 1.0
"""What a descent may gain: sets that cost more than the cheapest by this are not waited with."""


@dataclass(order=True)
class Waiting:
    """A set of candidates that waits for its descent, cheapest first."""

    cost: float
    slots: tuple[int, ...]
    choice: Choice = field(compare=False)
    in_order: bool = field(compare=False)


class Choices:
    """Sets of candidates, chosen only when none that is known can be cheaper."""

    def __init__(self, tables: Tables, least: Floats, tries: int) -> None:
        self._tables = tables
        self._waiting: list[Waiting] = []
        self._ahead = assignments(tables.problem, least)[:tries]
        self._ahead.reverse()
        self._best = np.inf

    def cheapest(self) -> Waiting | None:
        """The cheapest that is left, taken out."""
        while self._ahead and (not self._waiting or self._ahead[-1][0] <= self._waiting[0].cost):
            self._look()
        return heappop(self._waiting) if self._waiting else None

    def look_at_all(self) -> None:
        """Choose for every assignment, before candidates are banned."""
        while self._ahead:
            self._look()

    def again(self, one: Waiting) -> None:
        """Choose anew for an assignment, without what was banned."""
        self._choose(one.slots, one.in_order, np.inf)

    def _look(self) -> None:
        bound, slots, follows = self._ahead.pop()
        if bound > self._best + _HOPE:
            self._ahead.clear()
        else:
            self._best = min(self._best, self._choose(slots, follows, self._best + _HOPE))

    def _choose(self, slots: tuple[int, ...], in_order: bool, below: float) -> float:
        """The cost of the cheapest set for an assignment; infinite when not below ``below``."""
        extra = 0.0 if in_order else OUT_OF_ORDER
        choice = choose(self._tables, slots, below - extra)
        if choice is None:
            return np.inf
        heappush(self._waiting, Waiting(choice.cost + extra, slots, choice, in_order))
        return choice.cost + extra
