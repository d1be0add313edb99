"""Route a bundle: candidates, the best set of them, polish, proof."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from geomgen.routing.bundle import Choice, Tables, choose, orders
from geomgen.routing.candidates import Pool, pool
from geomgen.routing.certificates import below_floor, end_blocked, ends_too_near, sealed
from geomgen.routing.paths import exact_length
from geomgen.routing.polish import polish
from geomgen.routing.problem import Answer, NotFound, Problem, Routed
from geomgen.routing.prove import clear
from geomgen.routing.score import layout_score

Progress = Callable[[str, int, int], None]
"""Told what is being done, how far it is, and how far there is to go."""

_ROUNDS = (
    (((2, 192, 0), (3, 640, 0)), 40),
    (((2, 512, 192), (3, 2048, 640), (4, 1024, 0)), 64),
    (((3, 4096, 2688), (4, 6144, 1024), (5, 4096, 0)), 96),
)
"""Drawings (bends, count, skip) and candidates kept, round by round."""

_STRETCH = (1.02, 1.05, 1.1, 1.16, 1.25, 1.4, 1.6)
"""Lengths tried, over the target, when the target itself does not route."""


def quiet(_what: str, _done: int, _all: int) -> None:
    """No progress."""


def route(problem: Problem, progress: Progress = quiet) -> Answer:
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
    for number in range(len(_ROUNDS)):
        found, count = _attempt(problem, number, progress)
        tried += count
        if found is not None:
            return replace(found, tried=tried)
    return sealed(problem) or _not_found(problem, tried, progress)


def _attempt(problem: Problem, number: int, progress: Progress) -> tuple[Routed | None, int]:
    """One round of drawings. Returns the layout, if any, and the number of paths drawn."""
    draws, keep = _ROUNDS[number]
    n = len(problem.edges)
    pools: dict[tuple[int, int], Pool] = {}
    for edge in range(n):
        for slot in range(n):
            progress("drawing runners", edge * n + slot, n * n)
            pools[edge, slot] = pool(problem, edge, slot, draws, keep)
    progress("fitting them together", n * n, n * n)
    tables = Tables(problem, pools)
    for choice in _choices(problem, tables):
        routed = _finished(problem, pools, choice)
        if routed is not None:
            return routed, n * n * sum(count for _, count, _ in draws)
    return None, n * n * sum(count for _, count, _ in draws)


def _choices(problem: Problem, tables: Tables) -> list[Choice]:
    """Sets of candidates that fit at the samples, best first, at most one an assignment."""
    found: list[Choice] = []
    best = float("inf")
    for slots, in_order in orders(problem):
        if found and not in_order and found[0].in_order:
            break  # an assignment that follows the firing order does: keep to it
        choice = choose(tables, slots, in_order, best + 1.0)
        if choice is not None:
            found.append(choice)
            best = min(best, choice.score)
    return sorted(found, key=lambda choice: (choice.score, choice.slots))


def _finished(
    problem: Problem, pools: dict[tuple[int, int], Pool], choice: Choice
) -> Routed | None:
    """The choice polished and proven, or unpolished when only that is clear."""
    chosen = tuple(
        pools[edge, slot].single(row)
        for edge, (slot, row) in enumerate(zip(choice.slots, choice.rows, strict=True))
    )
    for batches in (polish(problem, chosen, choice.slots), chosen):
        paths = tuple(
            exact_length(batch, edge.length).path(0)
            for batch, edge in zip(batches, problem.edges, strict=True)
        )
        if clear(problem, paths, choice.slots):
            score = layout_score(paths, choice.in_order)
            return Routed(paths, choice.slots, score, choice.in_order, 0)
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
        found, count = _attempt(longer, 1, progress)
        tried += count
        if found is not None:
            shortest = min(path.length for path in found.paths)
            return NotFound(tried, binding, shortest - min(e.length for e in problem.edges))
    return NotFound(tried, binding, None)


def _binding(problem: Problem) -> str:
    """Which single tube or what between tubes stands in the way."""
    draws, keep = _ROUNDS[1]
    n = len(problem.edges)
    for edge in range(n):
        pools = [pool(problem, edge, slot, draws, keep) for slot in range(n)]
        if all(len(found) == 0 for found in pools):
            bare = replace(problem, obstacles=(), places=(), studs=())
            alone = [pool(bare, edge, slot, draws, keep) for slot in range(n)]
            name = problem.edges[edge].name
            if all(len(found) == 0 for found in alone):
                return f"{name} finds no path of its length even with nothing in the way"
            return f"{name} finds a path of its length only through obstacles or tools"
    return "every runner finds a path alone, but no set of them keeps clear of one another"
