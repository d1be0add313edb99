"""Every V-band has room for its clamp, and for a tool at the clamp's screw.

What: the clamp's band round both rings; and at one of 24 clockings, its nut looking one way round
or the other, its lugs, its screw and one of the listed tools; all with play, clear of runners,
collector, other flanges with their nuts, and obstacles. What is clamped on is not known.
Why: a clamp that does not go on, or whose screw faces a pipe, leaves the joint open.
Limit: ``limits.tool_play`` round band, lugs and tool; ``limits.clamp_band``, ``clamp_width`` and
``clamp_lug`` for the clamp. An ordinary tool that is not listed warns.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.checks._clearances import beside_unseen
from geomgen.checks._rooms import left_by_runners
from geomgen.design.access import Bar, places_at, room_bar
from geomgen.design.clamps import Clocked, band, clocked
from geomgen.design.model import Design, Joint
from geomgen.errors import Finding, Verdict
from geomgen.geometry.fields import placed

NAME = "clamp-room"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a V-band: room that runners leave beside its clamp [mm]."""
    found = tuple(_finding(design, joint) for joint in design.mated if joint.ring)
    return beside_unseen(design, found)


def _finding(design: Design, joint: Joint) -> Finding:
    room, bar = band(design, joint)
    left = left_by_runners(design, (placed(room.field, joint.frame),))
    if bar is not None or left.room < 0.0:
        worst = bar or Bar(left.runner, -left.room)
        said = f"{worst.name} stands {worst.lacks:.1f} mm into the band's room"
        return _fail(design, joint, said, worst)
    barred: list[tuple[Bar, float]] = []
    for place in clocked(design, joint):
        bar = _barred(design, place)
        if bar is not None:
            barred.append((bar, place.clocking))
            continue
        for tool in places_at(place.site, place.nut):
            room_left = min(left.room, left_by_runners(design, tool.fields).room)
            if room_left >= 0.0:
                return _free(joint, place, tool.tool, room_left)
        barred.append((Bar("every tool's way", 0.0), place.clocking))
    least, at = min(barred, key=lambda pair: (pair[0].lacks, pair[1]))
    return _fail(
        design,
        joint,
        f"its screw has room with a tool nowhere round; at {at:g} deg, where least is in its way, "
        f"{least.name} stands {least.lacks:.1f} mm into it"
        if least.lacks
        else f"no tool has room at its screw anywhere round, not at {at:g} deg either, where the "
        "screw itself has",
        least,
    )


def _barred(design: Design, place: Clocked) -> Bar | None:
    """What bars lugs and screw, of what stands still and of runners."""
    bar = room_bar(place.site, place.nut, place.lugs)
    if bar is not None:
        return bar
    left = left_by_runners(design, (placed(place.lugs.field, place.site.frame),))
    return Bar(left.runner, -left.room) if left.room < 0.0 else None


def _free(joint: Joint, place: Clocked, tool: str, room: float) -> Finding:
    listed = place.site.listed
    return Finding(
        NAME,
        joint.name,
        judged(listed, Verdict.WARN),
        f"the clamp goes on with its screw {place.clocking:g} deg clockwise from the top, as seen "
        f"from the tube: {tool}, runners leave {room:.1f} mm beside it"
        + ("" if listed else f"; no tool for its {place.nut.thread} screw is listed"),
        room,
        0.0,
        "mm",
        "" if listed else "list one under tools: 13 mm across flats, or 10",
        joint.frame.origin,
    )


def _fail(design: Design, joint: Joint, said: str, bar: Bar) -> Finding:
    ways = "lengthen or turn the pipe that ends in it, list another tool, or "
    still = bar.name in {obstacle.name for obstacle in design.problem.obstacles}
    return Finding(
        NAME,
        joint.name,
        Verdict.FAIL,
        f"the clamp does not go on: {said}",
        -bar.lacks,
        0.0,
        "mm",
        ways + (f"move {bar.name}" if still else "keep runners away with an obstacle"),
        joint.frame.origin,
    )
