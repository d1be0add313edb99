"""A wastegate's branch leans with the flow.

What: angle from the way the gas goes to the branch's axis, where the two cross.
Why: gas that must turn back passes the gate by, and boost creeps.
Limit: ``limits.wastegate_lean``.
Source: builders' pages ask for a lean with the flow and no U-turn; the number is common practice,
no source.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.model import Attachment, Design
from geomgen.errors import Finding
from geomgen.geometry.frames import angle_between

NAME = "wastegate-lean"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a branch [deg]."""
    return tuple(
        _finding(design, one) for one in design.attachments if one.fitted.kind == "wastegate"
    )


def _finding(design: Design, one: Attachment) -> Finding:
    fitted, limit = one.fitted, design.limits["wastegate_lean"]
    lean = math.degrees(angle_between(fitted.flow, fitted.axis))
    ok = lean <= limit + _SLACK
    turn = "a U-turn" if lean > 90.0 else "it turns the gas too far"
    return Finding(
        NAME,
        fitted.name,
        judged(ok),
        f"{lean:.1f} deg from the way the gas goes in {fitted.host}, at most {limit:g} deg"
        + ("" if ok else f": {turn}"),
        lean,
        limit,
        "deg",
        "" if ok else f"make its lean {limit:g} deg or less",
        fitted.at,
    )
