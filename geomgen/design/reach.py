"""The room that each tool takes up at a nut or a head, and the room that it needs to go on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from geomgen.design.model import Stud
from geomgen.fasteners import FASTENERS
from geomgen.geometry.fields import Box, Cylinder, Field, Swing
from geomgen.geometry.frames import Frame, Vec
from geomgen.geometry.rooms import Room, bar_box
from geomgen.geometry.spanner import OpenEnd
from geomgen.spec.tools import Open, Ring, Socket, size_of

HEADINGS = 12
"""Directions tried for a spanner's swing, evenly round the stud."""

LEANS = ((1.0, 8), (0.5, 4))
"""Where a wobble extension is tried: shares of its cone, and headings evenly round."""

JAWS = math.radians(15.0)
"""An open-ended spanner's jaws against its handle [rad]; common practice, no source."""

# Sizes of tools over their size across flats. Common practice, no source; a spec may give
# diameter and length of its own.
_SOCKET = 1.45
_RING_HEAD = 1.6
_OPEN_HEAD = 2.1
_SPANNER_LENGTH = 14.0
_SPANNER_WIDTH = 0.9
_RING_THICKNESS = 0.75
_OPEN_THICKNESS = 0.45


@dataclass(frozen=True)
class Nut:
    """A nut on its stud, or the head of a bolt [mm].

    Attributes:
        at: where the stud's axis meets the seat.
        radius: half its width across corners.
        height: of ISO 4032; of a head, of ISO 4014.
        tip: of the stud, along z; of a bolt the seat, which nothing stands out of.
        drawn: length under a bolt's head, which comes out with it; 0 of a nut.
    """

    at: Vec
    radius: float
    height: float
    tip: float
    drawn: float = 0.0

    @property
    def stand(self) -> Room:
        """Stud and nut as they stand: a bar over the corners, to the stud's tip."""
        return self._bar(max(self.tip, self.at[2] + self.height))

    def way_on(self, beyond: float) -> Room:
        """Where the nut is as it goes on: over the stud's tip, then along the stud.

        A bolt's head is where its whole length stands before the seat; its shank is within.

        Args:
            beyond: room over the nut as it is put to the tip, for what holds it [mm].
        """
        return self._bar(max(self.tip, self.at[2]) + self.drawn + self.height + beyond)

    def _bar(self, top: float) -> Room:
        return _bar(self.at, (self.at[0], self.at[1], top), self.radius)


@dataclass(frozen=True)
class Way:
    """One posture of a tool: what it is called, and the rooms that it takes up."""

    label: str
    rooms: tuple[Room, ...]


def nut_of(stud: Stud, seat: float, tools: tuple[Socket | Ring | Open, ...]) -> Nut:
    """The nut of a stud, or a bolt's head: as standards have it, or of the largest tool listed.

    The latter where no tool is for a nut of ISO 4032 or a head of ISO 4014.

    Args:
        stud: of the head, or a bolt.
        seat: height of the nut's seat [mm].
        tools: as the spec lists them.
    """
    fastener = FASTENERS[stud.thread]
    sizes = [size_of(tool) for tool in tools]
    flats = fastener.across_flats
    if sizes and flats not in sizes:
        flats = max(sizes)
    x, y, root = stud.at
    corners = flats / math.cos(math.pi / 6.0)
    if stud.bolt > 0.0:
        return Nut((x, y, seat), corners / 2.0, fastener.head_height, seat, stud.bolt)
    return Nut((x, y, seat), corners / 2.0, fastener.nut_height, root + stud.protrusion)


def tool_name(tool: Socket | Ring | Open) -> str:
    """What a tool is called in reports."""
    if tool.name:
        return tool.name
    if isinstance(tool, Socket):
        return f"{tool.socket:g} mm socket, {tool.extension:g} mm long"
    if isinstance(tool, Ring):
        return f"{tool.ring:g} mm ring spanner"
    return f"{tool.open:g} mm open-ended spanner"


def ways(tool: Socket | Ring | Open, nut: Nut) -> Iterator[Way]:
    """Every posture in which a tool is tried at a nut, the easiest first."""
    if isinstance(tool, Socket):
        return _socket_ways(tool, nut)
    if isinstance(tool, Ring):
        return _ring_ways(tool, nut)
    return _open_ways(tool, nut)


