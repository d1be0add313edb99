"""Every nut can be put to its stud's tip and run down to its seat, and every bolt put in.

What: a bar over the nut's corners, along the stud from the seat to beyond its tip by the
nut's height and the room that holds it; with play, clear of runners, transitions, collector,
other studs and obstacles. Of a bolt it is its head, with the bolt's whole length before the
seat.
Why: a spanner may turn a nut that no hand can put on.
Limit: ``limits.tool_play`` round the nut, ``limits.nut_start`` over it; nuts of ISO 4032, or
of the tools' size where none listed is for that.
Source: ISO 4032 for the nut, ISO 4014 for the head; the room is common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.checks._clearances import beside_unseen
from geomgen.checks._rooms import left_by_runners
from geomgen.design.access import Site, nut_bar, nut_way, sites_of
from geomgen.design.joint_access import joints_of
from geomgen.design.model import Design, Stud
from geomgen.errors import Finding

NAME = "nut-start"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a stud: room beside the nut beyond its play [mm]."""
    sites = (*sites_of(design), *joints_of(design))
    found = tuple(_finding(design, site, stud) for site in sites for stud in site.studs)
    return beside_unseen(design, found)


def _finding(design: Design, site: Site, stud: Stud) -> Finding:
    left = left_by_runners(design, (nut_way(site, stud),))
    room, what = left.room, left.runner
    bar = nut_bar(site, stud)
    if bar is not None and -bar.lacks < room:
        room, what = -bar.lacks, bar.name
    ok = room >= 0.0 and bar is None
    fixed = bar is not None and what == bar.name
    message, shorter = _words(stud, ok, what, room)
    remedy = f"{'move it' if fixed or not site.routed else 'solve again'}, or take {shorter}"
    return Finding(
        NAME,
        stud.called,
        judged(ok),
        message,
        room,
        0.0,
        "mm",
        "" if ok else remedy,
        site.frame.point(stud.at),
    )


def _words(stud: Stud, ok: bool, what: str, room: float) -> tuple[str, str]:
    """What is said of a nut or a bolt, and what takes less room."""
    goes, way, shorter = (
        ("the bolt goes in", "its way in", "a shorter bolt")
        if stud.bolt
        else ("the nut goes on", "its way on to the stud", "a shorter stud")
    )
    if ok:
        return f"{goes}; {what} leaves {room:.1f} mm to spare beside it", shorter
    kind = "bolt" if stud.bolt else "nut"
    return f"the {kind} cannot be started: {what} stands {-room:.1f} mm into {way}", shorter
