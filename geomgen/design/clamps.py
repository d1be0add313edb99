"""Room for the clamp of a V-band: its band all round, and its screw at one clocking with a tool.

All sizes are common practice, no source. The band is a ring round both rings; its two lugs stand
on it with a gap between them, drawn together by a screw of M8, or of M6 where only 10 mm tools are
listed, whose nut looks one way round or the other. A clamp may be turned about its rings, so one
place where lugs, nut and tool all have room is enough.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from geomgen.design.access import Bar, Site, room_bar
from geomgen.design.joint_access import joint_site
from geomgen.design.model import Design, Joint, Stud
from geomgen.fasteners import FASTENERS
from geomgen.geometry.fields import Box, Cylinder
from geomgen.geometry.frames import Frame, Vec, scale
from geomgen.geometry.rooms import Room, bar_box
from geomgen.spec.tools import size_of

CLOCKINGS = 24
"""Places of the screw that are tried, evenly round the rings."""

LUG = 20.0
"""Length of a lug along the screw, from the middle of the gap to where the nut sits [mm]."""

SCREW = 15.0
"""How far the screw stands out of its nut, for the clamp to be opened [mm]."""


@dataclass(frozen=True)
class Clocked:
    """A clamp's screw at one place.

    Attributes:
        clocking: of the gap, clockwise from the rings' top as seen from the tube side [deg].
        site: of the screw's nut; its frame has z along the screw, x away from the rings.
        nut: the screw, from the lug that its nut sits on.
        lugs: room of both, in the site's coordinates.
    """

    clocking: float
    site: Site
    nut: Stud
    lugs: Room


def band(design: Design, joint: Joint) -> tuple[Room, Bar | None]:
    """Room of the band in the joint's frame, and what that stands still bars it."""
    half = design.limits["clamp_width"] / 2.0
    begin, end = (0.0, 0.0, -half), (0.0, 0.0, half)
    radius = joint.ring + design.limits["clamp_band"]
    room = Room(Cylinder(begin, end, radius), bar_box(begin, end, radius))
    nobody = Stud(joint.name, "M8", (0.0, 0.0, 0.0), 0.0)
    within = replace(joint, own=(*joint.own, *joint.pipes))
    return room, room_bar(replace(joint_site(design, within, (nobody,)), studs=()), nobody, room)


def clocked(design: Design, joint: Joint) -> Iterator[Clocked]:
    """Every place of the screw, from the top round, its nut either way."""
    low, half = design.limits["clamp_band"], design.limits["clamp_width"] / 2.0
    out = max(design.limits["clamp_lug"] - low, 0.0) / 2.0
    thread = _thread(design)
    height = FASTENERS[thread].nut_height
    nut = Stud(joint.name, thread, (0.0, 0.0, 0.0), height + SCREW)
    corner: Vec = (out, half, 0.0)
    lugs = Box((-corner[0], -corner[1], -2.0 * LUG), corner)
    for k in range(CLOCKINGS):
        turn = math.tau * k / CLOCKINGS
        away = (math.sin(turn), math.cos(turn), 0.0)
        round_ = (math.cos(turn), -math.sin(turn), 0.0)
        middle = joint.frame.point(scale(away, joint.ring + low + out))
        for hand in (1.0, -1.0):
            z = joint.frame.vector(scale(round_, hand))
            frame = Frame(middle, joint.frame.vector(away), z).moved(LUG)
            site = joint_site(design, joint, (nut,), frame)
            yield Clocked(360.0 * k / CLOCKINGS, site, nut, Room(lugs, lugs))


def _thread(design: Design) -> str:
    listed = {size_of(tool) for tool in design.tools}
    small, usual = (FASTENERS[thread].across_flats for thread in ("M6", "M8"))
    return "M6" if small in listed and usual not in listed else "M8"
