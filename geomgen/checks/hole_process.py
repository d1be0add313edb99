"""Every bolt hole can be made the way the plate is cut.

What: hole over plate thickness against what the process cuts to size. A hole below the
limit is a centre mark, drilled after cutting, and warns; a hole that would be burnt all
the same fails.
Why: a thermal cut blows a small hole out, tapers it and hardens its edge; the shop rings
up, or drills break.
Limit: ``limits.hole_ratio_plasma``, ``hole_ratio_laser``, ``hole_ratio_waterjet``, and
``hole_floor_waterjet``.
Source: plasma, laser and waterjet shops' public guides; waterjet ratio common practice,
no source.
"""

from __future__ import annotations

from geomgen.design.model import Design, FlatPart, Hole
from geomgen.errors import Finding, Verdict

NAME = "hole-process"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a hole; value and limit are hole over plate [-]."""
    return tuple(
        _finding(part, hole, _limit(design, part)) for part in design.flats for hole in part.holes
    )


def _limit(design: Design, part: FlatPart) -> float:
    ratio = design.limits[f"hole_ratio_{part.process}"]
    floor = design.limits["hole_floor_waterjet"] if part.process == "waterjet" else 0.0
    return max(ratio, floor / part.thickness)


def _finding(part: FlatPart, hole: Hole, limit: float) -> Finding:
    ratio = hole.diameter / part.thickness
    can_be_cut = ratio >= limit - 1e-9
    verdict, remedy = Verdict.PASS, ""
    if not can_be_cut and hole.how == "mark":
        verdict = Verdict.WARN
        remedy = f"drill to {hole.diameter:.1f} after cutting, see hole table"
    elif not can_be_cut:
        verdict = Verdict.FAIL
        remedy = f"mark the centre and drill to {hole.diameter:.1f}"
    made = "cut to size" if hole.how == "cut" else "centre mark only"
    return Finding(
        NAME,
        f"{part.name} / {hole.name}",
        verdict,
        f"{hole.diameter:.1f} mm hole in {part.thickness:g} mm plate is {ratio:.2f} times the "
        f"plate; {part.process} cuts {limit:.2f} and more: {made}",
        value=ratio,
        limit=limit,
        unit="ratio",
        remedy=remedy,
        where=part.frame.point((hole.at[0], hole.at[1], 0.0)),
    )
