"""Transitions are not steeper than the flow follows.

What: steepest wall of each port-to-round transition against the port's axis.
Why: gas leaves a steep wall, and the sheet cannot be formed to it.
Limit: ``limits.wall_angle``.
Source: common practice, no source: 10 to 15 deg.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding

NAME = "transition-wall"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner [deg]."""
    limit = design.limits["wall_angle"]
    found = []
    for runner in design.runners:
        angle = math.degrees(runner.transition.wall_angle)
        ok = angle <= limit
        found.append(
            Finding(
                NAME,
                f"runner {runner.cylinder}",
                judged(ok),
                f"steepest wall {angle:.1f} deg over {runner.transition.length:g} mm",
                angle,
                limit,
                "deg",
                "" if ok else "make runners.transition.length longer",
            )
        )
    return tuple(found)
