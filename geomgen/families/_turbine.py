"""A turbine as a spec gives it, in the frame of its own inlet flange.

That frame: z = 0 on the gasket face of the manifold's flange, z out of the inlet, against
the gas; x to the right and y up as one looks at the inlet. At roll 0 y is as far up as the
inlet allows. So bolts, window, envelopes, drain and support are measured on the turbine as
it lies on the bench.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated, Literal, Self

from pydantic import Discriminator, Field, model_validator

from geomgen.families import DoesNotFit
from geomgen.families._mounted import Bolt, Bolted, Kept
from geomgen.fasteners import FASTENERS
from geomgen.geometry.fields import Box as BoxField
from geomgen.geometry.fields import Cylinder as CylinderField
from geomgen.geometry.fields import placed
from geomgen.geometry.frames import Frame, Vec, add, angle_between, cross, norm, scale, unit
from geomgen.plates import NoPlate, Plate, PlateHole, rectangular, vband
from geomgen.plates import round as round_
from geomgen.plates._said import PartName
from geomgen.units import Angle, Direction, Point, Quantity, Size, Span, StrictModel, later, refusal

KEY = ("collector", "turbine")
_LEVEL = 1e-6
"""Lean of an inlet's axis from upright below which it faces straight up or down [rad]."""

_INTO = 1.5
"""How far a bolt is screwed into a turbine's flange, over its diameter [-]: common practice in
iron, no source."""

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2]: ISO 80000-3, exact by convention."""


OwnPoint = Annotated[Point, Field(json_schema_extra={"x-frame": "own"})]
"""``[x, y, z]`` in the turbine's own frame [mm]."""
OwnDirection = Annotated[Direction, Field(json_schema_extra={"x-frame": "own"})]
"""``[x, y, z]`` of any length in the turbine's own frame [-]."""


class BoxShape(StrictModel):
    """A box along the axes of the turbine's frame, by two opposite corners."""

    from_: OwnPoint = Field(alias="from")
    """The corner with the smaller x, y and z."""
    to: OwnPoint
    """The corner with the larger x, y and z."""


class BarShape(StrictModel):
    """A round bar with flat ends, by its axis in the turbine's frame."""

    from_: OwnPoint = Field(alias="from")
    """One end of the axis."""
    to: OwnPoint
    """The other end of the axis."""
    diameter: Size
    """Over all."""


class Room(StrictModel):
    """A part of the turbo, or something that is fixed to it, as a box or a bar."""

    name: Annotated[str, Field(min_length=1, max_length=50)]
    """What it is called: compressor, actuator, downpipe, oil drain. Reports say ``turbine``
    before it."""
    kind: Literal["block", "line", "moving", "plug", "body"] = "block"
    """What it is to an exhaust, as with obstacles; decides the gap: ``block`` a housing,
    ``line`` an oil or water line, a hose, or a diaphragm that heat kills."""
    box: BoxShape | None = None
    """A box along the turbine's axes."""
    cylinder: BarShape | None = None
    """A round bar."""
    gap: Span | None = None
    """Gap to keep; that of its kind in ``limits`` without it."""

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if (self.box is None) == (self.cylinder is None):
            raise refusal(
                "no shape" if self.box is None else "box and cylinder",
                "exactly one of box, cylinder",
                "give it one shape",
            )
        box = self.box
        if box is not None and not all(a < b for a, b in zip(box.from_, box.to, strict=True)):
            raise refusal(
                f"from {list(box.from_)} to {list(box.to)}",
                "from with the smaller x, y and z",
                "swap the numbers",
            )
        bar = self.cylinder
        if bar is not None and bar.from_ == bar.to:
            raise refusal("a bar of no length", "two different ends", "move one end")
        return self


class Drain(StrictModel):
    """Where the oil leaves the turbo: it must fall freely."""

    direction: OwnDirection
    """The way the oil goes, in the turbine's frame."""
    limit: Annotated[float, Field(gt=0, le=90), Quantity("angle")] = 30.0
    """Most that it may lean from straight down: 30 (common practice, no source)."""


class Support(StrictModel):
    """What the turbo weighs, and where that is held."""

    mass: Annotated[float, Field(gt=0, le=500), Quantity("number")]
    """Of turbo and what hangs on it [kg]."""
    centre: OwnPoint | None = None
    """Its centre of mass, in the turbine's frame; the middle of the flange without it."""
    at: OwnPoint | None = None
    """Where a bracket holds it, in the turbine's frame. Without it the manifold carries it
    alone, at the middle of the inlet flange."""


def _not_stood(said: object) -> None:
    for key in ("at", "stand"):
        if getattr(said, key) is not None:
            raise refusal(f"{key} for the inlet's flange", "no such key here", f"take {key} out")


