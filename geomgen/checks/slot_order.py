"""Neighbours round the collector fire one after the other.

What: the cylinders in order round the collector against the firing order, either way round.
Why: each pulse then draws on the tube that fires next.
Limit: none; out of order is a warning, since crossing tubes may cost more than it gains.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "slot-order"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for the collector."""
    around = "-".join(str(cylinder) for cylinder in design.collector.cylinders)
    order = "-".join(str(cylinder) for cylinder in design.firing_order)
    ok = design.collector.in_order
    return (
        Finding(
            NAME,
            "collector",
            judged(ok, Verdict.WARN),
            f"{around} round the collector {'follows' if ok else 'does not follow'} the "
            f"firing order {order}",
            remedy="" if ok else "another roll or place of the collector may let it",
        ),
    )
