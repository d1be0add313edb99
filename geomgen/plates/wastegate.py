"""Flange of an external wastegate: the seat's bore and its bolts."""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import model_validator

from geomgen.geometry.frames import Frame
from geomgen.plates import Pipe, Plate
from geomgen.plates._bolts import bolt_holes
from geomgen.plates._make import made
from geomgen.plates._outline import hugged, sound, turned
from geomgen.plates._said import Bolts, Hugging, Size, one_edge
from geomgen.plates._windows import opening
from geomgen.profiles.loops import circle

KIND = "wastegate"


class Spec(Hugging):
    """A flange that an external wastegate is bolted to."""

    kind: Literal["wastegate"]
    """A flange that an external wastegate is bolted to."""
    bolts: Bolts
    """Its bolts or studs; often tapped into the plate."""
    seat: Size
    """Bore under the valve's seat."""
    od: Size | None = None
    """Diameter of a round edge; the edge hugs bolts and bore without it."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        one_edge(self.od, self.waist)
        return self


def plate(spec: Spec, frame: Frame, pipe: Pipe | None = None, edge_factor: float = 1.5) -> Plate:
    """The flange; the branch stands on its face, or goes in where the seat is wide enough.

    Args:
        spec: what was said [mm, deg].
        frame: of the plate.
        pipe: the branch that ends in it, if it is known.
        edge_factor: hole centre to edge over hole diameter [-].

    Raises:
        NoPlate: the numbers leave no plate.
    """
    goes_in = pipe is not None and pipe.od <= spec.seat
    # A branch wider than the seat stands on the plate, and the gate throttles it by intent.
    hole = opening(
        spec.seat, "socket" if goes_in else "butt", 0.3, pipe if goes_in else None, "seat"
    )
    holes = bolt_holes(spec.bolts, edge_factor)
    if spec.od is not None:
        outer = circle((0.0, 0.0), spec.od / 2.0)
    else:
        outer = hugged(holes, [((0.0, 0.0), spec.seat / 2.0)], spec.land, spec.waist)
    made_ = made(
        spec,
        frame,
        f"Wastegate flange, seat {spec.seat:g} mm",
        outer,
        windows=(circle((0.0, 0.0), spec.seat / 2.0),),
        holes=holes,
        window_fit=hole.fit,
        window_style=hole.style,
        window_wall=hole.wall,
        notes=("Weld before the seat's face is machined; no weld inside the seat's bore.",),
    )
    return turned(
        sound(made_, "od" if spec.od is not None else "bolts", "seat"), math.radians(spec.roll)
    )
