"""Which cylinders share a pipe: groups whose firings lie as far apart as they can."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations

from geomgen.targets.firing import least_interval

Groups = tuple[tuple[int, ...], ...]

_SAME = 1e-9


def least_gap(group: tuple[int, ...], order: tuple[int, ...]) -> float:
    """Smallest crank angle between two firings inside a group [rad].

    720 degrees for a group of one.
    """
    return least_interval(order, group)


def worst_gap(groups: Groups, order: tuple[int, ...]) -> float:
    """Smallest crank angle between two firings inside any of some groups [rad]."""
    return min(least_gap(group, order) for group in groups)


def most_even(order: tuple[int, ...], size: int, near: tuple[int, ...]) -> tuple[int, ...]:
    """Cylinders of an engine that fires evenly whose firings lie as evenly as they can.

    Of n cylinders every k-th fires n / k of the engine's intervals after the last, or the whole
    number next to that. Of such groups the one that shares the most with another.

    Args:
        order: firing order of the whole engine.
        size: how many cylinders the group has.
        near: the other group.

    >>> most_even((1, 2, 3, 4, 5, 6), 3, (1, 2, 5))
    (1, 3, 5)
    """
    count = len(order)
    groups = (
        tuple(sorted(order[(first + i * count // size) % count] for i in range(size)))
        for first in range(count)
    )
    return min(groups, key=lambda group: (-len(set(group) & set(near)), group))


@lru_cache(maxsize=256)
def best_groups(
    order: tuple[int, ...], sizes: tuple[int, ...], of: tuple[int, ...] | None = None
) -> Groups:
    """Cylinders parted so that firings inside a group lie as far apart as they can.

    The least gap of any group is made as large as it can be, then that of the next, and so
    on. Among equals the one whose numbers come first is taken. Each group is sorted, and
    stands in the place of its size.

    Args:
        order: firing order of the whole engine.
        sizes: how many cylinders each group has.
        of: the cylinders to be parted; all of the order without it.

    Raises:
        ValueError: the sizes do not add up, or a cylinder is not in the order.

    >>> best_groups((1, 3, 4, 2), (2, 2))
    ((1, 4), (2, 3))
    >>> best_groups((1, 5, 3, 6, 2, 4), (3, 3))
    ((1, 2, 3), (4, 5, 6))
    """
    every = tuple(sorted(order if of is None else of))
    if sum(sizes) != len(every) or min(sizes, default=0) < 1:
        raise ValueError(f"groups of {list(sizes)} do not part {len(every)} cylinders")
    if not set(every) <= set(order):
        raise ValueError(f"not in the firing order: {sorted(set(every) - set(order))}")
    return min(_parted(every, sizes), key=lambda groups: (_rank(groups, order), groups))


def _rank(groups: Groups, order: tuple[int, ...]) -> tuple[int, ...]:
    """Least gaps of the groups, worst first; the smaller the rank the better."""
    return tuple(sorted((-round(least_gap(g, order) / _SAME) for g in groups), reverse=True))


def _parted(left: tuple[int, ...], sizes: tuple[int, ...]) -> Iterator[Groups]:
    """Every way to part sorted cylinders; groups of one size in order of their first."""
    if not sizes:
        yield ()
        return
    for group in combinations(left, sizes[0]):
        rest = tuple(c for c in left if c not in group)
        for others in _parted(rest, sizes[1:]):
            if not others or len(others[0]) != len(group) or others[0][0] > group[0]:
                yield (group, *others)