def _socket_ways(tool: Socket, nut: Nut) -> Iterator[Way]:
    name, (x, y, seat) = tool_name(tool), nut.at
    radius = (tool.diameter or _SOCKET * tool.socket) / 2.0
    bar = tool.bar / 2.0 if tool.bar is not None else radius
    joint: Vec = (x, y, seat + tool.alone)
    length = nut.height + tool.extension - tool.alone
    socket = _bar(nut.at, joint, radius)
    if bar == radius:
        yield Way(name, (_bar(nut.at, _toward(joint, 0.0, 0.0, length), radius),))
    else:
        yield Way(name, (socket, _bar(joint, _toward(joint, 0.0, 0.0, length), bar)))
    for share, count in LEANS if tool.wobble is not None else ():
        lean = share * math.radians(tool.wobble or 0.0)
        for i in range(count):
            heading = 2.0 * math.pi * i / count
            leaning = _bar(joint, _toward(joint, heading, lean, length), bar)
            yield Way(
                f"{name} leaning {round(math.degrees(lean), 1):g} deg towards "
                f"{math.degrees(heading):.0f} deg",
                (socket, leaning),
            )


def _ring_ways(tool: Ring, nut: Nut) -> Iterator[Way]:
    head = (tool.diameter or _RING_HEAD * tool.ring) / 2.0
    reach = tool.length or _SPANNER_LENGTH * tool.ring
    half = _RING_THICKNESS * tool.ring / 2.0
    width = _SPANNER_WIDTH * tool.ring / 2.0
    turn = min(math.radians(tool.swing) / 2.0, math.pi / 2.0)
    top = max(nut.tip, nut.at[2]) + 2.0 * half
    over_the_stud = _bar(nut.at, (nut.at[0], nut.at[1], top), head)
    for label, heading, frame in _headings(tool, nut, half):
        swing = Swing(frame, reach, turn, width, half, head)
        box = _sector_box(frame.origin, heading, turn, reach, max(head, width), half)
        yield Way(label, (Room(swing, box), over_the_stud))


def _open_ways(tool: Open, nut: Nut) -> Iterator[Way]:
    width = _SPANNER_WIDTH * tool.open / 2.0
    head = max((tool.diameter or _OPEN_HEAD * tool.open) / 2.0, width)
    reach = tool.length or _SPANNER_LENGTH * tool.open
    half = _OPEN_THICKNESS * tool.open / 2.0
    turn = math.radians(tool.swing) / 2.0
    for label, heading, frame in _headings(tool, nut, half):
        swing = OpenEnd(frame, reach, turn, width, half, head, 2.0 * head, JAWS)
        out = reach + 2.0 * head
        box = _sector_box(frame.origin, heading, turn + JAWS, out, max(head, width), half)
        yield Way(label, (Room(swing, box),))


def _headings(tool: Ring | Open, nut: Nut, half: float) -> Iterator[tuple[str, float, Frame]]:
    x, y, seat = nut.at
    for i in range(HEADINGS):
        heading = 2.0 * math.pi * i / HEADINGS
        frame = Frame((x, y, seat + half), (math.cos(heading), math.sin(heading), 0.0))
        yield f"{tool_name(tool)} pointing {math.degrees(heading):.0f} deg", heading, frame


def _bar(begin: Vec, end: Vec, radius: float) -> Room:
    return Room(Cylinder(begin, end, radius), bar_box(begin, end, radius))


def _toward(begin: Vec, heading: float, lean: float, length: float) -> Vec:
    """The end of what leaves a point at ``lean`` from z [mm, rad]."""
    out = length * math.sin(lean)
    return (
        begin[0] + out * math.cos(heading),
        begin[1] + out * math.sin(heading),
        begin[2] + length * math.cos(lean),
    )


def _sector_box(
    centre: Vec, heading: float, half_angle: float, radius: float, margin: float, half: float
) -> Box:
    """The box that holds a sector of a disc, grown by ``margin`` in its plane."""
    turns = [heading - half_angle, heading + half_angle]
    quarters = (math.pi / 2.0 * k for k in range(-4, 9))
    turns += [q for q in quarters if turns[0] < q < turns[1]]
    xs = [0.0, *(radius * math.cos(turn) for turn in turns)]
    ys = [0.0, *(radius * math.sin(turn) for turn in turns)]
    x, y, z = centre
    return Box(
        (x + min(xs) - margin, y + min(ys) - margin, z - half),
        (x + max(xs) + margin, y + max(ys) + margin, z + half),
    )


def bars(field: Field, other: Field) -> bool:
    """Whether a straight bar holds all of another one on its axis."""
    return (
        isinstance(field, Cylinder)
        and isinstance(other, Cylinder)
        and field.begin == other.begin
        and field.end[:2] == other.end[:2]
        and field.end[2] >= other.end[2]
        and field.radius >= other.radius
    )
