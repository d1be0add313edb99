"""Plate that takes every tube of a collector: a hole a tube, slip or welded."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geomgen.geometry.frames import Frame
from geomgen.plates import Pipe, Plate
from geomgen.plates._bolts import bolt_holes, on_circle
from geomgen.plates._make import made, not_on_a_pipe
from geomgen.plates._outline import hugged, sound, turned
from geomgen.plates._said import Bolts, Hugging, Size, Span, contradiction, one_edge
from geomgen.profiles.loops import Point2, circle

KIND = "collector"

_NOTES = {
    "slip": "Slip entries: the tubes slide through parallel; no weld in the holes.",
    "welded": "Welded entries: weld each tube all round; the plate is the jig.",
}


class Spec(Hugging):
    """A plate with a round hole for each tube."""

    kind: Literal["collector"]
    """A plate with a round hole for each tube, which go through it parallel."""
    tube: Size
    """Outside diameter of the tubes."""
    count: Annotated[int, Field(strict=True, ge=1, le=16)]
    """How many tubes."""
    array: Literal["circle", "square", "diamond", "in-line"] = "circle"
    """How they stand at roll 0: on a ``circle`` with two uppermost, four in a ``square`` the
    same way, four in a ``diamond`` with one uppermost, or ``in-line`` from left to right. On a
    circle they follow clockwise as seen from the tube side."""
    pitch: Size
    """From the middle of a tube to its neighbour's."""
    entry: Literal["slip", "welded"] = "welded"
    """How the tubes are held."""
    fit: Span = 0.3
    """Tube to hole, over both sides."""
    cylinders: Annotated[tuple[int, ...], Field(max_length=16)] = ()
    """Cylinder of each hole, lettered beside it."""
    bolts: Bolts | None = None
    """Its bolts, if it has any."""
    od: Size | None = None
    """Diameter of a round edge; the edge hugs tubes and bolts without it."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.array in ("square", "diamond") and self.count != 4:
            raise contradiction(
                f"{self.array} for {self.count} tubes", "four tubes", "take array: circle"
            )
        if self.cylinders and len(self.cylinders) != self.count:
            raise contradiction(
                f"{len(self.cylinders)} cylinders for {self.count} holes",
                "one for every hole",
                "name one cylinder a hole, in their order",
            )
        one_edge(self.od, self.waist)
        return self


def places(spec: Spec) -> tuple[Point2, ...]:
    """Middles of the tubes in their order [mm]."""
    n, pitch = spec.count, spec.pitch
    if n == 1:
        return ((0.0, 0.0),)
    if spec.array == "in-line":
        return tuple(((k - (n - 1) / 2.0) * pitch, 0.0) for k in range(n))
    half = math.pi / n
    first = half + (math.pi / 4.0 if spec.array == "diamond" else 0.0)
    return on_circle(n, pitch / (2.0 * math.sin(half)), first)


def plate(
    spec: Spec,
    frame: Frame,
    pipe: Pipe | None = None,
    edge_factor: float = 1.5,
) -> Plate:
    """The plate.

    Args:
        spec: what was said [mm, deg].
        frame: of the plate.
        pipe: must be None: the spec says which tubes go through.
        edge_factor: hole centre to edge over hole diameter [-].

    Raises:
        NoPlate: the numbers leave no plate.
    """
    not_on_a_pipe(pipe, "a plate for several tubes")
    radius = (spec.tube + spec.fit) / 2.0
    middles = places(spec)
    holes = bolt_holes(spec.bolts, edge_factor) if spec.bolts is not None else ()
    if spec.od is not None:
        outer = circle((0.0, 0.0), spec.od / 2.0)
    else:
        outer = hugged(holes, [(at, radius) for at in middles], spec.land, spec.waist)
    made_ = made(
        spec,
        frame,
        f"Collector plate for {spec.count} tubes of {spec.tube:g} mm",
        outer,
        windows=tuple(circle(at, radius) for at in middles),
        holes=holes,
        cylinders=spec.cylinders,
        window_fit=spec.fit,
        window_style="round-socket",
        notes=(_NOTES[spec.entry],),
    )
    edge = "od" if spec.od is not None else "bolts" if holes else "land"
    return turned(sound(made_, edge, "pitch"), math.radians(spec.roll))
