"""Open stubs: one short pipe a port, each with its own open end and no collector.

Each is a straight, at most one bend and a tail, cut square or at a slant. Lengths count to the
centre of the open end, whichever end they are asked to: nothing joins, and nothing narrows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator

from geomgen.families import (
    Amounts,
    AreaAt,
    Asked,
    DoesNotFit,
    Envelope,
    Layout,
    Piece,
    Scroll,
    Start,
    TubeSize,
)
from geomgen.families._pipes import MOST_TURN, bend_toward, each_is_one
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.copes import PlaneCope, extremes, held, skin, slash
from geomgen.geometry.frames import Frame, Plane, add, dot, scale
from geomgen.recipe.nodes import NamedFace, Node, Trim, Tube
from geomgen.units import Angle, Direction, Quantity, Size, Span, StrictModel, later, refusal

KIND = "stubs"
LAYS_RUNNERS = True

LAND = 5.0
"""What is drawn with a slanting end: the stub's last straight from this far before it [mm]."""

_BEYOND = 5.0


class StubBend(StrictModel):
    """The bend of an open stub: its angle and clock, or the direction behind it."""

    clr: Size
    """Centreline radius."""
    toward: Direction | None = later()
    """Direction of the gas after the bend, in place of ``angle``."""
    angle: Annotated[float, Field(gt=0, le=math.degrees(MOST_TURN)), Quantity("angle")] | None = (
        later()
    )
    """Degree of bend, in place of ``toward``."""
    clock: Angle = 0.0
    """Which way it bends by ``angle``: from the way up (``vertical``), clockwise looking the way
    the gas goes."""

    @model_validator(mode="after")
    def _one_way(self) -> StubBend:
        if (self.toward is None) == (self.angle is None):
            both = "both toward and angle" if self.angle is not None else "neither"
            raise refusal(both, "toward, or angle with its clock", "say one of the two")
        return self


class OpenEnd(StrictModel):
    """How a stub's open end is cut."""

    angle: Annotated[float, Field(ge=0, le=75), Quantity("angle")] = 0.0
    """Of the cut from square: 0 is square, 45 a usual slash."""
    clock: Angle = 0.0
    """Where the end is longest: from the way up (``vertical``), clockwise looking the way the gas
    goes."""


class Stub(StrictModel):
    """An open stub."""

    straight: Span = 60.0
    """Behind the transition, to the bend or to the end."""
    bend: StubBend | None = later()
    """One bend, of the shelf."""
    tail: Span = 0.0
    """Straight behind the bend, to the centre of the open end."""
    cut: OpenEnd = OpenEnd.model_construct()
    """How the end is cut."""


class OneStub(Stub):
    """The stub of one cylinder."""

    cylinder: Annotated[int, Field(strict=True, ge=1, le=16)]
    """Its cylinder; it has nothing of ``stub``."""


class Spec(StrictModel):
    """Open stubs: one short pipe a port, no collector."""

    family: Literal["stubs"]
    """One short pipe a port, open at its end. Lengths are ``as-laid``; ``entry``, ``first-join``
    and ``throat`` are all the centre of the open end."""
    stub: Stub = Stub.model_construct()
    """Every stub: its tube is ``runners.tube``."""
    each: tuple[OneStub, ...] = ()
    """Stubs that differ."""


@dataclass(frozen=True)
class _Laid:
    """A stub laid.

    Attributes:
        path: the runner, up to where the end piece begins; to the open end where it is square.
        end: the open end's plane, normal outward.
        tip: cope and plane frame of the end piece; None where the end is square.
        depth: from the path's end to the centre of the open end.
    """

    path: Centreline
    end: Plane
    tip: PlaneCope | None
    depth: float


def lay_out(spec: Spec, asked: Asked) -> Layout:
    """Lay out every stub.

    Args:
        spec: what was said [mm, deg].
        asked: what it is laid out for.

    Raises:
        DoesNotFit: a stub has no length, or its cut runs into its bend.
    """
    each_is_one([one.cylinder for one in spec.each], asked.cylinders)
    laid = tuple(_stub(spec, asked, start) for start in asked.starts)
    slots = tuple(stub.path.end for stub in laid)
    numbers = asked.cylinders
    bore = math.pi * asked.tube.inner_radius**2
    far = max(stub.depth for stub in laid)
    return Layout(
        frame=slots[0],
        slots=slots,
        ends=tuple(
            tuple((name, stub.depth) for name in ("entry", "first-join", "throat")) for stub in laid
        ),
        pieces=tuple(
            Piece("tip", slot, _tip(stub, asked.tube, asked.tube.inner_radius))
            for slot, stub in enumerate(laid)
            if stub.tip is not None
        ),
        scrolls=tuple(
            Scroll(
                str(number),
                (slot,),
                (_tip(stub, asked.tube, 0.0),) if stub.tip is not None else (),
                (NamedFace(f"OUTLET_{number}", stub.end.point, stub.end.normal),),
            )
            for slot, (number, stub) in enumerate(zip(numbers, laid, strict=True))
        ),
        envelopes=tuple(
            Envelope(
                "tip",
                slot,
                Centreline(
                    stub.path.end, (Straight(extremes(stub.tip, asked.tube.outer_radius)[1]),)
                ),
                asked.tube.outer_radius,
            )
            for slot, stub in enumerate(laid)
            if stub.tip is not None
        ),
        areas=(AreaAt(0.0, bore, "outlet"), AreaAt(far, bore, "outlet end")),
        outlet=slots[0],
        facts=(),
        rings=tuple((slot,) for slot in range(len(laid))),
        laid=tuple(stub.path for stub in laid),
        amounts=_amounts(laid, asked),
    )


