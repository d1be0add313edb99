"""One round: draw candidates, choose sets of them, move each set clear, prove the best."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geomgen.geometry.centreline import Centreline
from geomgen.routing.assignments import allowed, in_order
from geomgen.routing.bundle import Tables, standing
from geomgen.routing.candidates import feasible
from geomgen.routing.choices import Choices, Waiting
from geomgen.routing.clear import clear
from geomgen.routing.contacts import SHAPE_ROOM
from geomgen.routing.descent import Settled, descend
from geomgen.routing.paths import LENGTH_SLIP, Batch, Floats, exact_shape, measure
from geomgen.routing.pools import Pool, pools
from geomgen.routing.problem import Problem, Routed, Shelf, shelf_of
from geomgen.routing.score import OUT_OF_ORDER, layout_score, path_scores
from geomgen.routing.shapes import shapes
from geomgen.routing.stations import aside, astray, price, priced
from geomgen.routing.whole import bound_angles, whole_angles

Progress = Callable[[str, int, int], None]
"""Told what is being done, how far it is, and how far there is to go."""


def quiet(_what: str, _done: int, _all: int) -> None:
    """No progress."""


@dataclass(frozen=True)
class Effort:
    """How much one round may do.

    Attributes:
        draws: (bends, count, skip) of each drawing.
        more: further ones for a tube that finds few paths.
        keep: candidates a tube and slot.
        give: what a candidate may fall short of a limit [mm]; the descent makes it good.
        tries: assignments looked at.
        descents: sets of candidates moved together.
        steps: of one descent.
        repairs: times that a tube is replaced in a set that does not come clear.
    """

    draws: tuple[tuple[int, int, int], ...]
    more: tuple[tuple[int, int, int], ...]
    keep: int
    give: float
    tries: int
    descents: int
    steps: int
    repairs: int


EFFORTS = (
    Effort(
        ((2, 40, 0), (3, 160, 0)), ((3, 640, 160), (4, 640, 0), (5, 320, 0)), 24, 8.0, 40, 6, 14, 3
    ),
    Effort(((2, 56, 0), (3, 384, 160), (4, 256, 0)), ((5, 512, 0),), 48, 12.0, 80, 8, 20, 6),
    Effort(((2, 80, 0), (3, 1024, 544), (4, 1536, 256), (5, 1024, 0)), (), 80, 16.0, 160, 8, 30, 6),
)
"""Round by round, until one finds a layout."""

_SCARCE = 6
"""Candidates a slot, on average, below which a tube is drawn with more bends."""

_KEPT = SHAPE_ROOM
"""What a layout may fall short of its limits, room and slack included [mm]."""

_NEARLY = 1.0
"""A layout that falls short by less than this when its steps run out gets as many again [mm]."""

_ENOUGH = 2
"""Layouts proven before the best of them is taken."""

_AS_GOOD = 0.2
"""By how much more than a set that came clear another may cost, and still end up better."""

_WHOLE = 1e-7
"""How far an angle may be off a whole step, by rounding [rad]."""

_WORTH = 0.2
"""What exchanging a tube must promise to be tried."""

_SLACKS = (0.08, 0.3, 1.0)
"""Added to every gap while descending, for what its samples hide [mm]; more when unproven."""


@dataclass(frozen=True)
class Round:
    """What one round found.

    Attributes:
        routed: the best layout, proven; None when there is none.
        tried: paths drawn.
        poor: names of tubes that found no path of their length at all.
        stuck: the set of tubes that fell short least, when none came clear.
        slots: of that set.
    """

    routed: Routed | None
    tried: int
    poor: tuple[str, ...] = ()
    stuck: Settled | None = None
    slots: tuple[int, ...] = ()


def attempt(problem: Problem, effort: Effort, progress: Progress = quiet) -> Round:
    """One round of a search."""
    n = len(problem.edges)
    found: dict[tuple[int, int], Pool] = {}
    least = np.full((n, len(problem.slots)), np.inf)
    count = 0
    for edge in range(n):
        progress("drawing runners", edge, n)
        mine = allowed(problem, edge)
        for draws in (effort.draws, (*effort.draws, *effort.more)):
            drawn = shapes(problem, edge, mine, draws, effort.give)
            for slot, pool in pools(problem, edge, drawn, effort.keep, effort.give).items():
                found[edge, slot] = pool
                if len(pool):
                    least[edge, slot] = pool.costs[0]
            count += len(mine) * sum(number for _, number, _ in draws)
            if sum(len(found[edge, slot]) for slot in mine) >= _SCARCE * len(mine):
                break  # else it needs more bends than usual
    progress("fitting them together", n, n)
    poor = tuple(
        edge.name for i, edge in enumerate(problem.edges) if not np.isfinite(least[i]).any()
    )
    search = _Search(problem, Tables(problem, found), effort)
    best = search.best(least) if not poor else None
    return Round(best, count, poor, search.stuck, search.slots)


@dataclass(frozen=True)
class _Found:
    """A proven layout, and the tubes that it came from."""

    routed: Routed
    settled: Settled


_Exchange = tuple[tuple[int, int, int], ...]
"""Tubes to be replaced: tube, slot and candidate of each."""


class _Search:
    """The descents of one round, and the nearest that those which failed came."""

    def __init__(self, problem: Problem, tables: Tables, effort: Effort) -> None:
        self.problem, self.tables, self.effort = problem, tables, effort
        self.stuck: Settled | None = None
        self.slots: tuple[int, ...] = ()

    def best(self, least: Floats) -> Routed | None:
        """The best of a few sets of candidates, moved together and proven."""
        choices = Choices(self.tables, least, self.effort.tries)
        best: _Found | None = None
        count, most = 0, np.inf
        for _ in range(self.effort.descents):
            one = choices.cheapest() if count < _ENOUGH else None
            if one is None or one.cost > most:
                break
            found, blamed = self._finished(one)
            if found is not None:
                if best is None or found.routed.score < best.routed.score:
                    best = found
                blamed = astray(self.problem, found.routed.paths)
                if not blamed:
                    count += 1
                    most = min(most, one.cost + _AS_GOOD)
            if not blamed:
                continue
            choices.look_at_all()
            for edge in blamed:
                self.tables.ban(edge, one.slots[edge], one.choice.rows[edge])
            choices.again(one)
        return None if best is None else self._improved(best).routed

    def _improved(self, best: _Found) -> _Found:
        """The best layout with tubes replaced, or two swapped, for as long as that helps."""
        tried: set[_Exchange] = set()
        for _ in range(self.effort.repairs):
            exchange = self._exchange(best, tried)
            if exchange is None:
                break
            tried.add(exchange)
            slots, batches = list(best.routed.slots), list(best.settled.batches)
            for edge, slot, row in exchange:
                slots[edge], batches[edge] = slot, self.tables.pools[edge, slot].single(row)
            found = self._settled(tuple(slots), tuple(batches))
            if isinstance(found, _Found) and found.routed.score < best.routed.score - 1e-6:
                best = found
        return best

    def _exchange(self, best: _Found, tried: set[_Exchange]) -> _Exchange | None:
        """What promises most: another path for one tube, or two tubes in each other's slots."""
        slots, batches = best.routed.slots, best.settled.batches
        own = [self._cost(edge, batch) for edge, batch in enumerate(batches)]
        others = standing(self.problem, batches)
        ranked: list[tuple[float, _Exchange]] = []

        def cheapest(edge: int, slot: int, but: int | None) -> tuple[float, int] | None:
            if slot not in allowed(self.problem, edge):
                return None
            costs = self.tables.beside(edge, slot, others, but)
            if len(costs) == 0 or not np.isfinite(costs).any():
                return None
            row = int(np.argmin(costs))
            return float(costs[row]), row

        for a in range(len(slots)):
            alone = cheapest(a, slots[a], None)
            if alone is not None:
                ranked.append((alone[0] - own[a], ((a, slots[a], alone[1]),)))
            for b in range(a):
                one, two = cheapest(a, slots[b], b), cheapest(b, slots[a], a)
                if one is not None and two is not None:
                    swapped = list(slots)
                    swapped[a], swapped[b] = slots[b], slots[a]
                    follows = in_order(self.problem, tuple(swapped))
                    gain = one[0] + two[0] - own[a] - own[b]
                    gain += OUT_OF_ORDER * (float(best.routed.in_order) - float(follows))
                    exchange = ((a, slots[b], one[1]), (b, slots[a], two[1]))
                    ranked.append((gain, exchange))
        ranked = [item for item in ranked if item[0] < -_WORTH and item[1] not in tried]
        return min(ranked)[1] if ranked else None

    def _cost(self, edge: int, batch: Batch) -> float:
        """Of a tube as it stands."""
        measured, tube = measure(batch), self.problem.edges[edge]
        cost = float(path_scores(measured)[0])
        if not tube.stations:
            return cost
        return cost + priced(tube, aside(self.problem, edge, batch.radii, measured)[0])

    def _finished(self, one: Waiting) -> tuple[_Found | None, tuple[int, ...]]:
        """A choice moved clear and to a better score, and proven; or the tubes to blame.

        A tube that keeps the others from getting clear is replaced by its candidate that
        goes best with them as they then are, a few times over.
        """
        batches = tuple(
            self.tables.pools[edge, slot].single(row)
            for edge, (slot, row) in enumerate(zip(one.slots, one.choice.rows, strict=True))
        )
        used = {(edge, row) for edge, row in enumerate(one.choice.rows)}
        blamed: tuple[int, ...] = ()
        for repair in range(self.effort.repairs + 1):
            found = self._settled(one.slots, batches, apart=repair > 0)
            if repair == 0 and self.stuck is None and isinstance(found, Settled):
                # The first that is stuck may come clear yet; of more it would cost too much.
                found = self._settled(one.slots, found.batches, apart=True)
            if isinstance(found, _Found):
                return found, ()
            if found.short <= _KEPT:
                return None, found.blamed
            if self.stuck is None or found.short < self.stuck.short:
                self.stuck, self.slots = found, one.slots
            blamed = blamed or found.blamed
            other = self._replaced(one.slots, found, used)
            if other is None:
                break
            batches = other
        return None, blamed

    def _settled(
        self, slots: tuple[int, ...], batches: tuple[Batch, ...], apart: bool = False
    ) -> _Found | Settled:
        """A set of tubes moved clear and proven; or as it stands when it is not."""
        settled = self._descended(slots, batches, _SLACKS[0], apart)
        if _KEPT < settled.short < _NEARLY and settled.steps == self.effort.steps:
            settled = self._descended(slots, settled.batches, _SLACKS[0], apart)
        if settled.short > _KEPT:
            return settled
        return self._proven(slots, settled) or settled

    def _descended(
        self,
        slots: tuple[int, ...],
        batches: tuple[Batch, ...],
        slack: float,
        apart: bool = False,
    ) -> Settled:
        """One descent, in which angles that cannot come to whole ones again are held."""
        bound = bound_angles(self.problem, batches)
        return descend(self.problem, slots, batches, self.effort.steps, slack, bound, apart)

    def _replaced(
        self, slots: tuple[int, ...], settled: Settled, used: set[tuple[int, int]]
    ) -> tuple[Batch, ...] | None:
        """A stuck layout with one tube replaced, noted as used; None when none is left."""
        best: tuple[float, int, int] | None = None
        others = standing(self.problem, settled.batches)
        for edge in settled.blamed[:3]:
            costs = self.tables.beside(edge, slots[edge], others)
            for row in np.argsort(costs, kind="stable"):
                if np.isfinite(costs[row]) and (edge, int(row)) not in used:
                    if best is None or costs[row] < best[0]:
                        best = (float(costs[row]), edge, int(row))
                    break
        if best is None:
            return None
        _, edge, row = best
        used.add((edge, row))
        out = list(settled.batches)
        out[edge] = self.tables.pools[edge, slots[edge]].single(row)
        return tuple(out)

    def _proven(self, slots: tuple[int, ...], settled: Settled) -> _Found | None:
        """A layout that is clear at its samples, with gaps opened a little until it is proven."""
        for slack in _SLACKS:
            if slack > _SLACKS[0]:
                settled = self._descended(slots, settled.batches, slack)
                if settled.short > _KEPT:
                    return None
            found = proven(self.problem, slots, settled, slack, self.effort.steps)
            if found is not None:
                follows = in_order(self.problem, slots)
                score = layout_score(found, follows, price(self.problem, found))
                routed = Routed(found, slots, score, follows, 0)
                return _Found(routed, settled)
        return None


