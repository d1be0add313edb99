"""The turbo's oil falls freely out of its drain.

What: the drain's direction, where the turbine stands, against straight down.
Why: bearings have no seal against standing oil: a drain that cannot empty smokes and leaks.
Limit: ``collector.turbine.drain.limit``, 30 deg by default.
Source: common practice, no source: within 30 deg of vertical.
"""

from __future__ import annotations

from geomgen.checks import Early, judged
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding

NAME = "oil-drain"
EARLY = Early.STOPS
KEYS = (("collector", "turbine", "drain"),)


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding for the drain [deg]; none where there is none."""
    facts = dict(design.collector.facts)
    lean, limit = facts.get("drain_from_vertical_deg"), facts.get("drain_limit_deg")
    if lean is None or limit is None:
        return ()
    ok = lean <= limit
    return (
        Finding(
            NAME,
            "turbine",
            judged(ok),
            f"the oil drain leans {lean:.1f} deg from straight down, at most {limit:g} deg",
            lean,
            limit,
            "deg",
            ""
            if ok
            else "clock the centre housing so that the drain points down, or turn the "
            "turbine (collector.turbine.roll, direction)",
        ),
    )
