"""Which problems are drawn, and from which numbers: fixed before any solver was tuned."""

from __future__ import annotations

from problem_set.scenes import Plan

FIRST = 41_000
"""Number of the first feasible problem's random stream; the next ones follow one by one."""
FIRST_INFEASIBLE = 500
"""Added to the first number: where the infeasible ones begin."""
COUNT = 78
COUNT_INFEASIBLE = 24
ATTEMPTS = 60
"""Draws a problem before it is given up; each has a stream of its own, (number, attempt)."""
SEEDS = tuple(range(FIRST, FIRST + COUNT))
SEEDS_INFEASIBLE = tuple(
    range(FIRST + FIRST_INFEASIBLE, FIRST + FIRST_INFEASIBLE + COUNT_INFEASIBLE)
)

_KINDS: tuple[tuple[str, int], ...] = (
    ("na", 4),
    ("turbo", 4),
    ("na", 3),
    ("na", 4),
    ("turbo", 3),
    ("na", 2),
    ("na", 6),
    ("vee", 8),
    ("na", 4),
    ("turbo", 6),
    ("na", 5),
    ("turbo", 4),
    ("na", 4),
    ("na", 3),
    ("turbo", 2),
    ("na", 8),
    ("vee", 6),
    ("na", 4),
    ("turbo", 4),
    ("na", 6),
    ("na", 2),
)
_MARGINS = (10.0, 3.0, 1.0, 3.0, 0.5, 10.0, 1.0)
_REACH = ("short", "near", "short", "long")

CERTIFICATES = ("floor", "pitch", "stub-blocked", "turn", "sealed")
TOO_FEW = "too-few-bends"

# What the turns above leave out: seven tubes, eight to one collector, slots given.
_LEFT_OUT = (
    ("na", 7, 0),
    ("na", 4, 4),
    ("turbo", 4, 1),
    ("na", 8, 0),
    ("na", 3, 3),
    ("na", 7, 7),
    ("na", 6, 2),
    ("turbo", 3, 3),
    ("na", 4, 1),
    ("na", 5, 5),
)
_ROW = 68


def plan(index: int) -> Plan:
    """The kind of the index-th feasible problem: styles, margins and reaches take turns."""
    if _ROW <= index < _ROW + len(_LEFT_OUT):
        style, tubes, pins = _LEFT_OUT[index - _ROW]
        return Plan(
            style=style,
            tubes=tubes,
            margin=_MARGINS[index % len(_MARGINS)],
            reach="long" if index % 2 else "short",
            crowded=index % 3 == 0,
            radii=1 + index % 2,
            uneven=index % 4 < 2,
            pins=pins,
            one_ring=True,
        )
    style, tubes = _KINDS[index % len(_KINDS)]
    reach = _REACH[(index + index // 21) % len(_REACH)]
    return Plan(
        style=style,
        tubes=tubes,
        margin=_MARGINS[(index + index // 21) % len(_MARGINS)],
        # A short, tight manifold is never within 3 % of the floor: the turns cost more.
        reach="short" if style == "turbo" and reach == "near" else reach,
        crowded=index % 2 == 1,
        radii=1 + (index // 2) % 2,
        uneven=(index // 3) % 2 == 1,
        unequal=index % 16 == 7,
    )


def plan_infeasible(index: int) -> tuple[str, Plan]:
    """Certificate and kind of the index-th infeasible problem."""
    if index >= 20:
        tubes = (2, 3, 4)[index % 3]
        return TOO_FEW, Plan(
            style="turbo" if index == 21 else "na",
            tubes=tubes,
            margin=1.0,
            reach="short",
            crowded=False,
            radii=1,
            uneven=True,
            bends=(2,),
        )
    certificate = CERTIFICATES[index % len(CERTIFICATES)]
    style, tubes = (("na", 4), ("turbo", 3), ("na", 3), ("na", 6))[index // len(CERTIFICATES) % 4]
    return certificate, Plan(
        style="na" if certificate == "turn" else style,
        tubes=tubes,
        margin=1.0,
        reach="short" if index % 2 else "long",
        crowded=False,
        radii=1 + index % 2,
        uneven=index // 5 % 2 == 1 and certificate != "sealed",
    )
