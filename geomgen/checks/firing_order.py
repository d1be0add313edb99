"""Cylinders whose pistons move together fire a turn apart.

What: pairs of cylinders that come to the top together, and the crank angle between their firings:
first and last, second and last but one, ... of an inline engine with an even number of cylinders,
four or more; those at one place along the crank of a flat four whose banks are said.
Why: of two pistons that come up together one compresses while the other clears, so 360 degrees
lie between them. An order that has it otherwise is most likely a slip of the pen, and places round
the collector, pairs and scrolls all follow from it.
Limit: 360 degrees; anything else warns, for cranks of other shapes exist.
Source: geometry of a crank that is its own mirror image, and of opposed pistons; that inline
fours and sixes have such cranks is common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.checks import Early, judged
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding, Verdict
from geomgen.targets.cranks import apart, in_step, usual

NAME = "firing-order"
EARLY = Early.STOPS
KEYS = (("engine", "firing_order"),)

_TURN = 360.0


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding for an engine whose pairs are known [deg]."""
    order, engine = design.firing_order, design.engine
    pairs = in_step(engine.layout, len(order), tuple(row for _, row in engine.banks))
    if not pairs:
        return ()
    gaps = {pair: round(math.degrees(apart(order, *pair)), 6) for pair in pairs}
    off = {pair: gap for pair, gap in gaps.items() if gap < _TURN}
    said = "-".join(map(str, order))
    together = ", ".join(f"{a} with {b}" for a, b in pairs)
    told = ", ".join(f"{a} and {b} {gap:.0f} deg" for (a, b), gap in off.items())
    known = " or ".join("-".join(map(str, one)) for one in usual(pairs))
    return (
        Finding(
            NAME,
            "engine",
            judged(not off, Verdict.WARN),
            f"in {said}, {told} apart, where an ordinary crank brings {together} up together"
            if off
            else f"in {said}, cylinders that come up together, {together}, fire 360 deg apart",
            min(gaps.values()),
            _TURN,
            "deg",
            "" if not off else _remedy(known),
        ),
    )


def _remedy(known: str) -> str:
    order = f"; {known} is usual" if known else ""
    return f"correct firing_order{order}; if the crank is of another shape, waive this with that"
