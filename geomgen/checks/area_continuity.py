"""The bore does not pinch between the port and the outlet.

What: how far the bore's area falls below the smaller of its two ends, for each stretch of the
way from port to outlet: port to the transition's round end, round end to the collector's
throat, throat to outlet. A throat narrower than its outlet and an outlet narrower than its
throat are meant, and no dip: ``collector-cone`` holds the cone between them.
Why: a dip in the transition throttles every pulse and sends one back.
Limit: ``limits.area_dip_percent``; what port and tube themselves differ by is a choice of
tube, so only what lies between is held.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.gas_ways import first_merge
from geomgen.design.model import AreaStation, Design, Runner
from geomgen.errors import Finding

NAME = "area-continuity"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner, one for the collector [%]."""
    found = [
        _finding(design, f"runner {runner.cylinder}", *_stretches(design, runner))
        for runner in design.runners
    ]
    behind = [row for row in design.collector.areas if row.what in ("throat", "cone", "outlet")]
    if not behind:
        return tuple(found)
    pair = first_merge(design.collector.areas)
    if pair:
        stretch = tuple(f"{pair}{what}" for what in ("throat", "cone", "secondary"))
        rows = tuple(row for row in design.collector.areas if row.what in stretch)
        found.append(_finding(design, f"{pair.strip()}'s merge, throat to secondary", rows))
    return (*found, _finding(design, "collector, throat to outlet", tuple(behind)))


def _stretches(design: Design, runner: Runner) -> tuple[tuple[AreaStation, ...], ...]:
    """Port to round end, and on to the throat where the family has one."""
    blend = runner.transition.areas
    rows = design.collector.areas
    throat = next((i for i, row in enumerate(rows) if row.what == "throat"), None)
    return (blend,) if throat is None else (blend, (blend[-1], *rows[: throat + 1]))


def _dip(areas: tuple[AreaStation, ...]) -> float:
    """How far the area falls below the smaller of its ends [%]."""
    ends = min(areas[0].area, areas[-1].area)
    return max(0.0, 100.0 * (1.0 - min(row.area for row in areas) / ends))


def _finding(design: Design, subject: str, *stretches: tuple[AreaStation, ...]) -> Finding:
    limit = design.limits["area_dip_percent"]
    areas = max(stretches, key=_dip)
    least, dip = min(areas, key=lambda row: row.area), _dip(areas)
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
