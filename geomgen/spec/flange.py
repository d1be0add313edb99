"""What a spec says of the head flange."""

from __future__ import annotations

from typing import Literal

from geomgen.spec.names import Material
from geomgen.units import Size, Span, StrictModel


class Flange(StrictModel):
    """The head flange."""

    thickness: Size
    """Plate as finished."""
    material: Material
    """Grade of the plate."""
    process: Literal["plasma", "laser", "waterjet"]
    """How it is cut; decides which holes are cut and which are marked and drilled."""
    window: Literal["socket", "butt"] = "socket"
    """``socket``: the formed tube goes into the plate, window = port shape + wall + fit.
    ``butt``: the window is the port and the tube stands on the plate's face."""
    fit: Span = 0.3
    """Tube to window, over both sides: 0.2 to 0.4."""
    set_back: Span = 2.0
    """Tube's end to the gasket face: room for the inside bead."""
    land: Size = 8.0
    """Metal left round every window."""
    hole_class: Literal["fine", "medium", "coarse"] = "medium"
    """Clearance holes for the studs, ISO 273."""
