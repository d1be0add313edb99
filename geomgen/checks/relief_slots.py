"""Every relief slot that was asked for is there, and leaves no horn at the edge.

What: a slot between every two neighbouring windows; the metal left at the corners of its mouth.
Why: a gap without its slot does not let the hot plate grow; a horn burns away in the cut, or
breaks off in the hand.
Limit: a slot clear of windows and bosses that reaches 40 % of the way across; 30 deg of metal at a
corner, which is rounded in any case. Either warns.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "relief-slots"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for whatever is wrong with a flange's slots, or one that nothing is."""
    return tuple(
        finding
        for part in design.head_flanges
        if part.whole is not None
        for finding in (
            tuple(
                Finding(NAME, part.name, Verdict.WARN, said, remedy=_REMEDY)
                for said in part.warnings
            )
            or (Finding(NAME, part.name, Verdict.PASS, "a slot in every gap, no horn at any"),)
        )
    )


_REMEDY = "make flange.relief narrower, take less flange.land, or choose flange.outline: bar"