class Rectangular(rectangular.Spec):
    """The manifold's flange with a rectangular window; where it stands, the turbine says."""

    name: PartName = "turbine_flange"
    """Name of the part and of its files: small letters, digits and _."""

    @model_validator(mode="after")
    def _stands_at_the_turbine(self) -> Self:
        _not_stood(self)
        return self


class Round(round_.Spec):
    """The manifold's flange with a round window; where it stands, the turbine says."""

    name: PartName = "turbine_flange"
    """Name of the part and of its files: small letters, digits and _."""

    @model_validator(mode="after")
    def _stands_at_the_turbine(self) -> Self:
        _not_stood(self)
        if self.bore is None or self.window == "socket":
            raise refusal(
                "a socket" if self.window == "socket" else "no bore",
                "the window's bore, which the transition ends in",
                "say bore, and take window out",
            )
        return self


class VBand(vband.Spec):
    """The manifold's ring at a turbine that a V-band clamp holds; the turbine says where it is."""

    name: PartName = "turbine_ring"
    """Name of the part and of its files: small letters, digits and _."""
    bore: Size
    """Diameter of the bore, which the transition ends in."""
    window: Literal["butt"] = "butt"
    """The transition stands on its face."""

    @model_validator(mode="after")
    def _stands_at_the_turbine(self) -> Self:
        _not_stood(self)
        if self.pair:
            raise refusal("a pair", "one ring: its mate is the turbine's", "take pair out")
        return self


class Turbine(StrictModel):
    """A turbine in the frame of its inlet: x right, y up, z out of it, as one looks at it."""

    at: Point
    """Middle of the inlet, on the gasket face of the manifold's flange, in the head frame."""
    direction: Direction
    """The way the gas goes into it."""
    roll: Angle = 0.0
    """Clocking about its inlet, clockwise as one looks at the inlet; at 0 its y is as far up
    as the inlet allows, or, where the inlet faces straight up or down, its x is the head's.
    Flange, envelopes, drain and support turn with it."""
    inlet: Annotated[Rectangular | Round | VBand, Discriminator("kind")]
    """The manifold's flange: a plate with a rectangular or a round window, or a V-band's ring.
    With a ``divider`` the turbine has two scrolls and the manifold two gas volumes. 12 mm
    finished and 2 mm ``facing`` is usual of a plate."""
    gasket: Span = 1.0
    """Between the flange and the turbine, as compressed."""
    fasteners: Literal["studs", "bolts"] | None = later()
    """``studs`` (without it): studs, or bolts, with their nuts on the tube side. ``bolts``: screwed
    into the turbine's own flange, their heads on the tube side; each needs room for its length to
    go in. Of an inlet whose bolts have ``hole: tapped`` they are bolts whatever is said, with their
    heads on the turbine's side."""
    flange_thickness: Size | None = later()
    """Thickness of the turbine's own flange, which bolts into a tapped inlet go through; that of
    the inlet without it."""
    protrusion: Size | None = None
    """How far its studs, or bolts with their nuts on the tube side, stand out of the turbine's
    own flange; what gasket, flange and nut take and 5 mm without it."""
    envelopes: Annotated[tuple[Room, ...], Field(max_length=40)] = ()
    """What the pipes keep clear of: compressor, actuator, downpipe, oil drain."""
    drain: Drain | None = None
    """Its oil drain."""
    support: Support | None = None
    """What it weighs and where that is held."""

    @model_validator(mode="after")
    def _studs_stand_out(self) -> Self:
        if self.fasteners == "bolts" and self.protrusion is not None:
            raise refusal(
                "a protrusion of bolts", "a protrusion of studs", "take protrusion or bolts out"
            )
        return self

    @model_validator(mode="after")
    def _clamps_have_no_bolts(self) -> Self:
        said = [k for k in ("fasteners", "flange_thickness", "protrusion") if getattr(self, k)]
        if isinstance(self.inlet, VBand) and said:
            raise refusal(
                f"{said[0]} beside a V-band inlet", "a clamp alone", f"take {said[0]} out"
            )
        return self

    @property
    def divider(self) -> float | None:
        """Width of the inlet's bar [mm]; None where it has none."""
        return None if isinstance(self.inlet, VBand) else self.inlet.divider


def upright(spec: Turbine, up: Vec) -> Frame:
    """The flange's frame at roll 0: z to the tube side, y as far up as it goes.

    Of an inlet that faces straight up or down x is the head's, as far as it goes.
    """
    z = scale(unit(spec.direction), -1.0)
    across = cross(up, z)
    return Frame.facing(spec.at, z, across if norm(across) > _LEVEL else (1.0, 0.0, 0.0))


