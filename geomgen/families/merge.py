"""N into 1 merge collector: all tubes of a manifold into one outlet."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from geomgen.families import (
    AreaAt,
    Asked,
    DoesNotFit,
    Envelope,
    Layout,
    Piece,
    Scroll,
    TubeSize,
)
from geomgen.families._merging import MergeSize, merge
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.frames import Frame, Vec, angle_between, dot, scale, sub, unit
from geomgen.recipe.nodes import NamedFace, Tube
from geomgen.units import Angle, Direction, Point, Quantity, Size, Span, StrictModel, later

KIND = "merge"


class OutletBend(StrictModel):
    """A bend that turns the outlet into a wanted direction."""

    clr: Size
    """Centreline radius."""
    toward: Direction
    """Direction of the gas after the bend, in the head frame."""


class Outlet(StrictModel):
    """The pipe behind the merge."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall thickness."""
    length: Span = 100.0
    """Straight length of the tail, after its bend if it has one."""
    bend: OutletBend | None = None
    """Turns the tail; its angle follows from the two directions."""
    end: Literal["plain"] = "plain"
    """How the tail ends."""


class Spec(StrictModel):
    """A merge collector: all tubes of one head into one outlet."""

    family: Literal["merge"]
    """N tubes on a circle into one outlet."""
    at: Point
    """Collector axis at its entry face, in the head frame."""
    direction: Direction
    """The way the gas goes along the collector axis."""
    roll: Angle = 0.0
    """Clocking of the array about the axis, clockwise looking the way the gas goes; at 0
    two tubes are uppermost, as far as the axis allows. Place 0 stands half a pitch clockwise
    from the top, the others follow clockwise."""
    array: Literal["round", "square", "diamond"] | None = later()
    """How four tubes stand at roll 0: ``square`` with two uppermost, ``diamond`` with one
    uppermost, which is 45 more (place 0 is then to the right, 1 at the bottom, 2 to the left,
    3 at the top). ``round``, the default, is any number on a circle."""
    merge_angle: Annotated[float, Field(gt=0, lt=60), Quantity("angle")] = 10.0
    """From a tube's axis to the collector's axis; the included angle is twice that."""
    entry_gap: Span = 2.0
    """Between neighbouring tubes at the entry face."""
    throat: Size | None = None
    """Diameter of a circle with the bore area wanted at the trim plane; the outlet's bore
    when not given."""
    outlet: Outlet


def lay_out(spec: Spec, asked: Asked) -> Layout:
    """Lay out the collector.

    Args:
        spec: what was said [mm, deg].
        asked: what it is laid out for.

    Raises:
        DoesNotFit: the numbers leave no closed collector.
    """
    tube, count = asked.tube, asked.count
    if count < 2:
        raise DoesNotFit(
            ("collector", "family"),
            f"{count} tube",
            "two tubes or more",
            "choose a family for one port",
        )
    size = TubeSize(spec.outlet.od / 2.0, spec.outlet.od / 2.0 - spec.outlet.wall)
    made = MergeSize(math.radians(spec.merge_angle), spec.entry_gap, size, spec.throat)
    home = _home(spec, asked.up, count)
    merged = merge(home, made, tube, count)
    outlet = outlet_path(spec.outlet, merged.exit)
    end = outlet.end
    return Layout(
        frame=home,
        slots=merged.slots,
        ends=(merged.ends,) * count,
        pieces=(
            *merged.pieces(),
            Piece("outlet", None, Tube(outlet, size.outer_radius, size.inner_radius)),
        ),
        scrolls=(
            Scroll(
                "",
                tuple(range(count)),
                (*merged.gas, Tube(outlet, size.inner_radius)),
                (NamedFace("OUTLET", end.origin, end.z),),
            ),
        ),
        envelopes=(*merged.envelopes, Envelope("outlet", None, outlet, size.outer_radius)),
        areas=(
            *merged.stations,
            AreaAt(merged.length + outlet.length, merged.stations[-1].area, "outlet end"),
        ),
        outlet=end,
        facts=(*merged.facts, ("outlet_bend_deg", math.degrees(outlet.total_angle))),
    )


def _home(spec: Spec, up: Vec, count: int) -> Frame:
    """The collector's frame; x is tube 0's side, clocked so that two tubes are uppermost."""
    frame = Frame.facing(spec.at, spec.direction, up)
    if spec.array in ("square", "diamond") and count != 4:
        raise DoesNotFit(
            ("collector", "array"),
            f"{spec.array} for {count} tubes",
            "round; square and diamond are for four tubes",
            "take array out, and clock the array by roll",
        )
    more = math.pi / 4.0 if spec.array == "diamond" else 0.0
    return frame.rolled(math.radians(spec.roll) + more + math.pi / count)


def outlet_path(outlet: Outlet, start: Frame) -> Centreline:
    """Axis of the pipe behind a merge that ends at ``start``.

    Raises:
        DoesNotFit: it turns back on itself.
    """
    pieces: list[PathPiece] = []
    if outlet.bend is not None:
        toward = unit(outlet.bend.toward)
        angle = angle_between(start.z, toward)
        if angle > math.radians(175.0):
            raise DoesNotFit(
                ("collector", "outlet", "bend", "toward"),
                f"a turn of {math.degrees(angle):.0f} deg",
                "at most 175 deg",
                "turn the outlet less",
            )
        if angle > 1e-9:
            aside = sub(toward, scale(start.z, dot(toward, start.z)))
            roll = math.atan2(dot(aside, start.y), dot(aside, start.x))
            pieces.append(Bend(outlet.bend.clr, angle, roll))
    if outlet.length > 0.0 or not pieces:
        pieces.append(Straight(max(outlet.length, 10.0)))
    return Centreline(start, tuple(pieces))
