"""The smallest common length: one that was routed, and one that nothing can beat."""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.routing.assignments import allowed
from geomgen.routing.attempt import Progress, quiet
from geomgen.routing.failure import changed
from geomgen.routing.floor import floor_of
from geomgen.routing.problem import Impossible, NotFound, Problem, Routed, shelf_of
from geomgen.routing.solve import briefly, route
from geomgen.routing.tacked import advanced

_FIRST = 0.005
_DOUBLINGS = 8
_CLOSE = 0.5
"""The length found is less than this above one at which nothing was found [mm]."""


@dataclass(frozen=True)
class Shortest:
    """The smallest common length that was found.

    Attributes:
        routed: the layout.
        by: what all lengths of the problem were changed by for it [mm].
        bound: no layout exists with a change below this [mm].
        tried: paths drawn on the way.
    """

    routed: Routed
    by: float
    bound: float
    tried: int


def shortest(problem: Problem, progress: Progress = quiet) -> Shortest | Impossible | NotFound:
    """Lay a bundle out with all lengths changed by one amount, as small as is found.

    What is found is a length that was routed and proven; that a little less was not found
    proves nothing. The bound does: it is where some tube goes below the floor of every slot
    that is left to it.

    Args:
        problem: the bundle; its lengths set only how the tubes differ.
        progress: told how it goes.

    Returns:
        ``Shortest``, or the answer of the longest lengths tried when none was routed.
    """
    bound = least_change(problem)
    longest = max(edge.length for edge in problem.edges) + bound
    low, tried = bound, 0
    found: tuple[float, Routed] | None = None
    for k in range(_DOUBLINGS):
        progress("looking for the shortest length", k, _DOUBLINGS)
        high = bound + _FIRST * longest * 2**k
        routed, count = briefly(changed(problem, high))
        tried += count
        if routed is not None:
            found = (high, routed)
            break
        low = high
    if found is None:
        answer = route(changed(problem, low), progress)
        if not isinstance(answer, Routed):
            return answer
        found = (low, answer)
    while found[0] - low > _CLOSE:
        progress("looking for the shortest length", _DOUBLINGS, _DOUBLINGS)
        middle = 0.5 * (low + found[0])
        routed, count = briefly(changed(problem, middle))
        tried += count
        if routed is None:
            low = middle
        else:
            found = (middle, routed)
    return Shortest(found[1], found[0], bound, tried)


def least_change(problem: Problem) -> float:
    """Least common change of all lengths at which no tube is below its floor [mm].

    Every tube needs a slot of its own, so it is the least over the assignments of the
    largest change that any of their tubes needs.
    """
    from_ends = advanced(problem)
    radii = [min(r.clr for r in shelf_of(problem, edge).radii) for edge in problem.edges]
    need = {
        (e, s): floor_of(edge.start, from_ends.slots[s], radii[e]) - edge.length
        for e, edge in enumerate(from_ends.edges)
        for s in allowed(from_ends, e)
    }
    for change in sorted(need.values()):
        if _all_served(len(from_ends.edges), {key for key, by in need.items() if by <= change}):
            return change
    return max(need.values())


def _all_served(tubes: int, may: set[tuple[int, int]]) -> bool:
    """Whether every tube can have a slot of its own (augmenting paths)."""
    holder: dict[int, int] = {}

    def serve(tube: int, seen: set[int]) -> bool:
        for slot in sorted(s for t, s in may if t == tube):
            if slot not in seen:
                seen.add(slot)
                if slot not in holder or serve(holder[slot], seen):
                    holder[slot] = tube
                    return True
        return False

    return all(serve(tube, set()) for tube in range(tubes))
