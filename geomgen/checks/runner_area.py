"""A turbo manifold's runners are not much larger than the valves let through.

What: the runners' bore area over the exhaust valves' curtain area at full lift, pi times
diameter times lift of each.
Why: a larger bore slows the pulse down on its way to the turbine and holds more gas to fill.
Limit: ``limits.runner_over_valve``; more warns. Without ``collector.valves`` nothing is held.
Source: a textbook's rule as forums quote it: not significantly greater than the geometric valve
area at full lift; the ratio for "significantly" is common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "runner-area"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for the runners [-]; none where the valves are not stated."""
    facts = dict(design.collector.facts)
    ratio = facts.get("runner_over_valve_area")
    if ratio is None:
        return ()
    limit = design.limits["runner_over_valve"]
    ok = ratio <= limit
    valves = facts["valve_area_mm2"]
    return (
        Finding(
            NAME,
            "runners",
            judged(ok, Verdict.WARN),
            f"bore area {ratio * valves:.0f} mm2, {ratio:.2f} times the valves' {valves:.0f} mm2",
            ratio,
            limit,
            "ratio",
            "" if ok else "take a smaller tube: it spools sooner and loses little at the top",
        ),
    )
