"""A log's outlet, and its parts and bores with what they come to in closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geomgen.families import Amounts, DoesNotFit, Piece, TubeSize
from geomgen.families._logging import LAND, Log, SetOn, rod, saddled, set_on
from geomgen.families._pipes import bend_toward
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.frames import Frame, Vec, angle_between, scale
from geomgen.profiles.loops import Profile, circle
from geomgen.recipe.nodes import Cut, Node, Prism, Tube

if TYPE_CHECKING:
    from geomgen.families._log_outlet import Outlet

_KEY: tuple[str | int, ...] = ("collector", "outlet")

Grades = tuple[str, str | None, str | None]
"""Grade of the stubs; of log and outlet where they have their own."""


@dataclass(frozen=True)
class Outflow:
    """The outlet, and where the log ends.

    Attributes:
        begin, end: stations of the log's ends.
        station: of the outlet's axis on that of the log.
        size: of its tube.
        path: its axis from that of the log, or from the log's end, to its far end.
        on: its saddle; None where the log's own end is the outlet.
        open: which end of the log is the outlet: -1, 1, or 0 for neither.
    """

    begin: float
    end: float
    station: float
    size: TubeSize
    path: Centreline
    on: SetOn | None
    open: int

    @property
    def way(self) -> float:
        """From the log's axis, or its end, to the outlet's far end."""
        return self.path.length

    def clear_of_log(self, log: Log) -> Centreline:
        """Its path from the saddle on."""
        if self.on is None:
            return self.path
        first, *rest = self.path.pieces
        start = self.path.start.moved(log.size.outer_radius)
        return Centreline(start, (Straight(first.length - log.size.outer_radius), *rest))


def outflow(log: Log, begin: float, end: float, said: Outlet, up: Vec) -> Outflow:
    """Lay out the outlet.

    Args:
        log: that it leaves.
        begin: station of the log's first end.
        end: station of its far end.
        said: what the spec says of it.
        up: way up, for its frame.

    Raises:
        DoesNotFit: it does not stand on the log, or is not of the log's size at its end.
    """
    if said.at in ("start", "end"):
        return _own_end(log, begin, end, said, up)
    assert not isinstance(said.at, str)
    if said.direction is None:
        raise DoesNotFit(
            (*_KEY, "direction"),
            "no direction",
            "a direction for an outlet on the log's side",
            "say which way the gas leaves the log",
        )
    station = begin + (said.at * (end - begin) if said.at <= 1.0 else said.at)
    start = Frame.facing(log.at(station), said.direction, up)
    steep = math.sin(angle_between(start.z, log.axis))
    wide = log.size.outer_radius / max(steep, 0.1)
    straight = wide + said.length
    inward = start.moved(straight)
    leg = Frame(inward.origin, inward.x, scale(inward.z, -1.0))
    on, before = set_on(log, leg, said.size, "the outlet", _KEY, 0.0)
    if before < (LAND if said.bend is not None else 1.0):
        raise DoesNotFit(
            (*_KEY, "length"),
            f"{said.length:g} mm, {before:.1f} mm beyond the saddle",
            f"at least {said.length - before + LAND:.1f} mm",
            "make it longer",
        )
    low, high = on.footprint()
    if low < begin - 1e-6 or high > end + 1e-6:
        raise DoesNotFit(
            (*_KEY, "at"),
            f"{said.at:g}: its saddle reaches from {low - begin:.1f} to {high - begin:.1f} mm",
            f"a place within the log, 0 to {end - begin:.1f} mm",
            "move it in, or make overhang greater",
        )
    path = Centreline(start, (Straight(straight), *_turn(said, inward)))
    return Outflow(begin, end, station, said.size, path, on, 0)


def _own_end(log: Log, begin: float, end: float, said: Outlet, up: Vec) -> Outflow:
    away = 1 if said.at == "end" else -1
    if said.size != log.size:
        raise DoesNotFit(
            (*_KEY, "od"),
            f"{said.od:g} x {said.wall:g} mm at the log's own end",
            f"the log's own, {2 * log.size.outer_radius:g} x "
            f"{log.size.outer_radius - log.size.inner_radius:g} mm",
            "give it the log's size, or set it on the log's side",
        )
    if said.direction is not None:
        raise DoesNotFit(
            (*_KEY, "direction"),
            "a direction of the log's own end",
            "none: it goes on along the log",
            "take it out, and turn the outlet by its bend",
        )
    if said.length < 1.0:
        raise DoesNotFit((*_KEY, "length"), f"{said.length:g} mm", "1 mm or more", "lengthen it")
    station = end if away > 0 else begin
    start = Frame.facing(log.at(station), scale(log.axis, float(away)), up)
    pieces = (Straight(said.length), *_turn(said, start.moved(said.length)))
    return Outflow(begin, end, station, said.size, Centreline(start, pieces), None, away)


def _turn(said: Outlet, start: Frame) -> tuple[PathPiece, ...]:
    if said.bend is None:
        return (Straight(said.tail),) if said.tail > 0.0 else ()
    bend = bend_toward(
        start, said.bend.clr, said.bend.toward, said.size.outer_radius, (*_KEY, "bend")
    )
    pieces: tuple[PathPiece, ...] = () if bend is None else (bend,)
    return (*pieces, Straight(said.tail)) if said.tail > 0.0 else pieces


def metal(
    log: Log, parts: tuple[SetOn, ...], out: Outflow, cap: float, grades: Grades
) -> tuple[Piece, ...]:
    """Log with its holes, caps, stubs and outlet with their saddles."""
    own, of_log, of_outlet = grades[0], grades[1] or grades[0], grades[2] or grades[0]
    ro, ri = log.size.outer_radius, log.size.inner_radius
    holes = [Tube(on.path, on.size.inner_radius) for on in parts]
    if out.on is not None:
        holes.append(Tube(out.on.path, out.size.inner_radius))
    body = Tube(log.path(out.begin, out.end), ro, ri)
    outlet = Tube(out.path, out.size.outer_radius, out.size.inner_radius)
    return (
        *(
            Piece(
                "stub",
                slot,
                saddled(
                    Tube(on.path, on.size.outer_radius, on.size.inner_radius),
                    log,
                    out.begin,
                    out.end,
                    ro,
                ),
                own,
            )
            for slot, on in enumerate(parts)
        ),
        Piece("log", None, Cut(body, tuple(holes)), of_log),
        *(
            Piece(name, None, _disc(frame, ro, cap), of_log)
            for name, frame in _closed_ends(log, out, cap)
        ),
        Piece(
            "outlet",
            None,
            outlet if out.on is None else saddled(outlet, log, out.begin, out.end, ro),
            of_outlet,
        ),
    )


def _closed_ends(log: Log, out: Outflow, cap: float) -> list[tuple[str, Frame]]:
    """Name and inner frame of each disc; z along the log."""
    whole = log.path(out.begin - cap, out.end)
    ends = [] if out.open < 0 else [("cap_start", whole.start)]
    return ends if out.open > 0 else [*ends, ("cap_end", whole.end)]


def _disc(frame: Frame, radius: float, thickness: float) -> Node:
    return Prism(frame, Profile(circle((0.0, 0.0), radius)), thickness)


def gas(log: Log, parts: tuple[SetOn, ...], out: Outflow) -> tuple[Node, ...]:
    """The log's bore, and outside it those of stubs and outlet."""
    ri = log.size.inner_radius
    outlet = Tube(out.path, out.size.inner_radius)
    return (
        *(
            saddled(Tube(on.path, on.size.inner_radius), log, out.begin, out.end, ri)
            for on in parts
        ),
        rod(log, out.begin, out.end, ri),
        outlet if out.on is None else saddled(outlet, log, out.begin, out.end, ri),
    )


