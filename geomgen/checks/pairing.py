"""Cylinders that meet before the others do fire as far apart as they can.

What: the crank angle between two firings inside each group that has a merge, a secondary or a
scroll of its own, least first, against the best that any grouping of the same size has.
Why: the point of pairs is that one cylinder's pulse does not run into the other's open valve. An
exhaust valve is open for 230 to 280 crank degrees, so groups closer than that overlap all the
time: 1 with 3 of a four is a manifold that works worse than one with all four together.
Limit: ``limits.pairing_least`` fails, where a grouping that keeps it is possible; less than the
best possible warns.
Source: firing-order arithmetic; 230 to 280 degrees is common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.checks import Early, judged
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding, Verdict
from geomgen.targets.firing import intervals
from geomgen.targets.grouping import best_groups, least_gap, worst_gap

NAME = "pairing"
EARLY = Early.STOPS
KEYS = (("collector", "pairs"), ("collector", "groups"))

_ROUNDING = 1e-6


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a group that is not of all cylinders [deg]."""
    everyone = tuple(sorted({c for group in design.collector.groups for c in group}))
    groups = tuple(g for g in design.collector.groups if 1 < len(g) < len(everyone))
    if not groups or tuple(sorted(c for group in groups for c in group)) != everyone:
        return ()
    best = best_groups(design.firing_order, tuple(map(len, groups)), everyone)
    return tuple(_finding(design, group, best) for group in groups)


def _finding(design: Ground, group: tuple[int, ...], best: tuple[tuple[int, ...], ...]) -> Finding:
    order = design.firing_order
    least = math.degrees(least_gap(group, order))
    most = math.degrees(worst_gap(best, order))
    floor = min(design.limits["pairing_least"], most)
    better = " and ".join("+".join(map(str, b)) for b in best)
    told = ", ".join(
        f"{math.degrees(gap):.0f} deg after {cylinder}" for cylinder, gap in intervals(order, group)
    )
    ok = least >= most - _ROUNDING
    verdict = judged(ok, Verdict.WARN if least >= floor - _ROUNDING else Verdict.FAIL)
    return Finding(
        NAME,
        "+".join(map(str, group)),
        verdict,
        f"next of the group fires {told}; the best grouping, {better}, has {most:.0f} at least",
        least,
        most,
        "deg",
        "" if ok else f"group {better}, or take the grouping out: it follows from firing_order",
    )
