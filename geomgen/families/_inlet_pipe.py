"""The round pipe between a merge and a turbine's inlet."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field

from geomgen.families import DoesNotFit, TubeSize
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.frames import Frame, Vec, add, angle_between, dot, norm, scale, sub, unit
from geomgen.units import Direction, Quantity, Size, Span, StrictModel


class PipeBend(StrictModel):
    """A bend in the pipe, so that the merge stands aside of the turbine's axis."""

    clr: Size
    """Centreline radius."""
    gas: Direction | None = None
    """The way the gas goes before the bend, in the head frame; into the turbine without it."""
    splay: Annotated[float, Field(ge=0, le=60), Quantity("angle")] = 0.0
    """Of a divided inlet: how far each scroll's merge leans away from the other's, each side,
    so that there is room for both."""


class Pipe(StrictModel):
    """The round pipe between merge and inlet, one a scroll; a wastegate's branch leaves it."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall thickness."""
    length: Size = 20.0
    """Straight before the transition, behind the bend if it has one."""
    lead: Span = 0.0
    """Straight between merge and bend."""
    bend: PipeBend | None = None
    """Turns it."""


def pipe_size(said: Pipe) -> TubeSize:
    """Its radii.

    Raises:
        DoesNotFit: its wall leaves no bore.
    """
    if said.wall >= said.od / 2.0:
        raise DoesNotFit(
            ("collector", "pipe", "wall"),
            f"a wall of {said.wall:g} mm in a pipe of {said.od:g} mm OD",
            f"less than half the OD, {said.od / 2.0:g} mm",
            "give the wall of the pipe, not its bore",
        )
    return TubeSize(said.od / 2.0, said.od / 2.0 - said.wall)


def pipe_path(said: Pipe, entry: Frame, outward: Vec | None) -> Centreline:
    """From the merge's round end to the transition's.

    Args:
        said: of the pipe.
        entry: the transition's round end; z is the way the gas goes.
        outward: the way from the other scroll; None where there is only one.

    Raises:
        DoesNotFit: it turns back on itself, or splays along the gas.
    """
    tail = Straight(said.length)
    before = _gas_before(said, entry, outward)
    angle = angle_between(before, entry.z)
    if angle > math.radians(175.0):
        raise DoesNotFit(
            ("collector", "pipe", "bend", "gas"),
            f"a turn of {math.degrees(angle):.0f} deg",
            "at most 175 deg",
            "turn the pipe less",
        )
    if said.bend is not None and said.bend.clr <= said.od / 2.0:
        raise DoesNotFit(
            ("collector", "pipe", "bend", "clr"),
            f"CLR {said.bend.clr:g} mm for a pipe of {said.od:g} mm OD",
            f"more than half the OD, {said.od / 2.0:g} mm",
            "give the radius of the bend's centreline",
        )
    if said.bend is None or angle < 1e-9:
        straight = Straight(said.lead + said.length)
        return Centreline(entry.moved(-straight.length), (straight,))
    start = Frame.facing((0.0, 0.0, 0.0), before, entry.x)
    aside = sub(entry.z, scale(before, dot(entry.z, before)))
    roll = math.atan2(dot(aside, start.y), dot(aside, start.x))
    lead: tuple[PathPiece, ...] = (Straight(said.lead),) if said.lead > 0.0 else ()
    pieces = (*lead, Bend(said.bend.clr, angle, roll), tail)
    by = sub(entry.origin, Centreline(start, pieces).end.origin)
    return Centreline(start.shifted(by), pieces)


def _gas_before(said: Pipe, entry: Frame, outward: Vec | None) -> Vec:
    """The way the gas goes through the merge."""
    bend = said.bend
    if bend is None:
        return entry.z
    base = entry.z if bend.gas is None else unit(bend.gas)
    if outward is None or bend.splay == 0.0:
        return base
    aside = sub(outward, scale(base, dot(outward, base)))
    if norm(aside) < 1e-6:
        raise DoesNotFit(
            ("collector", "pipe", "bend", "splay"),
            "a splay in line with the gas",
            "gas that goes across the line through both halves of the window",
            "turn bend.gas, or take splay out",
        )
    lean = math.radians(bend.splay)
    return unit(add(scale(base, math.cos(lean)), scale(unit(aside), -math.sin(lean))))