def amounts(
    log: Log, parts: tuple[SetOn, ...], out: Outflow, cap: float, grades: Grades
) -> Amounts:
    """What all of it comes to: pi times radii and lengths, and integrals over the copes."""
    ro, ri, length = log.size.outer_radius, log.size.inner_radius, out.end - out.begin
    all_on = parts if out.on is None else (*parts, out.on)
    closed = len(_closed_ends(log, out, cap))
    disc = math.pi * ro**2
    # Of the outlet, what is set on the log is counted with the stubs; the rest is plain tube.
    rest = out.path.length - (0.0 if out.on is None else out.on.depth)
    po, pi = out.size.outer_radius, out.size.inner_radius
    body = math.pi * (ro**2 - ri**2) * length - sum(on.hole for on in all_on)
    tail = math.pi * (po**2 - pi**2) * rest + (0.0 if out.on is None else out.on.metal)
    own = sum(on.metal for on in parts)
    by_grade: dict[str, float] = {}
    for grade, volume in (
        (grades[0], own),
        (grades[1] or grades[0], body + closed * disc * cap),
        (grades[2] or grades[0], tail),
    ):
        by_grade[grade] = by_grade.get(grade, 0.0) + volume
    return Amounts(
        metal=tuple(by_grade.items()),
        gas=math.pi * (ri**2 * length + pi**2 * rest) + sum(on.gas for on in all_on),
        wall=2.0 * math.pi * (ri * length + pi * rest)
        + sum(on.wall for on in all_on)
        + closed * math.pi * ri**2,
        outside=2.0 * math.pi * (ro * length + po * rest)
        + sum(on.outside for on in all_on)
        + closed * (disc + 2.0 * math.pi * ro * cap),
    )
