"""A formed tube fills its window without being stretched.

What: a socket window's perimeter, less the fit, against the round tube's OD perimeter.
Why: a tube is formed to the port's shape at constant perimeter; a window that is too long
leaves a gap to fill with weld, one that is too short does not take the tube.
Limit: ``limits.window_perimeter_percent``.
Source: common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.design.model import Design, FlatPart
from geomgen.errors import Finding, Verdict
from geomgen.profiles.loops import Loop, perimeter

NAME = "window-perimeter"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a socket window [%]; butt windows take no tube."""
    tubes = {runner.cylinder: 2.0 * runner.outer_radius for runner in design.runners}
    limit = design.limits["window_perimeter_percent"]
    return tuple(
        _finding(part, cylinder, window, tubes[cylinder], limit)
        for part in design.flats
        if part.window_style == "socket"
        for cylinder, window in zip(part.cylinders, part.windows, strict=True)
    )


def _finding(part: FlatPart, cylinder: int, window: Loop, od: float, limit: float) -> Finding:
    # a convex loop moved inwards by fit / 2 is shorter by 2 pi times that (Steiner)
    formed = perimeter(window) - math.pi * part.window_fit
    tube = math.pi * od
    off = 100.0 * (formed / tube - 1.0)
    good = abs(off) <= limit
    return Finding(
        NAME,
        f"{part.name} / window {cylinder}",
        Verdict.PASS if good else Verdict.FAIL,
        f"window less fit is {formed:.1f} mm round, the {od:g} mm tube {tube:.1f} mm: {off:+.2f} %",
        value=off,
        limit=limit,
        unit="%",
        remedy=""
        if good
        else f"use a tube of {formed / math.pi:.1f} mm OD, or a port shape to match, or butt",
    )
