"""Route a bundle: certificates, rounds of search, and an account when nothing is found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from geomgen.routing.attempt import EFFORTS, Effort, Progress, Round, attempt, quiet
from geomgen.routing.certificates import (
    below_floor,
    end_blocked,
    ends_too_near,
    sealed,
    too_few_bends,
    too_little_turn,
)
from geomgen.routing.clear import clear
from geomgen.routing.failure import binding, changed, collector_moves
from geomgen.routing.problem import Answer, Impossible, NotFound, Problem, Routed
from geomgen.routing.stations import astray, without
from geomgen.routing.tacked import advanced, of_whole, rejoined

__all__ = ["EFFORTS", "Effort", "Progress", "barred", "briefly", "quiet", "route", "search"]

_AT_ONCE: tuple[Callable[[Problem], Impossible | None], ...] = (
    below_floor,
    ends_too_near,
    end_blocked,
    too_little_turn,
    too_few_bends,
)
"""Certificates that cost little; cells are flooded when a search fails, close by at first."""

_STRETCH = (1.02, 1.05, 1.1, 1.16, 1.25, 1.4, 1.6)
"""Growth tried, as a part of the longest tube, when the lengths asked do not route."""


def route(
    problem: Problem,
    progress: Progress = quiet,
    efforts: tuple[Effort, ...] = EFFORTS,
    ways_out: bool = True,
) -> Answer:
    """Lay out all tubes of a bundle, each of exactly its length.

    The same problem has the same answer whatever the machine is doing: nothing is timed.

    Args:
        problem: the bundle.
        progress: told how it goes.
        efforts: rounds of search, until one finds a layout.
        ways_out: whether lengths and moves that would do are looked for when none does.

    Returns:
        ``Routed`` (proven clear), ``Impossible`` with a certificate, or ``NotFound`` with
        what was found instead.
    """
    from_ends = advanced(problem)
    rounds: list[Round] = []
    best: Routed | None = None
    certain = barred(from_ends)
    for effort in efforts:
        if certain is not None:
            break
        found = search(problem, effort, progress)
        rounds.append(found)
        if found.routed is not None:
            best = found.routed if best is None or found.routed.score < best.score else best
            if not astray(problem, best.paths):
                break
        elif len(rounds) == 1:
            certain = sealed(from_ends, near_only=True)
    if best is not None:
        return replace(best, tried=sum(one.tried for one in rounds))
    certain = certain or sealed(from_ends)
    if certain is not None:
        return of_whole(problem, certain)
    if not ways_out:
        tried = sum(one.tried for one in rounds)
        return NotFound(tried, binding(from_ends, tuple(rounds)), None)
    return _not_found(problem, tuple(rounds), progress)


def barred(problem: Problem) -> Impossible | None:
    """The first certificate that holds, of those that cost little."""
    for proof in _AT_ONCE:
        certain = proof(problem)
        if certain is not None:
            return certain
    return None


def search(problem: Problem, effort: Effort, progress: Progress = quiet) -> Round:
    """One round, from the ends of what is already made; its answer is of the whole tubes.

    Where steps keep it from finding anything, it is done again without them.
    """
    from_ends = advanced(problem)
    found = attempt(from_ends, effort, progress)
    free = without(from_ends)
    if found.routed is None and free != from_ends:
        again = attempt(free, effort, progress)
        found = replace(again, tried=found.tried + again.tried)
    if free == problem or found.routed is None:
        return found
    whole = rejoined(problem, found.routed)
    kept = clear(problem, whole.paths, whole.slots)
    return replace(found, routed=whole if kept else None)


def _not_found(problem: Problem, rounds: tuple[Round, ...], progress: Progress) -> NotFound:
    """What binds, the nearest common length and the collector moves that do route."""
    tried = sum(one.tried for one in rounds)
    length, more = _nearest_length(problem, progress)
    moves, most = collector_moves(problem, _fits, progress)
    return NotFound(tried + more + most, binding(advanced(problem), rounds), length, moves)


def briefly(problem: Problem, effort: Effort = EFFORTS[0]) -> tuple[Routed | None, int]:
    """A layout at the budget of one round, if there is one, and how many paths it took."""
    short = min(edge.length for edge in problem.edges) <= 0.0
    if short or barred(advanced(problem)) is not None:
        return None, 0
    found = search(problem, effort)
    return found.routed, found.tried


def _fits(problem: Problem) -> tuple[bool, int]:
    """Whether a problem routes at the budget of explanations, and how many paths that took."""
    routed, tried = briefly(problem)
    return routed is not None, tried


def _nearest_length(problem: Problem, progress: Progress) -> tuple[float | None, int]:
    """By how much all lengths had to grow to be routed [mm], and paths tried."""
    tried = 0
    longest = max(edge.length for edge in problem.edges)
    for done, stretch in enumerate(_STRETCH):
        progress("looking for a length that fits", done, len(_STRETCH))
        by = (stretch - 1.0) * longest
        fits, count = _fits(changed(problem, by))
        tried += count
        if fits:
            return by, tried
    return None, tried
