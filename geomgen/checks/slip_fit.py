"""Runners slide into the collector's slip tubes, the tail into the next pipe, and stay there.

What: the outer tubes' bore less the inner ones' outside, by their real diameters; and how far the
inner ones' ends are inside.
Why: sizes a step apart in a table need not slide: with the wall of one gauge they jam, with
that of another they rattle and leak. A short overlap works loose; a long one does not go on.
Limit: ``limits.slip_clearance_min`` and ``limits.slip_clearance_max``,
``limits.slip_overlap_min`` and ``limits.slip_overlap_max``; outside it warns. Tubes that do not
slide at all are refused with the spec.
Source: common practice, no source: 0.1 to 0.4 mm on the diameter, 25 to 50 mm.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "slip-fit"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for clearance and one for overlap [mm], of a slip entry and of a slip end."""
    return (*_entry(design), *_end(design))


def _entry(design: Design) -> tuple[Finding, ...]:
    facts = dict(design.collector.facts)
    if "slip_clearance_mm" not in facts:
        return ()
    clear = facts["slip_clearance_mm"]
    least, most = facts["slip_overlap_mm"], facts["slip_overlap_most_mm"]
    of_clear, of_lap = _usual(design)
    reach = f"{least:.1f} mm" if most - least < 0.05 else f"{least:.1f} to {most:.1f} mm"
    return (
        _finding(
            "clearance",
            f"{clear:.2f} mm on the diameter between runner and slip tube",
            (clear, clear),
            of_clear,
            "choose a slip tube with another wall, or have the runners' ends sized",
        ),
        _finding(
            "overlap",
            f"runners' ends {reach} inside; springs or tabs hold them, they are not drawn",
            (least, most),
            of_lap,
            "choose collector.slip.overlap within the usual",
        ),
    )


def _end(design: Design) -> tuple[Finding, ...]:
    facts = dict(design.collector.facts)
    if "slip_end_overlap_mm" not in facts:
        return ()
    clear, lap = facts["slip_end_clearance_mm"], facts["slip_end_overlap_mm"]
    of_clear, of_lap = _usual(design)
    return (
        _finding(
            "tail's clearance",
            f"{clear:.2f} mm on the diameter between tail and next pipe",
            (clear, clear),
            of_clear,
            "choose a next pipe with another wall, or have its end sized",
        ),
        _finding(
            "tail's overlap",
            f"the next pipe goes {lap:.1f} mm over the tail",
            (lap, lap),
            of_lap,
            "choose slip.overlap of the end within the usual",
        ),
    )


def _usual(design: Design) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and most of clearance, and of overlap [mm]."""
    limits = design.limits
    return (
        (limits["slip_clearance_min"], limits["slip_clearance_max"]),
        (limits["slip_overlap_min"], limits["slip_overlap_max"]),
    )


def _finding(
    subject: str,
    said: str,
    found: tuple[float, float],
    usual: tuple[float, float],
    remedy: str,
) -> Finding:
    slack = 1e-9
    ok = usual[0] - slack <= found[0] and found[1] <= usual[1] + slack
    over = found[1] > usual[1]
    return Finding(
        NAME,
        subject,
        judged(ok, Verdict.WARN),
        f"{said}, usual {usual[0]:g} to {usual[1]:g} mm",
        found[1] if over else found[0],
        usual[1] if over else usual[0],
        "mm",
        "" if ok else remedy,
    )