def own_frame(spec: Turbine, up: Vec) -> Frame:
    """The turbine's own frame where it stands."""
    return upright(spec, up).rolled(-math.radians(spec.roll))


def flange(spec: Turbine, up: Vec) -> Plate:
    """The manifold's flange at the turbine.

    Raises:
        DoesNotFit: its numbers leave no plate.
    """
    said = spec.inlet.model_copy(update={"roll": spec.inlet.roll + spec.roll})
    frame = upright(spec, up)
    try:
        if isinstance(said, Rectangular):
            plate = rectangular.plate(said, frame)
        elif isinstance(said, Round):
            plate = round_.plate(said, frame)
        else:
            plate = vband.plate(said, frame)
    except NoPlate as error:
        key = (*KEY, "inlet", *error.key)
        raise DoesNotFit(key, error.found, error.allowed, error.remedy) from None
    return Plate(**{**vars(plate), "loose": False})


def bolted(spec: Turbine, plate: Plate) -> Bolted:
    """The flange's bolts: on the tube side, or on the turbine's where the flange is tapped.

    A V-band's ring has none.
    """
    seat = plate.thickness
    face = Bolted(plate.name.replace("_", " "), plate.frame, plate.outer, seat, ())
    if any(hole.kind == "tapped" for hole in plate.holes):
        far_seat = spec.gasket + (seat if spec.flange_thickness is None else spec.flange_thickness)
        far = tuple(
            Bolt(
                f"turbine {k + 1}",
                hole.thread,
                (-hole.at[0], hole.at[1], 0.0),
                0.0,
                far_seat + seat,
            )
            for k, hole in enumerate(plate.holes)
        )
        return replace(face, far=far, far_seat=far_seat)
    return replace(face, bolts=tuple(_bolt(spec, seat, k, h) for k, h in enumerate(plate.holes)))


def _bolt(spec: Turbine, seat: float, number: int, hole: PlateHole) -> Bolt:
    """One from the tube side: a stud with its nut, or a bolt."""
    fastener, at = FASTENERS[hole.thread], (*hole.at, -spec.gasket)
    name = f"turbine {number + 1}"
    if spec.fasteners == "bolts":
        into = _INTO * fastener.diameter
        return Bolt(name, hole.thread, at, 0.0, spec.gasket + seat + into)
    needed = spec.gasket + seat + fastener.nut_height + 5.0
    return Bolt(name, hole.thread, at, needed if spec.protrusion is None else spec.protrusion)


def envelopes(spec: Turbine, up: Vec) -> tuple[Kept, ...]:
    """What the pipes keep clear of, where it stands.

    Raises:
        DoesNotFit: two have one name.
    """
    frame = own_frame(spec, up)
    names = [room.name for room in spec.envelopes]
    for i, name in enumerate(names):
        if name in names[:i]:
            raise DoesNotFit(
                (*KEY, "envelopes", i, "name"),
                name,
                "a name that no other envelope has",
                "give it another name",
            )
    return tuple(_kept(room, frame) for room in spec.envelopes)


def _kept(room: Room, frame: Frame) -> Kept:
    name = f"turbine {room.name}"
    if room.box is not None:
        field = placed(BoxField(room.box.from_, room.box.to), frame)
        return Kept(name, room.kind, field, room.gap)
    assert room.cylinder is not None
    begin, end = frame.point(room.cylinder.from_), frame.point(room.cylinder.to)
    return Kept(name, room.kind, CylinderField(begin, end, room.cylinder.diameter / 2.0), room.gap)


def facts(spec: Turbine, up: Vec) -> tuple[tuple[str, float], ...]:
    """Numbers about drain and support, by name with unit suffix."""
    frame = own_frame(spec, up)
    found: list[tuple[str, float]] = []
    if spec.drain is not None:
        way = frame.vector(unit(spec.drain.direction))
        lean = math.degrees(angle_between(way, scale(up, -1.0)))
        found += [("drain_from_vertical_deg", lean), ("drain_limit_deg", spec.drain.limit)]
    support = spec.support
    held = frame.point(support.at) if support is not None and support.at else frame.origin
    found += [(f"support_{axis}_mm", value) for axis, value in zip("xyz", held, strict=True)]
    if support is not None:
        weight = support.mass * GRAVITY
        centre = frame.point(support.centre or (0.0, 0.0, 0.0))
        away = add(centre, scale(held, -1.0))
        arm = math.hypot(*cross(away, up)) / 1000.0
        found += [
            ("turbo_mass_kg", support.mass),
            ("turbo_weight_n", weight),
            ("turbo_moment_at_support_nm", weight * arm),
            ("turbo_bracket_count", 1.0 if support.at is not None else 0.0),
        ]
    return tuple(found)
