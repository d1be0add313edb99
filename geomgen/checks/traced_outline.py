"""A traced port is as good as its trace.

What: how far lines and arcs lie from the trace at most; with the number of points and pieces,
gaps that were closed and duplicates that were dropped.
Why: a port is matched to the traced edge to a few tenths; a gap that was closed is an edge
that nobody drew.
Limit: ``fit`` of the ports; a gap that was closed warns.
Source: the trace itself, re-measured both ways, point to piece and piece to trace.
"""

from __future__ import annotations

from geomgen.checks import Early
from geomgen.design.groundwork import Ground
from geomgen.design.model import Port
from geomgen.errors import Finding, Verdict

NAME = "traced-outline"
EARLY = Early.TOLD


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding for all ports of one outline [mm]; none where nothing is traced."""
    by_outline: dict[tuple[object, ...], list[Port]] = {}
    for port in design.ports:
        if port.facts:
            by_outline.setdefault((port.loop, port.facts), []).append(port)
    return tuple(_finding(ports) for ports in by_outline.values())


def _finding(ports: list[Port]) -> Finding:
    facts = dict(ports[0].facts)
    off, limit = facts["deviation_mm"], facts["fit_mm"]
    gaps = int(facts["gaps_closed"])
    good = off <= limit * (1.0 + 1e-6)
    verdict = Verdict.FAIL if not good else Verdict.WARN if gaps else Verdict.PASS
    numbers = [str(port.cylinder) for port in ports]
    closed = f", {gaps} gaps of up to {facts['widest_gap_mm']:.2f} mm closed" if gaps else ""
    again = facts["duplicates_dropped"]
    dropped = f", {again:.0f} strokes that were drawn twice dropped" if again else ""
    of = f"outline {facts['outline_taken']:.0f} of {facts['outlines']:.0f}: "
    return Finding(
        NAME,
        f"port{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}",
        verdict,
        f"{of}{facts['points']:.0f} points as {facts['pieces']:.0f} lines and arcs, "
        f"{facts['corners']:.0f} corners, at most {off:.3f} mm off the trace{closed}{dropped}",
        off,
        limit,
        "mm",
        "" if verdict is Verdict.PASS else "mend the trace where it is open, and look at the port",
    )
