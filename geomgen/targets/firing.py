"""Facts that follow from a firing order: angles, intervals inside groups, neighbours."""

from __future__ import annotations

import math

CYCLE = 4.0 * math.pi
"""One four-stroke cycle, 720 degrees [rad]."""


def firing_angles(order: tuple[int, ...]) -> dict[int, float]:
    """Crank angle at which each cylinder fires, the first of the order at 0 [rad].

    Even firing: every interval is 720 degrees over the number of cylinders.
    """
    if len(set(order)) != len(order):
        raise ValueError("a firing order names each cylinder once")
    return {cylinder: CYCLE * index / len(order) for index, cylinder in enumerate(order)}


def ring(order: tuple[int, ...], group: tuple[int, ...]) -> tuple[int, ...]:
    """Cylinders of a group in the order they fire, to go round a collector.

    >>> ring((1, 3, 4, 2), (1, 2, 3, 4))
    (1, 3, 4, 2)
    """
    missing = sorted(set(group) - set(order))
    if missing:
        raise ValueError(f"not in the firing order: {missing}")
    return tuple(cylinder for cylinder in order if cylinder in group)


def intervals(order: tuple[int, ...], group: tuple[int, ...]) -> tuple[tuple[int, float], ...]:
    """Each cylinder of a group with the crank angle until the next of it fires [rad].

    The angles sum to 720 degrees.

    >>> [(c, round(math.degrees(a))) for c, a in intervals((1, 3, 4, 2), (1, 4))]
    [(1, 360), (4, 360)]
    """
    angles = firing_angles(order)
    around = ring(order, group)
    following = around[1:] + around[:1]
    return tuple(
        (here, (angles[there] - angles[here]) % CYCLE or CYCLE)
        for here, there in zip(around, following, strict=True)
    )


def least_interval(order: tuple[int, ...], group: tuple[int, ...]) -> float:
    """Smallest crank angle between two firings inside a group [rad].

    Good pairing makes it as large as it can be; 720 degrees for a group of one.
    """
    return min(angle for _, angle in intervals(order, group))


def collector_arrivals(
    order: tuple[int, ...], delays: dict[int, float], exhaust_opens: float
) -> tuple[tuple[int, float], ...]:
    """Crank angle at which each cylinder's blow-down reaches the collector [rad].

    Args:
        order: firing order.
        delays: crank angle that each cylinder's pulse takes to the collector [rad].
        exhaust_opens: before bottom dead centre [rad].

    Returns:
        Cylinder and angle within one cycle, counted from the first cylinder's firing TDC,
        in firing order.
    """
    return tuple(
        (cylinder, (fires + math.pi - exhaust_opens + delays[cylinder]) % CYCLE)
        for cylinder, fires in firing_angles(order).items()
    )
