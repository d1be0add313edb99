"""Left and right are held to the engine.

What: each head's bank, with the end of the engine that it is seen from, and its cylinders from the
front to the flywheel. That the head has those cylinders, on that side, in that order, is a rule of
the spec: a design that breaks it is never made.
Why: left and right change with the end that one looks from, and with who looks. A header for the
wrong bank is found out when it is offered up.
Limit: none; a bank that nothing holds to a side is a warning.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import Early
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding, Verdict

NAME = "bank-side"
EARLY = Early.STOPS
KEYS = (("engine", "banks"),)

_SAY = (
    "say engine.banks: {left: [...], right: [...], seen_from: flywheel, to_flywheel: [x, y, z], "
    "crank: [x, y, z]}, the cylinders of each bank from the front to the flywheel"
)


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a bank that the manifold has a head on; none for an inline engine."""
    engine = design.engine
    if engine.layout == "inline":
        return ()
    return tuple(
        Finding(NAME, f"{bank} bank", Verdict.PASS, engine.told(bank))
        if engine.seen_from
        else Finding(
            NAME,
            f"{bank} bank",
            Verdict.WARN,
            f"{bank} is only a word: nothing says from which end, or holds the head to that side",
            remedy=_SAY,
        )
        for bank in engine.here
    )
