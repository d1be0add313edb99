"""A long tail is held up.

What: pipe behind the collector, its flex joint and what follows it, and the bracket points on it.
Why: a manifold that carries a long pipe by itself cracks at its flange.
Limit: ``limits.tail_length`` without a bracket point; of a turbine see ``turbine-support``.
Source: common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.families import Fitted

NAME = "tail-support"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding where a tail is long, or held [mm]."""
    flexes = [one.fitted.name for one in design.attachments if one.fitted.kind == "flex"]
    tails = {"outlet", *flexes, *(f"{name}_tail" for name in flexes)}
    length = math.fsum(path.length for name, path, _ in design.collector.envelopes if name in tails)
    held = [
        one.fitted
        for one in design.attachments
        if one.fitted.kind == "support" and one.fitted.host in tails
    ]
    limit = design.limits["tail_length"]
    if length <= limit and not held:
        return ()
    text = f"{length:.0f} mm of pipe behind the collector"
    if held:
        points = " and ".join(f"{one.name} {_point(one)}" for one in held)
        text += f", held at {points}"
    else:
        text += f", held by nothing; up to {limit:g} mm may hang"
    return (
        Finding(
            NAME,
            "tail",
            judged(bool(held), Verdict.WARN),
            text,
            length,
            limit,
            "mm",
            "" if held else "add a bracket point: attachments, kind support",
            held[0].at if held else design.collector.outlet.origin,
        ),
    )


def _point(held: Fitted) -> str:
    x, y, z = (dict(held.facts)[key] for key in ("x_mm", "y_mm", "z_mm"))
    return f"({x:.0f}, {y:.0f}, {z:.0f})"
