"""Transitions are not steeper than the flow follows.

What: steepest wall of each port-to-round transition against the port's axis.
Why: gas leaves a steep wall, and the sheet cannot be formed to it.
Limit: ``limits.wall_angle``. A length that was left to us (``auto``) keeps it, unless the
longest usual transition is still too steep; that is said.
Source: common practice, no source: 10 to 15 deg.
"""

from __future__ import annotations

import math

from geomgen.checks import Early, judged
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding

NAME = "transition-wall"
EARLY = Early.TOLD

_TOO_STEEP = "choose a tube nearer to the port's size and shape, or give a longer length"


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a runner [deg]."""
    limit = design.limits["wall_angle"]
    found = []
    for cylinder, transition in design.transitions:
        angle = math.degrees(transition.wall_angle)
        ok = angle <= limit + 1e-9
        chosen = transition.chosen
        found.append(
            Finding(
                NAME,
                f"runner {cylinder}",
                judged(ok),
                f"steepest wall {angle:.1f} deg over {transition.length:g} mm"
                f"{', as short as the wall allows' if chosen and ok else ''}"
                f"{', the longest that auto takes' if chosen and not ok else ''}",
                angle,
                limit,
                "deg",
                "" if ok else _TOO_STEEP if chosen else "make runners.transition.length longer",
            )
        )
    return tuple(found)
