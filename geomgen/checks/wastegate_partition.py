"""A gate's partition keeps both scrolls apart to the seat, and each half is as wide as the seat.

What: of a gate that both scrolls share, how far its sheet stays behind the face that the valve
sits in; least bore area of each half, branch to seat, over that half of the seat.
Why: before the seat both scrolls share what the sheet leaves open, and pulses pass there; a half
that is narrower than the seat throttles its scroll before the valve does.
Limit: ``limits.partition_gap``; ``limits.wastegate_half``, below which it warns.
Source: builders' pages ask for a partition to the gate's seat; the numbers are common practice, no
source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Attachment, Design
from geomgen.errors import Finding, Verdict

NAME = "wastegate-partition"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """Two findings a half of each gate with a partition; none for any other."""
    return tuple(
        found
        for one in design.attachments
        if one.fitted.kind == "wastegate" and "sheet_mm" in dict(one.fitted.facts)
        for found in (_gap(design, one), _area(design, one))
    )


def _gap(design: Design, one: Attachment) -> Finding:
    facts, limit = dict(one.fitted.facts), design.limits["partition_gap"]
    gap = facts["sheet_to_seat_mm"]
    ok = gap <= limit + _SLACK
    return Finding(
        NAME,
        f"{one.fitted.name} sheet",
        judged(ok),
        f"{facts['sheet_mm']:g} mm of sheet ends {gap:.2f} mm before the seat",
        gap,
        limit,
        "mm",
        "" if ok else "make partition.short less",
        one.fitted.at,
    )


def _area(design: Design, one: Attachment) -> Finding:
    facts, limit = dict(one.fitted.facts), design.limits["wastegate_half"]
    least, seat = facts["half_area_mm2"], facts["half_seat_area_mm2"]
    ok = least / seat >= limit - _SLACK
    return Finding(
        NAME,
        f"{one.fitted.name} area",
        judged(ok, Verdict.WARN),
        f"{least:.0f} mm2 of bore at the least, {least / seat:.2f} times its half of the seat, "
        f"{seat:.0f} mm2",
        least / seat,
        limit,
        "ratio",
        "" if ok else "make branches and round end wider, or the seat smaller",
        one.fitted.at,
    )
