"""Test plate of another plate: a blanking plate with an air port, to find leaks."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from geomgen.plates import NoPlate, Plate, PlateHole
from geomgen.plates._bolts import TAP_DRILLS, thread_size
from geomgen.plates._make import made_for
from geomgen.plates._outline import for_bolts, sound
from geomgen.plates._said import Derived, Place, Size, contradiction
from geomgen.plates.vband import mate_notes
from geomgen.profiles.loops import Point2, bounding_box
from geomgen.units import StrictModel

KIND = "test"

PRESSURE = (
    "Leak test: regulated air of 0.2 to 0.35 bar (3 to 5 psi) and soap water. Plates and plugs "
    "held by all their bolts, stand clear; never more, never oxygen."
)
"""Common practice of builders, no standard."""


class AirPort(StrictModel):
    """Where the air goes in."""

    thread: Literal["M6", "M8", "M10", "M12", "M10x1", "G1/8", "G1/4"] | None = None
    """Tapped for this thread; ``G`` is ISO 228."""
    diameter: Size | None = None
    """Drilled to this size instead."""
    window: int | None = Field(default=None, strict=True, ge=1)
    """In the middle of this window of the plate it closes: the cylinder's, or counted from 1;
    the first without ``at``."""
    at: Place | None = None
    """Its place, ``[x, y]`` seen from the tube side."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if (self.thread is None) == (self.diameter is None):
            found = "neither thread nor diameter" if self.thread is None else "both of them"
            raise contradiction(found, "thread or diameter", "write air: {thread: G1/8}")
        if self.window is not None and self.at is not None:
            raise contradiction("both window and at", "one of the two", "take one of them out")
        return self


class Spec(Derived):
    """A plate that closes another one, with an air port."""

    kind: Literal["test"]
    """A plate that closes another one and lets air in, to find leaks at 0.2 to 0.35 bar."""
    air: AirPort = AirPort.model_construct(thread="G1/8")
    """Where the air goes in: ``{thread: G1/8}`` in the middle of the first window without it."""


def plate(spec: Spec, of: Plate) -> Plate:
    """The test plate, drawn the same way round as the plate that it closes.

    Raises:
        NoPlate: the air port has no place.
    """
    air = spec.air
    size = TAP_DRILLS[air.thread] if air.thread is not None else air.diameter or 0.0
    major = thread_size(air.thread) if air.thread is not None else size
    port = PlateHole(
        "air port",
        air.at if air.at is not None else _middle(of, air.window),
        size,
        air.thread or "",
        1.5 * major,
        "tapped" if air.thread is not None else "clearance",
        note="air in" if air.thread is None else f"tap {air.thread}, air in",
    )
    made_ = made_for(
        spec,
        of,
        "Test plate of",
        holes=(*for_bolts(of.holes), port),
        facing=0.0 if of.ring is None else of.ring.facing,
        notes=(PRESSURE, *mate_notes(of)),
    )
    return sound(made_, None, "air", "air")


def _middle(of: Plate, window: int | None) -> Point2:
    if not of.windows:
        raise NoPlate(
            ("air",),
            f"no place, and {of.name} has no window",
            "a place on the plate",
            "add at: [x, y] to air",
        )
    numbers = of.cylinders or tuple(range(1, len(of.windows) + 1))
    if window is not None and window not in numbers:
        raise NoPlate(
            ("air", "window"),
            str(window),
            f"one of {', '.join(str(n) for n in numbers)}",
            "name a window of the plate",
        )
    box = bounding_box(of.windows[0 if window is None else numbers.index(window)])
    return ((box.left + box.right) / 2.0, (box.bottom + box.top) / 2.0)
