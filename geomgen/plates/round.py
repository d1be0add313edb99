"""Round flange: bolts on a circle or as given, a round window, whole or divided.

Serves as collector, outlet and turbine flange. With its edge hugging two bolts it is the
oval two-bolt flange, with three the triangular one.
"""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import model_validator

from geomgen.geometry.frames import Frame
from geomgen.plates import Pipe, Plate
from geomgen.plates._bolts import bolt_holes
from geomgen.plates._make import made
from geomgen.plates._outline import hugged, sound, turned
from geomgen.plates._said import Angle, Bolts, Hugging, Size, Span, contradiction, one_edge
from geomgen.plates._windows import opening, round_windows
from geomgen.profiles.loops import circle

KIND = "round"


class Spec(Hugging):
    """A flange with a round window."""

    kind: Literal["round"]
    """A flange with a round window, whole or divided by a bar."""
    bolts: Bolts
    """Its bolts."""
    bore: Size | None = None
    """Diameter of the window; without it, at the outlet, what the tube asks for."""
    window: Literal["socket", "butt"] | None = None
    """``socket``: the tube goes into the plate. ``butt``: it stands on its face. Without it, a
    socket at the outlet, and butt where a bar divides the window."""
    fit: Span = 0.3
    """Tube to socket, over both sides: 0.2 to 0.4."""
    set_back: Span = 2.0
    """Tube's end to the gasket face, in a socket: room for the inside bead."""
    divider: Size | None = None
    """Width of a bar across the window, up to the gasket face: 4 to 6 mm to seal on."""
    divider_turn: Angle = 0.0
    """The bar's lean from upright, clockwise as seen from the tube side."""
    corner: Size = 3.0
    """Radius of the corners beside the bar."""
    od: Size | None = None
    """Diameter of a round edge; the edge hugs bolts and window without it."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.divider is not None and self.window == "socket":
            raise contradiction(
                "a divided socket", "butt: a round tube does not go round a bar", "window: butt"
            )
        one_edge(self.od, self.waist)
        if self.set_back >= self.thickness:
            raise contradiction(
                f"a set_back of {self.set_back:g} mm in {self.thickness:g} mm of plate",
                "less than the thickness",
                "2 is usual",
            )
        return self


def plate(spec: Spec, frame: Frame, pipe: Pipe | None = None, edge_factor: float = 1.5) -> Plate:
    """The flange.

    Args:
        spec: what was said [mm, deg].
        frame: of the plate.
        pipe: the tube that ends in it, if it is known.
        edge_factor: hole centre to edge over hole diameter [-].

    Raises:
        NoPlate: the numbers leave no plate.
    """
    whole = spec.divider is None
    style = spec.window or ("socket" if pipe is not None and whole else "butt")
    hole = opening(spec.bore, style, spec.fit, pipe)
    windows = round_windows(
        hole.diameter, spec.divider, spec.corner, math.radians(spec.divider_turn)
    )
    holes = bolt_holes(spec.bolts, edge_factor)
    if spec.od is not None:
        outer = circle((0.0, 0.0), spec.od / 2.0)
    else:
        outer = hugged(holes, [((0.0, 0.0), hole.diameter / 2.0)], spec.land, spec.waist)
    notes = () if whole else (f"Bar of {spec.divider:g} mm: seals on the gasket, do not grind it.",)
    made_ = made(
        spec,
        frame,
        f"Round {len(holes)}-bolt flange",
        outer,
        windows=tuple(windows),
        holes=holes,
        window_fit=hole.fit,
        window_style=hole.style,
        window_wall=hole.wall,
        notes=notes,
    )
    return turned(
        sound(made_, "od" if spec.od is not None else "bolts", "bore"), math.radians(spec.roll)
    )
