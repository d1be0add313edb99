"""What a spec says of parts that stand already: pins on the solved layout, and tacked tube."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from geomgen.units import Angle, Quantity, Size, StrictModel, refusal

Cylinder = Annotated[int, Field(strict=True, ge=1, le=16)]
"""A cylinder's number."""
Ordinal = Annotated[int, Field(strict=True, ge=1, le=40)]
"""A place in the bend table, from 1."""


class Pin(StrictModel):
    """A runner of the layout in the lock, or one bend or straight of it, that stays where it is."""

    runner: Cylinder
    """Cylinder number; with neither ``bend`` nor ``straight``, the whole runner."""
    bend: Ordinal | None = None
    """Number of the bend, as the bend table counts them."""
    straight: Ordinal | None = None
    """Number of the straight: the one before the bend of that number; the last, before the
    collector, is one more than there are bends."""

    @model_validator(mode="after")
    def _one_part(self) -> Self:
        if self.bend is not None and self.straight is not None:
            raise refusal(
                f"bend {self.bend} and straight {self.straight} in one pin",
                "a bend or a straight",
                "make one pin of each",
            )
        return self

    @property
    def part(self) -> str:
        """``bend 1``, ``straight 2``, or ``whole``."""
        if self.bend is not None:
            return f"bend {self.bend}"
        return "whole" if self.straight is None else f"straight {self.straight}"


class Tacked(StrictModel):
    """One piece that is tacked: a straight, or a bend with its angle and clock."""

    straight: Size | None = None
    """Length of a straight."""
    bend: Size | None = None
    """Centreline radius of a bend."""
    angle: Annotated[float, Field(gt=0, le=180), Quantity("angle")] | None = None
    """Angle that the bend was really cut to."""
    clock: Angle | None = None
    """Turn of the bend's plane against the bend before it, as in the bend table: clockwise is
    +, seen along the gas. The first bend's is against the head's x: 0 bends to the right as one
    looks at the flange from the tube side, 90 up, 180 left, -90 down."""
    length: Size | None = None
    """A bend's length along its centreline, where it was measured: a check on radius and
    angle, which it must agree with to within ``runners.tolerance``."""

    @model_validator(mode="after")
    def _one_piece(self) -> Self:
        if (self.straight is None) == (self.bend is None):
            raise refusal(
                "neither straight nor bend" if self.straight is None else "straight and bend",
                "a straight, or a bend",
                "write {straight: 52.5} or {bend: 67.5, angle: 81.5, clock: -64}",
            )
        if self.bend is not None and (self.angle is None or self.clock is None):
            raise refusal(
                "a bend without its angle or clock",
                "a bend with angle and clock",
                "write {bend: 67.5, angle: 81.5, clock: -64}",
            )
        turned = (self.angle, self.clock, self.length)
        if self.straight is not None and any(value is not None for value in turned):
            raise refusal(
                "a straight with angle, clock or length",
                "a straight alone",
                "write its length behind straight, and the bend as a piece of its own",
            )
        return self


class Bench(StrictModel):
    """What is tacked of one runner."""

    runner: Cylinder
    """Cylinder number."""
    tacked: Annotated[tuple[Tacked, ...], Field(min_length=1, max_length=40)]
    """Every piece as it really is, in order from the round end of the transition."""
    length: Size | None = None
    """Length of all that is tacked along its centreline, where it was measured: a check on the
    pieces, which it must agree with to within ``runners.tolerance``."""
