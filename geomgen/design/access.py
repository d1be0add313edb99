"""Room at every stud: to put the nut on, and for one of the listed tools to work.

A place that a fixed thing already bars (another stud, a transition, the collector, an
obstacle) is not offered to the router at all. Every place that is offered holds the nut's
own way on to the stud besides the tool, so what serves a tool serves the nut too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geomgen.design.model import Design, Stud
from geomgen.design.reach import Nut, Way, bars, nut_of, tool_name, ways
from geomgen.fasteners import FASTENERS
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import Span, points_at, to_field
from geomgen.geometry.fields import Field, placed, seen
from geomgen.geometry.frames import WORLD, Frame
from geomgen.geometry.rooms import Room, around, ball, clearance, turned
from geomgen.routing.problem import Body, Obstacle, ToolPlace
from geomgen.spec.tools import Open, Ring, Socket, size_of

Floats = NDArray[np.float64]

_SPACING = 8.0
_ROUGH = 4.0
_CLOSE = 0.2
_MEASURED = 0.5


@dataclass(frozen=True)
class Site:
    """The studs of a head, what must get at them, and what stands still beside them.

    Attributes:
        tools: as the spec lists them, best liked first.
        studs: of the head.
        seat: height of the nuts' seat, the flange's tube side [mm].
        play: air wanted round a tool and a nut [mm].
        beyond: room over a nut that is put to its stud's tip [mm].
        bodies: transitions and collector, as the world has them.
        obstacles: of the spec, as the world has them.
        frame: of the head; rooms are worked out in its coordinates.
        routed: whether runners were laid out round its tools.
        listed: whether a listed tool is of its fasteners' size.
    """

    tools: tuple[Socket | Ring | Open, ...]
    studs: tuple[Stud, ...]
    seat: float
    play: float
    beyond: float
    bodies: tuple[Body, ...]
    obstacles: tuple[Obstacle, ...]
    frame: Frame = WORLD
    routed: bool = True
    listed: bool = True


@dataclass(frozen=True)
class Bar:
    """Something that stands still and bars the way: its name, and by how much [mm]."""

    name: str
    lacks: float


@dataclass(frozen=True)
class Tried:
    """One listed tool at one stud.

    Attributes:
        tool: its name.
        ways: postures that nothing fixed bars, as the router knows them.
        bar: what bars the one that is least barred, where none is left.
    """

    tool: str
    ways: tuple[str, ...]
    bar: Bar | None


@dataclass(frozen=True)
class _Fixed:
    """What stands still beside one stud.

    Attributes:
        play: air wanted [mm].
        bodies: each with points on its axis, no farther apart than the spacing.
        obstacles: of the spec.
        nuts: of the other studs, by what those are called.
    """

    play: float
    bodies: tuple[tuple[Body, Floats], ...]
    obstacles: tuple[Obstacle, ...]
    nuts: tuple[tuple[str, Room], ...]


def site_of(design: Design, head: int = 0) -> Site:
    """The studs of one head of a finished design."""
    place = design.heads[head]
    studs = tuple(stud for stud in design.studs if stud.head == head)
    return _site(design, studs, place.seat, place.frame)


def sites_of(design: Design) -> tuple[Site, ...]:
    """Every face of a finished design that is bolted up: the heads, then other flanges."""
    heads = tuple(site_of(design, head) for head in range(len(design.heads)))
    return (*heads, *(_site(design, f.studs, f.seat, f.frame) for f in design.bolted))


def _site(design: Design, studs: tuple[Stud, ...], seat: float, frame: Frame) -> Site:
    named = {name for name, _ in design.obstacles}
    return Site(
        tools_for(design.tools, studs),
        studs,
        seat,
        design.limits["tool_play"],
        design.limits["nut_start"],
        design.problem.bodies,
        tuple(obstacle for obstacle in design.problem.obstacles if obstacle.name in named),
        frame,
    )


def tools_for(
    tools: tuple[Socket | Ring | Open, ...], studs: tuple[Stud, ...]
) -> tuple[Socket | Ring | Open, ...]:
    """The tools that fit the studs' nuts; all where none does, for nuts of another size."""
    flats = {FASTENERS[stud.thread].across_flats for stud in studs}
    return tuple(tool for tool in tools if size_of(tool) in flats) or tools


def tool_places(site: Site) -> tuple[ToolPlace, ...]:
    """Every way to reach every stud that nothing fixed bars, best liked first.

    Without any tool listed the nut must still go on: it has one place, by hand.
    """
    found: list[ToolPlace] = []
    for stud in site.studs:
        found += places_at(site, stud)
    return tuple(found)


def places_at(site: Site, stud: Stud) -> Iterator[ToolPlace]:
    """Every way to reach one stud that nothing fixed bars, best liked first."""
    nut, fixed = _nut(site, stud), _fixed(site, stud)
    way_on = nut.way_on(site.beyond)
    if next(_bars((way_on,), fixed, site.play), None) is not None:
        return
    for tool in site.tools:
        for way in _free(ways(tool, nut), fixed):
            yield _place(site, stud, way, way_on)
    if not site.tools:
        yield _place(site, stud, Way("nut by hand", ()), way_on)


