"""The bore does not pinch between the port and the outlet.

What: the largest fall of bore area from any station to a later one, port to first join,
and of the collector's bore from the throat on, which may not fall below the throat.
Why: a dip in the transition throttles every pulse and sends one back.
Limit: ``limits.area_dip_percent``; what port and tube themselves differ by is a choice of
tube, so only what lies between is held.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import AreaStation, Design
from geomgen.errors import Finding

NAME = "area-continuity"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner, one for the collector [%]."""
    found = [
        _finding(design, f"runner {runner.cylinder}", runner.transition.areas)
        for runner in design.runners
    ]
    behind = [row for row in design.collector.areas if row.what in ("throat", "cone", "outlet")]
    return (*found, _finding(design, "collector, throat to outlet", tuple(behind)))


def _finding(design: Design, subject: str, areas: tuple[AreaStation, ...]) -> Finding:
    limit = design.limits["area_dip_percent"]
    least = min(areas, key=lambda row: row.area)
    ends = min(areas[0].area, areas[-1].area)
    dip = max(0.0, 100.0 * (1.0 - least.area / ends))
    ok = dip <= limit
    return Finding(
        NAME,
        subject,
        judged(ok),
        f"{areas[0].area:.0f} mm2 at {areas[0].what}, {areas[-1].area:.0f} at {areas[-1].what}, "
        f"least {least.area:.0f} at {least.what}: dips {dip:.2f} % below its ends",
        dip,
        limit,
        "%",
        "" if ok else "change tube, throat or the transition's length",
    )
