"""What a spec says of the things that are in the way."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from geomgen.ports._files import file_below
from geomgen.units import Direction, Point, Size, Span, StrictModel, later, refusal

ObstacleKind = Literal[
    "block", "head", "steering", "brakes", "moving", "plug", "line", "ground", "body"
]

KIND_MEANINGS: dict[str, str] = {
    "block": "engine block, sump, mounts, starter: moves with the engine",
    "head": "cylinder head, covers, dipstick: moves with the engine",
    "steering": "steering shaft, rack, column",
    "brakes": "brake lines, servo, master cylinder, calipers",
    "moving": "fan, belts, pulleys, suspension through its travel",
    "plug": "spark plug, its boot and lead",
    "line": "fuel, oil and coolant lines, hoses, wiring",
    "ground": "the road",
    "body": "chassis, bulkhead, bonnet, floor: the engine moves against it on its mounts",
}
"""Kinds of obstacle, each with its own gap in ``limits``."""


class Box(StrictModel):
    """A box along the head's axes, by two opposite corners."""

    from_: Point = Field(alias="from")
    """The corner with the smaller x, y and z."""
    to: Point
    """The corner with the larger x, y and z."""


class Cylinder(StrictModel):
    """A round bar with flat ends, by its axis."""

    from_: Point = Field(alias="from")
    """One end of the axis."""
    to: Point
    """The other end of the axis."""
    diameter: Size
    """Over all."""


class HalfSpace(StrictModel):
    """Everything behind a plane: a road, a wall."""

    point: Point
    """Any point of the surface."""
    normal: Direction
    """Out of the material, into the free side."""


def _step_file(file: str) -> str:
    return file_below(
        file, (".step", ".stp"), "a STEP file: .step or .stp", "export the solid as STEP"
    )


class Solid(StrictModel):
    """All closed solids of a STEP file, placed by the file's own axes; its own unit is read."""

    file: Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_step_file)]
    """The file, named from the spec's own folder: `parts/gearbox.step`."""
    at: Point = (0.0, 0.0, 0.0)
    """Where the file's origin is."""
    x: Direction = (1.0, 0.0, 0.0)
    """Which way the file's x axis points; made square to its z."""
    z: Direction = (0.0, 0.0, 1.0)
    """Which way the file's z axis points."""


_SHAPES = ("box", "cylinder", "plane", "solid")


class Obstacle(StrictModel):
    """Something in the way, with exactly one shape: box, cylinder, plane or solid."""

    name: Annotated[str, Field(min_length=1, max_length=60)]
    """What it is called in every report."""
    kind: ObstacleKind
    """What it is to an exhaust; decides the gap."""
    box: Box | None = None
    """A box along the head's axes."""
    cylinder: Cylinder | None = None
    """A round bar."""
    plane: HalfSpace | None = None
    """Everything behind a plane."""
    solid: Solid | None = later()
    """Whatever a STEP file holds: a gearbox, a scanned bay."""
    gap: Span | None = None
    """Gap to keep; the gap of its kind in ``limits`` without it."""

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        given = [name for name in _SHAPES if getattr(self, name) is not None]
        if len(given) != 1:
            raise refusal(
                " and ".join(given) or "no shape",
                "exactly one of box, cylinder, plane, solid",
                "give it one shape" if not given else "make one obstacle of each shape",
            )
        return self