def nut_way(site: Site, stud: Stud) -> Field:
    """Where a stud's nut is as it goes on, as the world has it."""
    return placed(_nut(site, stud).way_on(site.beyond).field, site.frame)


def nut_bar(site: Site, stud: Stud) -> Bar | None:
    """What that stands still bars a stud's nut most; None when nothing does."""
    return _worst((_nut(site, stud).way_on(site.beyond),), _fixed(site, stud))


def room_bar(site: Site, stud: Stud, room: Room) -> Bar | None:
    """What that stands still bars a room most, in the coordinates of a stud's site; or None."""
    return _worst((room,), _fixed(site, stud))


def tried_at(site: Site, stud: Stud) -> tuple[Tried, ...]:
    """How each listed tool fares at a stud beside what stands still."""
    nut, fixed = _nut(site, stud), _fixed(site, stud)
    found = []
    for tool in site.tools:
        free = tuple(_free(ways(tool, nut), fixed))
        bar = None if free else _least_barred(ways(tool, nut), fixed)
        found.append(Tried(tool_name(tool), tuple(way.label for way in free), bar))
    return tuple(found)


def _nut(site: Site, stud: Stud) -> Nut:
    return nut_of(stud, site.seat, site.tools)


def _fixed(site: Site, stud: Stud) -> _Fixed:
    bodies = tuple(
        (body, points_at(body.path, np.linspace(0.0, body.path.length, _count(body))))
        for body in _seen_bodies(site)
    )
    nuts = tuple((other.called, _nut(site, other).stand) for other in site.studs if other != stud)
    obstacles = tuple(
        replace(obstacle, field=seen(obstacle.field, site.frame)) for obstacle in site.obstacles
    )
    return _Fixed(site.play, bodies, obstacles, nuts)


def _seen_bodies(site: Site) -> tuple[Body, ...]:
    """The bodies in the head's coordinates."""
    if site.frame == Frame():
        return site.bodies
    return tuple(
        replace(body, path=Centreline(site.frame.seen(body.path.start), body.path.pieces))
        for body in site.bodies
    )


def _count(body: Body) -> int:
    return 2 + int(body.path.length / _SPACING)


def _free(every: Iterator[Way], fixed: _Fixed) -> Iterator[Way]:
    return (way for way in every if next(_bars(way.rooms, fixed, fixed.play), None) is None)


def _place(site: Site, stud: Stud, way: Way, way_on: Room) -> ToolPlace:
    rooms = way.rooms
    if not any(bars(room.field, way_on.field) for room in rooms):
        rooms = (*rooms, way_on)
    fields = tuple(placed(room.field, site.frame) for room in rooms)
    within = around(*(turned(room.box, site.frame) for room in rooms))
    return ToolPlace(stud.name, way.label, fields, site.play, within)


def _least_barred(every: Iterator[Way], fixed: _Fixed) -> Bar | None:
    """What bars the posture that lacks least."""
    found = [bar for way in every if (bar := _worst(way.rooms, fixed)) is not None]
    return min(found, key=lambda bar: (bar.lacks, bar.name), default=None)


def _worst(rooms: tuple[Room, ...], fixed: _Fixed) -> Bar | None:
    return max(_bars(rooms, fixed), key=lambda bar: (bar.lacks, bar.name), default=None)


def _bars(rooms: tuple[Room, ...], fixed: _Fixed, stop: float = -math.inf) -> Iterator[Bar]:
    """What bars any of some rooms; nothing when all are certainly clear by the play.

    What comes nearer than ``stop`` is not measured further.
    """
    for room in rooms:
        yield from _solid_bars(room, fixed, stop)
        yield from _body_bars(room, fixed)


def _solid_bars(room: Room, fixed: _Fixed, stop: float) -> Iterator[Bar]:
    centre, reach = ball(room.box)
    middle, play = np.array([centre]), fixed.play
    solids = [(name, stand.field) for name, stand in fixed.nuts]
    solids += [(obstacle.name, obstacle.field) for obstacle in fixed.obstacles]
    for name, solid in solids:
        if float(solid.distance(middle)[0]) < reach + play:
            lower, upper = clearance(room, solid, play, _MEASURED, stop)
            if lower < play:
                yield Bar(name, play - min(upper, play))


def _body_bars(room: Room, fixed: _Fixed) -> Iterator[Bar]:
    centre, reach = ball(room.box)
    for body, points in fixed.bodies:
        keep = body.radius + fixed.play
        away = float(np.sqrt(((points - np.array(centre)) ** 2).sum(axis=1).min()))
        if away < reach + keep + _SPACING / 2.0:
            axis = Span.whole(body.path)
            if to_field(axis, room.field, _ROUGH).lower >= keep:
                continue
            near = to_field(axis, room.field, _CLOSE)
            if near.lower < keep:
                yield Bar(body.name, keep - min(near.upper, keep))
