"""Cylinders that come to the top together, from how the engine is built."""

from __future__ import annotations

import math

from geomgen.targets.firing import CYCLE, firing_angles

Pairs = tuple[tuple[int, int], ...]

USUAL: tuple[tuple[int, ...], ...] = (
    (1, 3, 4, 2),
    (1, 2, 4, 3),
    (1, 5, 3, 6, 2, 4),
    (1, 3, 2, 4),
    (1, 4, 2, 3),
)
"""Firing orders of inline fours and sixes and of flat fours that are found everywhere."""


def in_step(layout: str, count: int, banks: tuple[tuple[int, ...], ...] = ()) -> Pairs:
    """Cylinders whose pistons move together, so that they fire a turn apart.

    The crank of an inline engine with an even number of cylinders is its own mirror image: the
    first throw stands with the last, the second with the last but one. In a flat four the two
    cylinders at one place along the crank have opposite throws and opposite bores, and move out
    together.

    Args:
        layout: ``inline``, ``vee`` or ``flat``.
        count: of the engine's cylinders.
        banks: cylinders of each bank from the front to the flywheel, where they are known.

    Returns:
        The pairs; none where how the engine is built does not tell them, as of a vee.

    >>> in_step("inline", 6)
    ((1, 6), (2, 5), (3, 4))
    >>> in_step("flat", 4, ((1, 3), (2, 4)))
    ((1, 2), (3, 4))
    """
    if layout == "inline" and count >= 4 and count % 2 == 0:
        return tuple((i, count + 1 - i) for i in range(1, count // 2 + 1))
    if layout == "flat" and [len(bank) for bank in banks] == [2, 2]:
        (a, b), (c, d) = banks
        return ((min(a, c), max(a, c)), (min(b, d), max(b, d)))
    return ()


def apart(order: tuple[int, ...], one: int, other: int) -> float:
    """Crank angle between the firings of two cylinders, the shorter way round [rad].

    >>> round(math.degrees(apart((1, 3, 4, 2), 1, 2)))
    180
    """
    angles = firing_angles(order)
    ahead = (angles[other] - angles[one]) % CYCLE
    return min(ahead, CYCLE - ahead)


def usual(pairs: Pairs) -> tuple[tuple[int, ...], ...]:
    """Usual firing orders in which these pairs fire a turn apart."""
    numbers = sorted(cylinder for pair in pairs for cylinder in pair)
    return tuple(
        order
        for order in USUAL
        if sorted(order) == numbers
        and all(math.isclose(apart(order, *pair), CYCLE / 2.0) for pair in pairs)
    )
