"""A formed tube fills its window without being stretched.

What: a socket window's perimeter, less the fit, against the round tube's OD perimeter. The
window of a leaning port is what its tube sweeps: there it is the port's shape and the wall.
Why: a tube is formed to the port's shape at constant perimeter; a window that is too long
leaves a gap to fill with weld, one that is too short does not take the tube.
Limit: ``limits.window_perimeter_percent``.
Source: common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.checks import Early
from geomgen.design.groundwork import Ground
from geomgen.design.leaning import STRAIGHT
from geomgen.design.model import FlatPart
from geomgen.errors import Finding, Verdict
from geomgen.geometry.frames import angle_between
from geomgen.profiles.loops import Loop, perimeter

NAME = "window-perimeter"
EARLY = Early.TOLD


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a socket window [%]; butt and round windows take no formed tube."""
    tube, limit = design.entry, design.limits["window_perimeter_percent"]
    found = []
    for part in design.flats:
        if part.window_style != "socket" or not part.cylinders or part.sheet:
            continue
        leaning = _leaning(design, part)
        for cylinder, window in zip(part.cylinders, part.windows, strict=True):
            # a loop moved inwards by fit / 2 is shorter by 2 pi times that (Steiner)
            formed = perimeter(window) - math.pi * part.window_fit
            if cylinder in leaning:
                wall = tube.outer_radius - tube.inner_radius
                formed = perimeter(leaning[cylinder]) + math.tau * wall
            found.append(_finding(part, cylinder, formed, 2.0 * tube.outer_radius, limit))
    return tuple(found)


def _leaning(design: Ground, part: FlatPart) -> dict[int, Loop]:
    """Shapes of the ports that lean to a plate, square to their axes."""
    return {
        port.cylinder: port.loop
        for port in design.ports
        if angle_between(port.frame.z, part.frame.z) > STRAIGHT
    }


def _finding(part: FlatPart, cylinder: int, formed: float, od: float, limit: float) -> Finding:
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
