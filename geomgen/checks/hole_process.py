"""Every bolt hole can be made the way the plate is cut.

What: hole over plate thickness as cut against what the process cuts to size. A hole below the
limit is cut small and drilled where the process holds the pilot, else marked and drilled, and
warns; a hole that would be burnt all the same fails, and so does a tapped or dowel hole that is
cut to size, and a pilot that leaves the drill too little.
Why: a thermal cut blows a small hole out, tapers it and hardens its edge; the shop rings
up, or drills break.
Limit: ``limits.hole_ratio_plasma``, ``hole_ratio_laser``, ``hole_ratio_waterjet``,
``pilot_ratio_plasma``, ``pilot_ratio_laser``, ``pilot_ratio_waterjet``, ``pilot_stock`` and
``hole_floor_waterjet``.
Source: plasma, laser and waterjet shops' public guides; waterjet and pilots common practice,
no source.
"""

from __future__ import annotations

from geomgen.checks import Early
from geomgen.design.cutting import Cutter
from geomgen.design.groundwork import Ground
from geomgen.design.model import FlatPart, Hole
from geomgen.errors import Finding, Verdict

NAME = "hole-process"
EARLY = Early.TOLD


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a hole; value and limit are hole over plate [-]."""
    return tuple(
        _finding(part, hole, Cutter.of(design.limits.__getitem__, part.process))
        for part in design.flats
        for hole in part.holes
    )


def _finding(part: FlatPart, hole: Hole, cutter: Cutter) -> Finding:
    thickness = part.cut_thickness
    limit = cutter.size_limit(thickness)
    fault = _fault(hole, cutter, thickness)
    verdict, remedy = Verdict.PASS, ""
    if fault:
        verdict, remedy = Verdict.FAIL, f"mark the centre and {finished(hole)}"
    elif hole.how != "cut":
        # a tapped or dowel hole is drilled anyway: nothing to be warned of
        verdict = Verdict.WARN if hole.kind == "clearance" else Verdict.PASS
        remedy = f"{finished(hole)} after cutting, see hole table"
    return Finding(
        NAME,
        f"{part.name} / {hole.name}",
        verdict,
        f"{hole.diameter:.1f} mm {_what(hole)} in {thickness:g} mm plate is "
        f"{hole.diameter / thickness:.2f} times the plate; {part.process} cuts {limit:.2f} and "
        f"more: {_made(hole)}" + (f"; {fault}" if fault else ""),
        value=hole.diameter / thickness,
        limit=limit,
        unit="ratio",
        remedy=remedy,
        where=part.frame.point((hole.at[0], hole.at[1], 0.0)),
    )


def finished(hole: Hole) -> str:
    """What is done after cutting: ``drill to 9.0``, ``drill 6.8 and tap M8``."""
    if hole.kind == "tapped":
        return f"drill {hole.diameter:.1f} and tap {hole.thread}"
    if hole.slot > 0.0:
        return f"drill both ends and mill the slot {hole.diameter:.1f} wide"
    what = "drill and ream to" if hole.kind == "dowel" else "drill to"
    return f"{what} {hole.diameter:.1f}"


def _what(hole: Hole) -> str:
    if hole.kind != "clearance":
        return f"{hole.kind} hole"
    return "slot" if hole.slot > 0.0 else "hole"


def _made(hole: Hole) -> str:
    if hole.how == "pilot":
        return f"cut to {hole.pilot:.1f}"
    return "cut to size" if hole.how == "cut" else "centre mark only"


def _fault(hole: Hole, cutter: Cutter, thickness: float) -> str:
    """Why the hole cannot be made like this; empty when it can."""
    if hole.how == "cut" and hole.kind != "clearance":
        return f"a {hole.kind} hole is drilled, not cut"
    if hole.how == "cut" and hole.diameter < cutter.size_limit(thickness) * thickness - 1e-9:
        return "too small to be cut"
    if hole.how != "pilot":
        return ""
    if hole.pilot < cutter.pilot_limit(thickness) * thickness - 1e-9:
        return "the pilot is too small to be cut"
    stock = (hole.diameter - hole.pilot) / 2.0
    return "" if stock >= cutter.stock - 1e-9 else f"the drill has only {stock:.1f} mm to take off"
