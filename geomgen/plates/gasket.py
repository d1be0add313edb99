"""Gasket of another plate: its outline, windows and holes opened a little."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from geomgen.fasteners import FASTENERS
from geomgen.plates import NoPlate, Plate, PlateHole
from geomgen.plates._make import made_for
from geomgen.plates._outline import sound
from geomgen.plates._said import Derived, Process, Span
from geomgen.profiles.loops import Loop
from geomgen.profiles.union import grown
from geomgen.units import later

KIND = "gasket"


class Spec(Derived):
    """A gasket for another plate."""

    kind: Literal["gasket"]
    """A gasket for another plate. Its thickness is the sheet's, its material the sheet's kind."""
    window_clearance: Span = 1.5
    """How far its windows stand back from the plate's, all round: 1.5 to 2 mm."""
    hole_clearance: Span = 1.0
    """How much larger in diameter its bolt holes are than the plate's."""
    relief: bool | None = later()
    """``true``: it has the plate's relief slots too. Without it its outline is closed."""
    process: Process | None = "waterjet"
    """How it is cut."""


def plate(spec: Spec, of: Plate) -> Plate:
    """The gasket, drawn the same way round as its plate.

    Raises:
        NoPlate: opened so far, nothing is left between its openings.
    """
    note = (
        f"Windows {spec.window_clearance:g} mm back from the plate's all round, holes "
        f"{spec.hole_clearance:g} mm larger: never copy bolt places from a gasket."
    )
    made_ = made_for(
        spec,
        of,
        "Gasket of",
        relief=bool(spec.relief),
        windows=tuple(_window(window, spec.window_clearance) for window in of.windows),
        holes=tuple(_hole(hole, spec.hole_clearance) for hole in of.holes),
        cylinders=of.cylinders,
        sheet=True,
        notes=(note,),
    )
    return sound(made_, None, "window_clearance", "hole_clearance")


def _window(window: Loop, by: float) -> Loop:
    try:
        return grown(window, by)
    except ValueError as error:
        raise NoPlate(
            ("window_clearance",), f"{by:g} mm: {error}", "an opening of one piece", "make it less"
        ) from None


def _hole(hole: PlateHole, by: float) -> PlateHole:
    known = hole.kind == "tapped" and hole.thread in FASTENERS
    size = FASTENERS[hole.thread].hole("medium") if known else hole.diameter
    return replace(hole, diameter=size + by, kind="clearance", note="")
