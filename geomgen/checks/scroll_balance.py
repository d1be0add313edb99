"""The scrolls of a divided inlet get alike: lengths and gas volumes.

What: longest less shortest way from gasket face to turbine, over all runners, as half of it over
the mean; the gas volumes of the two scrolls, as their difference over their mean.
Why: pulses that arrive unevenly, or into unequal volumes, drive the turbine's halves unevenly.
Limit: ``limits.scroll_balance_percent``.
Source: common practice, no source: plus or minus 5 % is fine for a turbo.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "scroll-balance"


def run(design: Design) -> tuple[Finding, ...]:
    """Two findings for a divided inlet [%]; none for any other manifold."""
    facts = dict(design.collector.facts)
    names = [key.removesuffix("_gas_cc") for key in facts if key.startswith("scroll_")]
    if len(names) < 2:
        return ()
    limit = design.limits["scroll_balance_percent"]
    ways = _ways(design, facts)
    mean, spread = math.fsum(ways) / len(ways), max(ways) - min(ways)
    uneven = 50.0 * spread / mean
    gas = [facts[f"{name}_gas_cc"] for name in names]
    apart = 100.0 * (max(gas) - min(gas)) / (math.fsum(gas) / len(gas))
    said = ", ".join(
        f"{name.replace('_', ' ')} {cc:.0f} cc" for name, cc in zip(names, gas, strict=True)
    )
    return (
        Finding(
            NAME,
            "lengths to the turbine",
            judged(uneven <= limit, Verdict.WARN),
            f"{min(ways):.1f} to {max(ways):.1f} mm from gasket face to turbine, plus or minus "
            f"{uneven:.2f} % of {mean:.1f} mm",
            uneven,
            limit,
            "%",
            "" if uneven <= limit else "give both scrolls' pipes and runners the same length",
        ),
        Finding(
            NAME,
            "gas volumes",
            judged(apart <= limit, Verdict.WARN),
            f"{said}: {apart:.2f} % apart",
            apart,
            limit,
            "%",
            "" if apart <= limit else "give both scrolls' pipes and runners the same length",
        ),
    )


def _ways(design: Design, facts: dict[str, float]) -> list[float]:
    """Way from gasket face to turbine of each runner [mm]."""
    ways = []
    for group, letter in zip(design.collector.groups, "ab", strict=False):
        behind = facts[f"slot_to_turbine_{letter}_mm"]
        ways += [
            dict(runner.to_ends)["entry"] + behind
            for runner in design.runners
            if runner.cylinder in group
        ]
    return ways
