"""A tube goes into its window as the process cuts it, or the shop is told what to do.

What: the fit between tube and window on the small side of the cut's taper: as drawn, less
the limit deviation and the taper of both walls, at the worst; and the metal to be filed.
Where a port leans, also the gap that the leaning tube leaves on one side of its square-cut
window: it touches the other.
Why: a window drawn 0.3 mm large and cut 1.3 mm small does not take the tube; one cut as
much too large leaves a gap that no thin wall bridges.
Limit: 0 for a fit as cut; to be filed warns, and fails beyond ``limits.file_most``;
a fit drawn wider a side than ``limits.weld_gap_over_wall`` fails; ``limits.cut_class_plasma``,
``cut_class_laser``, ``cut_range_plasma``, ``cut_range_laser``, ``cut_tolerance_waterjet``
and ``cut_taper_waterjet``, or the shop's own ``window_tolerance`` and ``window_taper``.
Source: ISO 9013 by public reprints, waterjet shops' rules; classes common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from geomgen.design.leaning import STRAIGHT
from geomgen.design.model import Design, FlatPart
from geomgen.design.window_fit import Fit, advice, fit_of
from geomgen.errors import Finding, Verdict
from geomgen.geometry.frames import angle_between

NAME = "window-fit"

_OPEN = (
    "close the open side before welding: file the window's walls to the lean from a narrower cut, "
    "have it cut at the port's angle, or take window: butt"
)

_VERDICTS = {
    "as cut": Verdict.PASS,
    "file": Verdict.WARN,
    "cut small and file": Verdict.WARN,
    "unknown": Verdict.WARN,
    "finer process": Verdict.FAIL,
    "too loose": Verdict.FAIL,
}


def run(design: Design) -> tuple[Finding, ...]:
    """Findings a plate whose windows take tubes: its worst window, and what leans [mm]."""
    walls = {r.cylinder: r.entry_outer - r.entry_inner for r in design.runners}
    return tuple(
        finding
        for part in design.flats
        if part.window_style != "butt" and not part.sheet and (of := _walls(part, walls))
        for finding in (_finding(part, _worst(design, part, of)), *_leaning(design, part, of))
    )


def _leaning(design: Design, part: FlatPart, walls: list[float]) -> Iterator[Finding]:
    """A finding where a tube leans in a window: ``t tan lean`` is open on one side."""
    leans = {
        port.cylinder: angle_between(port.frame.z, part.frame.z)
        for port in design.ports
        if port.cylinder in part.cylinders
    }
    lean, cylinder = max(((lean, c) for c, lean in leans.items()), default=(0.0, 0))
    if lean < STRAIGHT:
        return
    left = part.thickness * math.tan(lean)
    limit = design.limits["weld_gap_over_wall"] * min(walls)
    good = left + part.window_fit / 2.0 <= limit
    yield Finding(
        NAME,
        f"{part.name} / leaning tubes",
        Verdict.PASS if good else Verdict.WARN,
        f"port {cylinder} leans {math.degrees(lean):.1f} deg: its window is cut square and leaves "
        f"{left:.2f} mm on one side beside the fit; {limit:.2f} can be welded",
        value=left + part.window_fit / 2.0,
        limit=limit,
        unit="mm",
        remedy="" if good else _OPEN,
    )


def _walls(part: FlatPart, runners: dict[int, float]) -> list[float]:
    """Wall of the tube in each window: a runner's, or the part's own; none if unknown."""
    if part.cylinders:
        return [runners[cylinder] for cylinder in part.cylinders]
    return [part.window_wall] * len(part.windows) if part.window_wall > 0.0 else []


def _worst(design: Design, part: FlatPart, walls: list[float]) -> Fit:
    fits = [
        fit_of(
            window,
            fit=part.window_fit,
            wall=wall,
            process=part.process,
            thickness=part.cut_thickness,
            limit=design.limits.__getitem__,
        )
        for wall, window in zip(walls, part.windows, strict=True)
    ]
    return max(fits, key=lambda fit: (fit.way == "unknown", fit.way == "too loose", fit.file))


def _finding(part: FlatPart, fit: Fit) -> Finding:
    if fit.quality is None:
        return Finding(
            NAME,
            f"{part.name} / windows",
            _VERDICTS[fit.way],
            f"no deviation is known for {part.process} in {part.cut_thickness:g} mm plate",
            remedy=advice(fit),
        )
    return Finding(
        NAME,
        f"{part.name} / windows",
        _VERDICTS[fit.way],
        f"drawn with {part.window_fit:g} mm over both sides; cut by {part.process} "
        f"({fit.quality.source}: {fit.quality.deviation:.2f} mm either way, taper "
        f"{fit.quality.taper:.2f} mm a wall) it is {fit.least:+.2f} to {fit.most:+.2f} mm on the "
        "small side",
        value=fit.least,
        limit=0.0,
        unit="mm",
        remedy=advice(fit),
    )