def proven(
    problem: Problem, slots: tuple[int, ...], settled: Settled, slack: float, steps: int
) -> tuple[Centreline, ...] | None:
    """The paths of a settled layout, of exact length and whole angles; None when not proven."""
    batches = settled.batches
    shelves = tuple(shelf_of(problem, edge) for edge in problem.edges)
    if any(shelf.angle_step is not None for shelf in shelves):
        whole = whole_angles(problem, slots, batches, slack, steps)
        if whole is None:
            return None
        batches = whole
    exact = tuple(
        exact_shape(batch, edge.length, shelf.angle_step)
        for batch, edge, shelf in zip(batches, problem.edges, shelves, strict=True)
    )
    if not all(
        _as_asked(batch, edge.length, shelf)
        for batch, edge, shelf in zip(exact, problem.edges, shelves, strict=True)
    ):
        return None
    paths = tuple(batch.path(0) for batch in exact)
    return paths if clear(problem, paths, slots) else None


def _as_asked(batch: Batch, length: float, shelf: Shelf) -> bool:
    """Whether a path has its length, whole angles and what else the shelf asks for."""
    measured = measure(batch)
    right = abs(float(measured.length[0]) - length) <= LENGTH_SLIP
    if shelf.angle_step is not None:
        steps = measured.angles[0, ~batch.form.kept] / shelf.angle_step
        right &= bool((np.abs(steps - np.round(steps)) * shelf.angle_step < _WHOLE).all())
    return right and bool(feasible(measured, batch, shelf)[0])
