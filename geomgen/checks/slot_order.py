"""Neighbours at the collector fire one after the other.

What: the cylinders in order round the collector, or along its row, against the firing order,
either way. A row has two ends: one pair that fires in turn stands apart whatever one does, so
any row that follows the firing order from some cylinder on is in order;
and each runner whose place is pinned against that place.
Why: each pulse then draws on the tube that fires next; a place that is pinned has its reason.
Limit: none; out of order is a warning, since crossing tubes may cost more than it gains.
A runner in another place than its own fails.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "slot-order"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for the only ring, if there is one, and one for every runner with a place."""
    if len(design.problem.rings) > 1:
        return _pinned(design)
    around = "-".join(str(cylinder) for cylinder in design.collector.cylinders)
    order = "-".join(str(cylinder) for cylinder in design.firing_order)
    where = "along the row" if design.collector.in_line else "round the collector"
    ok = design.collector.in_order
    return (
        Finding(
            NAME,
            "collector",
            judged(ok, Verdict.WARN),
            f"{around} {where} {'follows' if ok else 'does not follow'} the firing order {order}",
            remedy="" if ok else "another roll or place of the collector may let it",
        ),
        *_pinned(design),
    )


def _pinned(design: Design) -> tuple[Finding, ...]:
    found = []
    for runner, edge in zip(design.runners, design.problem.edges, strict=False):
        if edge.slots is None or len(edge.slots) > 1:
            continue  # free, or free within its group
        ok = runner.slot in edge.slots
        wanted = " or ".join(map(str, edge.slots))
        found.append(
            Finding(
                NAME,
                f"runner {runner.cylinder}",
                judged(ok),
                f"in place {runner.slot} round the collector, "
                f"{'where it is pinned' if ok else f'pinned to place {wanted}'}",
                remedy="" if ok else "delete the lock and solve again",
            )
        )
    return tuple(found)
