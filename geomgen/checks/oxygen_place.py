"""An oxygen sensor stands where it lives long and sees every cylinder.

What: tilt of its axis above the horizontal, its place round the pipe, the cylinders whose gas
passes it, the length to an open end, and which side of a turbine it is on.
Why: water that runs into it cracks it; air from an open end or gas of one cylinder misleads it;
heat and pressure before a turbine kill it.
Limit: ``limits.oxygen_tilt``; not in the lower third of the pipe; every cylinder of its scroll;
``limits.oxygen_to_end`` times the bore where the manifold's outlet ends open.
Source: placement guides for oxygen sensors (10 deg, 10 diameters, not in the lower third).
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.model import Attachment, Design
from geomgen.errors import Finding, Verdict
from geomgen.geometry.frames import angle_between, dot, norm, scale, sub

NAME = "oxygen-place"

_SLACK = 1e-6
_THIRD = 60.0
"""Half of the lower third of a pipe's round [deg]."""
_STEEP = 60.0
"""A pipe that rises or falls more has no lower third to speak of [deg]."""


def run(design: Design) -> tuple[Finding, ...]:
    """Two to four findings a sensor: tilt, place, what passes it, and an open end."""
    found: list[Finding] = []
    for one in design.attachments:
        if one.fitted.kind == "bung" and one.fitted.use == "oxygen":
            found += [_tilt(design, one), *_round(design, one), _passing(design, one)]
            found += _open_end(design, one)
    return tuple(found)


def _tilt(design: Design, one: Attachment) -> Finding:
    fitted, limit = one.fitted, design.limits["oxygen_tilt"]
    tilt = 90.0 - math.degrees(angle_between(fitted.axis, design.vertical))
    ok = tilt >= limit - _SLACK
    return Finding(
        NAME,
        f"{fitted.name} tilt",
        judged(ok),
        f"its axis stands {tilt:.1f} deg above the horizontal, needs {limit:g} deg",
        tilt,
        limit,
        "deg",
        "" if ok else "turn it up: toward, or lean on a steep pipe",
        fitted.at,
    )


def _round(design: Design, one: Attachment) -> tuple[Finding, ...]:
    """Its place round the pipe, counted from the lowest."""
    fitted, up = one.fitted, design.vertical
    rise = abs(90.0 - math.degrees(angle_between(fitted.flow, up)))
    side = sub(fitted.axis, scale(fitted.flow, dot(fitted.axis, fitted.flow)))
    down = sub(scale(fitted.flow, dot(up, fitted.flow)), up)
    if rise > _STEEP or norm(side) < 1e-9:
        return ()
    away = math.degrees(angle_between(side, down))
    ok = away >= _THIRD - _SLACK
    return (
        Finding(
            NAME,
            f"{fitted.name} place",
            judged(ok),
            f"{away:.0f} deg round the pipe from its lowest, the lower third ends at {_THIRD:g}",
            away,
            _THIRD,
            "deg",
            "" if ok else "turn it up: toward",
            fitted.at,
        ),
    )


def _passing(design: Design, one: Attachment) -> Finding:
    fitted = one.fitted
    lacking = sorted(set(one.of_scroll) - set(one.cylinders))
    said = ", ".join(map(str, one.cylinders)) or "none for certain"
    if design.bolted:
        text, verdict = "it stands before the turbine", Verdict.FAIL
        remedy = "put it into the downpipe, 450 mm or more behind the turbine"
    elif lacking or not one.cylinders:
        text, verdict = "it does not see all cylinders", Verdict.WARN
        remedy = "put it behind the merge of all of them"
    else:
        text, verdict, remedy = "it sees every cylinder", Verdict.PASS, ""
    return Finding(
        NAME,
        f"{fitted.name} gas",
        verdict,
        f"{text}: cylinders whose gas passes it: {said}",
        float(len(lacking)),
        0.0,
        "count",
        remedy,
        fitted.at,
    )


def _open_end(design: Design, one: Attachment) -> tuple[Finding, ...]:
    """Only where nothing is joined to the outlet."""
    fitted, facts = one.fitted, dict(one.fitted.facts)
    joined = any(o.fitted.kind == "end" and o.fitted.use != "plain" for o in design.attachments)
    on_end = any(
        math.dist(flat.frame.origin, design.collector.outlet.origin) <= flat.thickness + 1e-6
        for flat in design.flats
        if not flat.loose
    )
    if joined or on_end or not one.cylinders:
        return ()
    limit, left = design.limits["oxygen_to_end"] * facts["pipe_bore_mm"], facts["to_end_mm"]
    ok = left >= limit - _SLACK
    return (
        Finding(
            NAME,
            f"{fitted.name} open end",
            judged(ok, Verdict.WARN),
            f"{left:.0f} mm before the outlet's end; an open end wants {limit:.0f} mm",
            left,
            limit,
            "mm",
            "" if ok else "let the exhaust go on behind it, or move the sensor up",
            fitted.at,
        ),
    )
