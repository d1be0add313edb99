"""Route a bundle: shapes, candidates, the best sets of them, descent, proof."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from heapq import heapify, heappop, heappush

import numpy as np

from geomgen.routing.assignments import allowed, assignments
from geomgen.routing.bundle import Choice, Tables, choose
from geomgen.routing.candidates import Pool, feasible, pool, shapes
from geomgen.routing.certificates import below_floor, end_blocked, ends_too_near, sealed
from geomgen.routing.contacts import SHAPE_ROOM
from geomgen.routing.descent import Settled, descend
from geomgen.routing.paths import Batch, Floats, exact_length, measure
from geomgen.routing.problem import Answer, NotFound, Problem, Routed
from geomgen.routing.prove import shortfall
from geomgen.routing.score import OUT_OF_ORDER, layout_score

Progress = Callable[[str, int, int], None]
"""Told what is being done, how far it is, and how far there is to go."""


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
    Effort(((2, 40, 0), (3, 160, 0)), ((4, 320, 0), (5, 320, 0)), 24, 8.0, 24, 6, 14, 3),
    Effort(((2, 56, 0), (3, 384, 160), (4, 256, 0)), ((5, 512, 0),), 48, 12.0, 48, 8, 20, 6),
    Effort(((2, 80, 0), (3, 1024, 544), (4, 1536, 256), (5, 1024, 0)), (), 80, 16.0, 96, 16, 30, 10),
)
"""Round by round, until one finds a layout."""

_STRETCH = (1.02, 1.05, 1.1, 1.16, 1.25, 1.4, 1.6)
"""Lengths tried, over the target, when the target itself does not route."""

_SCARCE = 6
"""Candidates a slot, on average, below which a tube is drawn with more bends."""

_KEPT = 0.75 * SHAPE_ROOM
"""What a layout may fall short of its limits, room and slack included [mm]."""

_ENOUGH = 2
"""Layouts proven before the best of them is taken."""

_HOPE = 1.0
"""What a descent may gain: dearer sets than the best by more than this are not tried."""

_SLACKS = (0.08, 0.3, 1.0)
"""Added to every gap while descending, for what its samples hide [mm]; more when unproven."""


def quiet(_what: str, _done: int, _all: int) -> None:
    """No progress."""


def route(
    problem: Problem, progress: Progress = quiet, efforts: tuple[Effort, ...] = EFFORTS
) -> Answer:
    """Lay out all tubes of a bundle, each of exactly its length.

    Returns:
        ``Routed`` (proven clear), ``Impossible`` with a certificate, or
        ``NotFound`` with the nearest common stretch of the lengths that was found.
    """
    for proof in (below_floor, ends_too_near, end_blocked):
        barred = proof(problem)
        if barred is not None:
            return barred
    tried = 0
    for effort in efforts:
        found, count = attempt(problem, effort, progress)
        tried += count
        if found is not None:
            return replace(found, tried=tried)
    return sealed(problem) or _not_found(problem, tried, progress)


def attempt(
    problem: Problem, effort: Effort, progress: Progress = quiet
) -> tuple[Routed | None, int]:
    """One round. Returns the layout, if any, and the number of paths drawn."""
    n = len(problem.edges)
    pools: dict[tuple[int, int], Pool] = {}
    least = np.full((n, len(problem.slots)), np.inf)
    count = 0
    for edge in range(n):
        progress("drawing runners", edge, n)
        mine = allowed(problem, edge)
        for draws in (effort.draws, (*effort.draws, *effort.more)):
            for slot in mine:
                drawn = shapes(problem, edge, slot, draws, effort.give)
                pools[edge, slot] = pool(problem, edge, slot, drawn, effort.keep, effort.give)
                if len(pools[edge, slot]):
                    least[edge, slot] = pools[edge, slot].costs[0]
            count += len(mine) * sum(number for _, number, _ in draws)
            if sum(len(pools[edge, slot]) for slot in mine) >= _SCARCE * len(mine):
                break  # else it needs more bends than usual
    progress("fitting them together", n, n)
    tables = Tables(problem, pools)
    return _best(problem, tables, least, effort), count


@dataclass(order=True)
class _Waiting:
    """A set of candidates that waits for its descent, cheapest first."""

    cost: float
    slots: tuple[int, ...]
    choice: Choice = field(compare=False)
    in_order: bool = field(compare=False)


def _best(problem: Problem, tables: Tables, least: Floats, effort: Effort) -> Routed | None:
    """The best of a few sets of candidates, moved together and proven."""
    waiting = _choices(problem, tables, least, effort)
    heapify(waiting)
    best: Routed | None = None
    found = 0
    for _ in range(effort.descents):
        if not waiting or found == _ENOUGH:
            break
        one = heappop(waiting)
        if best is not None and one.cost > best.score + _HOPE:
            break
        routed, blamed = _finished(problem, tables, one, effort)
        if routed is not None:
            found += 1
            if best is None or routed.score < best.score:
                best = routed
            continue
        for edge in blamed:
            tables.ban(edge, one.slots[edge], one.choice.rows[edge])
        again = _choice(tables, one.slots, one.in_order, np.inf)
        if again is not None:
            heappush(waiting, again)
    return best


def _choices(
    problem: Problem, tables: Tables, least: Floats, effort: Effort
) -> list[_Waiting]:
    """Sets of candidates, one an assignment."""
    found: list[_Waiting] = []
    best = np.inf
    for tries, (bound, slots, in_order) in enumerate(assignments(problem, least)):
        if tries >= effort.tries or bound > best + _HOPE:
            break
        choice = _choice(tables, slots, in_order, best + _HOPE)
        if choice is not None:
            found.append(choice)
            best = min(best, choice.cost)
    return found


def _choice(
    tables: Tables, slots: tuple[int, ...], in_order: bool, below: float
) -> _Waiting | None:
    extra = 0.0 if in_order else OUT_OF_ORDER
    choice = choose(tables, slots, below - extra)
    return None if choice is None else _Waiting(choice.cost + extra, slots, choice, in_order)


def _finished(
    problem: Problem, tables: Tables, one: _Waiting, effort: Effort
) -> tuple[Routed | None, tuple[int, ...]]:
    """A choice moved clear and to a better score, and proven; or the tubes to blame.

    A tube that keeps the others from getting clear is replaced by its candidate that goes
    best with them as they then are, a few times over.
    """
    batches = tuple(
        tables.pools[edge, slot].single(row)
        for edge, (slot, row) in enumerate(zip(one.slots, one.choice.rows, strict=True))
    )
    used = {(edge, row) for edge, row in enumerate(one.choice.rows)}
    blamed: tuple[int, ...] = ()
    for _ in range(effort.repairs + 1):
        settled = descend(problem, one.slots, batches, effort.steps, _SLACKS[0])
        if settled.short <= _KEPT:
            return _proven(problem, one, settled, effort), settled.blamed
        blamed = blamed or settled.blamed
        other = _replaced(problem, tables, one.slots, settled, used)
        if other is None:
            break
        batches = other
    return None, blamed


def _replaced(
    problem: Problem,
    tables: Tables,
    slots: tuple[int, ...],
    settled: Settled,
    used: set[tuple[int, int]],
) -> tuple[Batch, ...] | None:
    """A stuck layout with one tube replaced, which is noted as used; None when none is left."""
    best: tuple[float, int, int] | None = None
    for edge in settled.blamed[:3]:
        costs = tables.beside(edge, slots, settled.batches)
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
    out[edge] = tables.pools[edge, slots[edge]].single(row)
    return tuple(out)


def _proven(
    problem: Problem, one: _Waiting, settled: Settled, effort: Effort
) -> Routed | None:
    """A layout that is clear at its samples, with gaps opened a little until it is proven."""
    for slack in _SLACKS:
        if slack > _SLACKS[0]:
            settled = descend(problem, one.slots, settled.batches, effort.steps, slack)
        if settled.short > _KEPT or not all(
            feasible(measure(batch), batch, problem.shelf)[0] for batch in settled.batches
        ):
            return None
        paths = tuple(
            exact_length(batch, edge.length).path(0)
            for batch, edge in zip(settled.batches, problem.edges, strict=True)
        )
        if shortfall(problem, paths, one.slots) <= 0.0:
            score = layout_score(paths, one.in_order)
            return Routed(paths, one.slots, score, one.in_order, 0)
    return None


def _not_found(problem: Problem, tried: int, progress: Progress) -> NotFound:
    """Say what binds, and the nearest common stretch of all lengths that does route."""
    binding = _binding(problem)
    for stretch in _STRETCH:
        longer = replace(
            problem,
            edges=tuple(replace(edge, length=edge.length * stretch) for edge in problem.edges),
        )
        if below_floor(longer) is not None:
            continue
        found, count = attempt(longer, EFFORTS[1], progress)
        tried += count
        if found is not None:
            shortest = min(path.length for path in found.paths)
            return NotFound(tried, binding, shortest - min(e.length for e in problem.edges))
    return NotFound(tried, binding, None)


def _binding(problem: Problem) -> str:
    """Which single tube or what between tubes stands in the way."""
    return "every runner finds a path alone, but no set of them keeps clear of one another"
