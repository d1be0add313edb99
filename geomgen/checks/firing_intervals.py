"""Cylinders that meet fire as evenly as that many of the engine can.

What: the crank angle from each firing of a collector's cylinders to the next, round the 720
degrees; against the most even group of as many cylinders of the engine. Groups inside a manifold,
pairs and scrolls, are held against one another by ``pairing``.
Why: pulses that come evenly all draw on the next cylinder alike. Three of a six that are no bank
and no half of it are most likely a slip.
Limit: none; less even than need be warns. All cylinders of a bank are as even as the crank has
them, and only told.
Source: firing-order arithmetic.
"""

from __future__ import annotations

import math

from geomgen.checks import Early, judged
from geomgen.design.engine_rows import EngineRows
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding, Verdict
from geomgen.targets.firing import intervals
from geomgen.targets.grouping import most_even

NAME = "firing-intervals"
EARLY = Early.STOPS
KEYS = (("heads", 0, "cylinders"), ("engine", "firing_order"))

Group = tuple[int, ...]


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a collector that all cylinders of it meet in [deg]."""
    groups = tuple(dict.fromkeys(g for g in design.collector.groups if len(g) > 1))
    whole = max(groups, key=len, default=())
    parts = [group for group in groups if group != whole]
    paired = sorted(c for part in parts for c in part) == sorted(whole)
    return tuple(
        _finding(design.firing_order, group, design.engine)
        for group in groups
        if group == whole or not paired
    )


def _finding(order: Group, group: Group, engine: EngineRows) -> Finding:
    best = most_even(order, len(group), group)
    gaps, even = _gaps(order, group), _gaps(order, best)
    as_even = sorted(gaps) == sorted(even)
    bank = any(set(row) == set(group) for _, row in engine.banks)
    told = _told(order, group)
    if not as_even:
        told += ": uneven as the crank has it, a whole bank" if bank else ""
        told += f"; of {'+'.join(map(str, best))} {_told(order, best)}"
    return Finding(
        NAME,
        "+".join(map(str, group)),
        judged(as_even or bank, Verdict.WARN),
        told,
        float(min(gaps)),
        float(min(even)) if as_even or not bank else None,
        "deg",
        "" if as_even or bank else _remedy(best, engine),
    )


def _gaps(order: Group, group: Group) -> list[float]:
    return [round(math.degrees(gap), 6) for _, gap in intervals(order, group)]


def _told(order: Group, group: Group) -> str:
    gaps = _gaps(order, group)
    if max(gaps) - min(gaps) < 1e-3:
        return f"one fires every {gaps[0]:.0f} deg"
    each = zip(intervals(order, group), gaps, strict=True)
    return "next fires " + ", ".join(
        f"{gap:.0f} deg after {cylinder}" for (cylinder, _), gap in each
    )


def _remedy(best: Group, engine: EngineRows) -> str:
    merge = f"bring together {'+'.join(map(str, best))}, or see to firing_order"
    if engine.layout == "inline" or engine.banks:
        return merge
    return f"{merge}; if they are a whole bank, say engine.banks"