def _stub(spec: Spec, asked: Asked, start: Start) -> _Laid:
    said = spec.stub
    key: tuple[str, ...] = ("collector", "stub")
    for i, one in enumerate(spec.each):
        if one.cylinder == start.cylinder:
            said, key = one, ("collector", "each", str(i))
    pieces = _up_to_last(said, asked, start, key)
    last = said.tail if said.bend is not None else said.straight
    path = Centreline(start.exit, (*pieces, Straight(last)) if last > 0.0 else pieces)
    if path.length < 1.0:
        raise DoesNotFit(
            (*key, "straight"),
            f"a stub of {path.length:g} mm behind the transition",
            "1 mm or more",
            "make it longer",
        )
    end = path.end
    if said.cut.angle == 0.0:
        return _Laid(path, Plane(end.origin, end.z), None, 0.0)
    up = Frame.facing(end.origin, end.z, asked.up)
    plane = slash(up, 0.0, math.radians(said.cut.angle), math.radians(said.cut.clock))
    reach = asked.tube.outer_radius * math.tan(math.radians(said.cut.angle))
    depth = reach + LAND
    least = 0.0 if pieces else 1.0
    if last - depth < least:
        raise DoesNotFit(
            (*key, "tail" if said.bend is not None else "straight"),
            f"{last:g} mm, of which a cut at {said.cut.angle:g} deg takes {depth:.1f} mm",
            f"at least {depth + least:.1f} mm",
            "make it longer, or cut it more squarely",
        )
    short = Centreline(start.exit, (*pieces, Straight(last - depth)))
    return _Laid(short, plane, PlaneCope(short.end, plane), depth)


def _up_to_last(
    said: Stub, asked: Asked, start: Start, key: tuple[str, ...]
) -> tuple[PathPiece, ...]:
    """What comes before a stub's last straight."""
    if said.bend is None:
        if said.tail > 0.0:
            raise DoesNotFit(
                (*key, "tail"),
                f"a tail of {said.tail:g} mm without a bend",
                "a tail behind a bend",
                "add it to straight, or add the bend",
            )
        return ()
    first: tuple[PathPiece, ...] = (Straight(said.straight),) if said.straight > 0.0 else ()
    bend = _bend(said.bend, asked, start.exit, (*key, "bend"))
    return (*first, bend) if bend is not None else first


def _bend(said: StubBend, asked: Asked, at: Frame, key: tuple[str, ...]) -> Bend | None:
    if said.toward is not None:
        return bend_toward(at, said.clr, said.toward, asked.tube.outer_radius, key)
    assert said.angle is not None
    turned = Frame.facing(at.origin, at.z, asked.up).rolled(math.radians(said.clock))
    aside = turned.x
    angle = math.radians(said.angle)
    toward = add(scale(at.z, math.cos(angle)), scale(aside, math.sin(angle)))
    checked = bend_toward(at, said.clr, toward, asked.tube.outer_radius, key)
    if checked is None:
        return None
    # The angle as it was said, not as it comes back from two directions.
    return Bend(said.clr, angle, math.atan2(dot(aside, at.y), dot(aside, at.x)))


def _tip(stub: _Laid, tube: TubeSize, inner: float) -> Node:
    """The slanting end, of wall or, with ``inner`` 0, of bore."""
    assert stub.tip is not None
    reach = extremes(stub.tip, tube.outer_radius)[1] + _BEYOND
    path = Centreline(stub.path.end, (Straight(reach),))
    outer = tube.outer_radius if inner > 0.0 else tube.inner_radius
    return Trim(Tube(path, outer, inner), (stub.end,))


def _amounts(laid: tuple[_Laid, ...], asked: Asked) -> Amounts:
    """Of the slanting ends; the rest are plain tubes."""
    ro, ri = asked.tube.outer_radius, asked.tube.inner_radius
    tips = [stub.tip for stub in laid if stub.tip is not None]
    gas = math.fsum(held(tip, ri) for tip in tips)
    return Amounts(
        metal=((asked.material, math.fsum(held(tip, ro) for tip in tips) - gas),),
        gas=gas,
        wall=math.fsum(skin(tip, ri) for tip in tips),
        outside=math.fsum(skin(tip, ro) for tip in tips),
    )
