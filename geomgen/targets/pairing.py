"""Which cylinders go together: the groups with the widest gap between firings inside them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from geomgen.targets.firing import least_interval

Groups = tuple[tuple[int, ...], ...]


def best_groups(order: tuple[int, ...], cylinders: tuple[int, ...], size: int) -> Groups:
    """Groups of one size whose least gap between firings is as wide as it can be.

    Of those that are equally good the one with the wider gaps in its other groups, then the
    one that comes first by cylinder numbers.

    Args:
        order: firing order of the whole engine.
        cylinders: those to be grouped; a whole number of groups.
        size: of a group.

    >>> best_groups((1, 3, 4, 2), (1, 2, 3, 4), 2)
    ((1, 4), (2, 3))
    """
    if size < 1 or len(cylinders) % size:
        raise ValueError(f"{len(cylinders)} cylinders make no groups of {size}")
    return min(
        _partitions(tuple(sorted(cylinders)), size),
        key=lambda groups: (_ranked(order, groups), groups),
    )


def best_pairs(order: tuple[int, ...], cylinders: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """The same in pairs, as in a 4-2-1."""
    return tuple((a, b) for a, b in best_groups(order, cylinders, 2))


def least_of(order: tuple[int, ...], groups: Groups) -> float:
    """Smallest crank angle between two firings inside any of the groups [rad]."""
    return min(least_interval(order, group) for group in groups)


def _ranked(order: tuple[int, ...], groups: Groups) -> tuple[float, ...]:
    """Least gaps, widest ranked first, the narrowest counting most."""
    # Rounded, so that rounding of radians decides nothing.
    return tuple(
        -round(math.degrees(gap), 6) for gap in sorted(least_interval(order, g) for g in groups)
    )


def _partitions(cylinders: tuple[int, ...], size: int) -> Iterator[Groups]:
    """All ways to part them into groups of a size, each once."""
    if not cylinders:
        yield ()
        return
    first, rest = cylinders[0], cylinders[1:]
    for others in combinations(rest, size - 1):
        left = tuple(c for c in rest if c not in others)
        for groups in _partitions(left, size):
            yield ((first, *others), *groups)
