"""Which problems are drawn, and from which numbers: fixed before any solver was tuned."""

from __future__ import annotations

from problem_set.scenes import Plan

FIRST = 41_000
"""Number of the first feasible problem's random stream; the next ones follow one by one."""
FIRST_INFEASIBLE = 500
"""Added to the first number: where the infeasible ones begin."""
COUNT = 68
COUNT_INFEASIBLE = 20
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


def plan(index: int) -> Plan:
    """The kind of the index-th feasible problem: styles, margins and reaches take turns."""
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
