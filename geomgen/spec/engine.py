"""What a spec says of the engine and its heads."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from geomgen.ports._placement import PortPlacement
from geomgen.spec.kinds import tagged
from geomgen.units import (
    Angle,
    Direction,
    FacePoint,
    Point,
    Size,
    Span,
    Speed,
    StrictModel,
    Temperature,
    later,
    refusal,
)

Whole = Annotated[int, Field(strict=True)]
"""A whole number."""
Rpm = Annotated[Speed, Field(gt=0)]
"""An engine speed above nothing [rpm]."""


class Cam(StrictModel):
    """Cam timing, and the lift at which it was read."""

    lift: Size
    """Lift at which the four events were read: 0.050 in of tappet rise is 1.27 mm. Timing
    without its lift means nothing: seat timing is 30 to 60 degrees longer."""
    exhaust_opens: Angle
    """Exhaust opens, crank degrees before bottom dead centre."""
    exhaust_closes: Angle
    """Exhaust closes, crank degrees after top dead centre."""
    intake_opens: Angle
    """Intake opens, crank degrees before top dead centre."""
    intake_closes: Angle
    """Intake closes, crank degrees after bottom dead centre."""


ENDS = {"flywheel": "the flywheel end", "front": "the front"}
"""Ends that an engine is seen from, in words."""


class Banks(StrictModel):
    """The banks of a vee or flat engine: whose cylinders they have, and which side is which."""

    left: Annotated[tuple[Whole, ...], Field(min_length=1)]
    """Cylinders of the left bank, from the front of the engine to the flywheel."""
    right: Annotated[tuple[Whole, ...], Field(min_length=1)]
    """Cylinders of the right bank, from the front of the engine to the flywheel."""
    seen_from: Literal["flywheel", "front"]
    """The end of the engine that one looks at it from, with ``vertical`` up, when one says left
    and right. The flywheel end is where the driver of a lengthwise front engine sits."""
    to_flywheel: Direction
    """Which way the crank leads to the flywheel, in the engine's frame: the one that heads,
    collector and obstacles are placed in."""
    crank: Point = (0.0, 0.0, 0.0)
    """A point of the crank's axis in that frame; the frame's origin without it."""


class Engine(StrictModel):
    """The engine, as far as an exhaust cares."""

    layout: Literal["inline", "vee", "flat"]
    """How the cylinders stand. A manifold of a vee or flat engine has the ports of one bank, or
    of both."""
    cylinders: Annotated[int, Field(strict=True, ge=1, le=16)]
    """Number of cylinders."""
    bore: Size
    """Cylinder bore."""
    stroke: Size
    """Stroke."""
    firing_order: tuple[Whole, ...]
    """Cylinder numbers in the order that they fire."""
    banks: Banks | None = later()
    """The two banks of a vee or flat engine. It holds every head to the cylinders and to the side
    of the bank that it names."""
    cam: Cam | None = None
    """Cam timing; needed for ``length: tuned``."""
    peak_torque_rpm: Rpm | None = None
    """Speed wanted for peak torque; a road engine is tuned here."""
    peak_power_rpm: Rpm | None = None
    """Speed wanted for peak power; a race engine is tuned here."""
    use: Literal["race", "road"] = "road"
    """``race`` tunes for peak power, ``road`` for peak torque."""
    gas_temperature: Annotated[Temperature, Field(ge=-20, le=1700)] = 627.0
    """Mean gas temperature in the primaries; the default is 900 K (common practice, no
    source)."""
    valve_to_face: Span = 76.2
    """Length of the port in the head, valve to gasket face; the default is the 3 in that
    the classic length rule takes off."""

    @property
    def swept_volume(self) -> float:
        """Swept volume of one cylinder [cc]."""
        return math.pi / 4.0 * self.bore**2 * self.stroke / 1000.0


class NamedStud(StrictModel):
    """A stud with a name of its own."""

    name: Annotated[str, Field(pattern=r"^[a-z0-9_]+$", max_length=20)]
    """How the tape and the hole table call it: small letters, digits and _."""
    at: FacePoint
    """Its place on the face."""


def _named(value: object) -> object:
    """``[x, y]`` or ``{name: ..., at: [x, y]}``: one model for both, named later by order."""
    if isinstance(value, list | tuple):
        return {"name": "_", "at": value}
    if not isinstance(value, dict | NamedStud):
        raise refusal(value, "a stud as [x, y] or {name, at}", "write it as [x, y]")
    return value


_TRACED = ("file", "dxf", "gasket", "layer", "trace", "traced")


class Studs(StrictModel):
    """The studs of one head, measured on it, seen from the tube side: x to the right, y up."""

    size: Literal["M6", "M8", "M10", "M12"]
    """Thread."""
    protrusion: Size
    """How far a stud stands out of the head face."""
    at_each_port: tuple[FacePoint, ...] | None = None
    """The same pattern round every port, each ``[x, y]`` from the port's centre. The studs
    are called 1a, 1b, ... by cylinder."""
    at: tuple[Annotated[NamedStud, BeforeValidator(_named)], ...] | None = None
    """Every stud by its place ``[x, y]`` from the centre of cylinder 1's port, in place of
    ``at_each_port``. They are called s1, s2, ... unless written as ``{name: ..., at: [x, y]}``."""

    @model_validator(mode="before")
    @classmethod
    def _measured_not_traced(cls, said: Any) -> Any:
        asked = [key for key in _TRACED if isinstance(said, dict) and key in said]
        if asked or (isinstance(said, str) and said.lower().endswith(".dxf")):
            raise refusal(
                asked[0] if asked else said,
                "studs by their places: bolt holes of a traced gasket are oversize, and a "
                "pattern traced from them misses the studs",
                "measure the studs on the head, or the holes of a drawing with dimensions",
            )
        return said


class Gasket(StrictModel):
    """The gasket between head and flange."""

    thickness: Span
    """As compressed. The head face, its studs and obstacles lie this far behind z = 0."""


if TYPE_CHECKING:
    Ports = PortPlacement
else:
    Ports = tagged("geomgen.ports", "shape")


class Place(StrictModel):
    """Where a head stands in the engine's frame."""

    at: Point
    """Where the head's origin is: the centre of its first port, on the gasket face of the
    flange."""
    x: Direction
    """Which way its x points, to the right as one looks at the head from outside."""
    z: Direction
    """Which way its z points, out of the head."""


class Head(StrictModel):
    """One head: its ports, its studs and its gasket."""

    ports: Ports
    """Shape and places of the ports."""
    studs: Studs
    """Thread and places of the studs."""
    gasket: Gasket = Gasket.model_construct(thickness=0.0)
    """The gasket."""
    cylinders: tuple[Whole, ...] | None = None
    """Cylinder numbers of the ports in their order along the head; 1, 2, 3, ... without it. A
    manifold of some of the engine's cylinders names those."""
    bank: Literal["left", "right"] | None = later()
    """Which bank of a vee or flat engine; ``engine.banks`` says from which end that is seen. It is
    printed on everything."""
    place: Place | None = later()
    """Where the head stands in the engine's frame, which collector, obstacles and all else
    are then given in. Without it that is the head's own frame."""
