"""Rectangular flange: four bolts as a rule, a rectangular window, whole or divided.

The turbine's inlet flange of a four-bolt housing; every dimension comes from the spec.
"""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import model_validator

from geomgen.geometry.frames import Frame
from geomgen.plates import NoPlate, Pipe, Plate
from geomgen.plates._bolts import bolt_holes
from geomgen.plates._make import made, not_on_a_pipe
from geomgen.plates._outline import hugged, sound, turned
from geomgen.plates._said import Bolts, Hugging, Size, Sizes, Span, contradiction, one_edge
from geomgen.plates._windows import corners, rectangular_windows, rounded
from geomgen.profiles.loops import Loop

KIND = "rectangular"


class Spec(Hugging):
    """A flange with a rectangular window."""

    kind: Literal["rectangular"]
    """A flange with a rectangular window, whole or divided by a bar: a turbine's inlet."""
    bolts: Bolts
    """Its bolts."""
    width: Size
    """Of the window over all, across."""
    height: Size
    """Of the window over all, up."""
    corner: Size
    """Radius of every corner of the window."""
    divider: Size | None = None
    """Width of a bar that halves the window, up to the gasket face: 4 to 6 mm to seal on."""
    divided: Literal["left-right", "top-bottom"] | None = None
    """Which way the bar parts the window; it halves the longer side without it."""
    outside: Sizes | None = None
    """A rectangular edge, ``[across, up]``; the edge hugs bolts and window without it."""
    outside_radius: Span = 8.0
    """Radius of its corners."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.divided is not None and self.divider is None:
            raise contradiction("divided without divider", "the bar's width", "add divider: 5")
        one_edge(self.outside, self.waist, "outside")
        return self


def plate(
    spec: Spec,
    frame: Frame,
    pipe: Pipe | None = None,
    edge_factor: float = 1.5,
) -> Plate:
    """The flange; ``windows`` of the plate are what a family's transitions end in.

    Args:
        spec: what was said [mm, deg].
        frame: of the plate.
        pipe: must be None: what ends here is formed to the window.
        edge_factor: hole centre to edge over hole diameter [-].

    Raises:
        NoPlate: the numbers leave no plate.
    """
    not_on_a_pipe(pipe, "a rectangular window")
    windows = rectangular_windows(spec.width, spec.height, spec.corner, spec.divider, spec.divided)
    holes = bolt_holes(spec.bolts, edge_factor)
    window = [(c, spec.corner) for c in corners(spec.width, spec.height, spec.corner)]
    outer = _outside(spec) or hugged(holes, window, spec.land, spec.waist)
    made_ = made(
        spec,
        frame,
        f"Rectangular {len(holes)}-bolt flange, {'divided' if len(windows) == 2 else 'undivided'}",
        outer,
        windows=tuple(windows),
        holes=holes,
        notes=()
        if spec.divider is None
        else (f"Bar of {spec.divider:g} mm: seals on the gasket, do not grind it.",),
    )
    edge = "outside" if spec.outside is not None else "bolts"
    return turned(sound(made_, edge, "width"), math.radians(spec.roll))


def _outside(spec: Spec) -> Loop | None:
    if spec.outside is None:
        return None
    least = min(spec.outside) / 2.0
    if spec.outside_radius > least:
        raise NoPlate(
            ("outside_radius",),
            f"{spec.outside_radius:g} mm",
            f"at most {least:g} mm, half of the shorter side",
            "make it smaller",
        )
    return rounded(*spec.outside, spec.outside_radius)
