"""What a spec says of the head flange."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from geomgen.spec.names import Material
from geomgen.units import (
    Angle,
    FacePoint,
    Quantity,
    Size,
    Span,
    StrictModel,
    Temperature,
    later,
)

HoleName = Annotated[str, Field(pattern=r"^[a-z0-9_]+$", max_length=20)]
"""How the hole table calls it: small letters, digits and _."""


class Relief(StrictModel):
    """Slots between neighbouring ports, from one edge of a one-piece flange.

    They let the hot plate grow without tearing the gasket or bending the studs. Corners at their
    mouths are rounded. Where there is no place clear of bosses and windows, the slot is left out;
    the part and the check ``relief-slots`` say so.
    """

    width: Size
    """Of the slot: 2 to 3."""
    web: Size | None = later()
    """Metal left at the end of the slot; the greatest of land, thickness and the process's web
    without it."""
    stop: Size | None = later()
    """Diameter of the round end, as a drilled stop; the width, or what the process can
    turn in, without it."""


class Growth(StrictModel):
    """How hot flange and head get, and which stud holds the flange."""

    open: bool = True
    """Whether holes are opened at all; ``false`` leaves them as they are."""
    flange_temperature: Annotated[Temperature, Field(gt=20, le=1200)] = 420.0
    """Of the plate, on average: 400 above the cold engine (common practice, no source)."""
    head_temperature: Annotated[Temperature, Field(ge=20, le=400)] = 100.0
    """Of the head beside it (common practice, no source)."""
    head_material: Literal["aluminium", "iron", "grey-iron", "steel"] = "aluminium"
    """Of the head; ``iron`` is ductile."""
    register_stud: HoleName | None = Field(default=None, alias="register")
    """Stud whose hole is kept tight and holds the flange; the one nearest the middle without
    it."""
    expansion: Annotated[float, Field(gt=0, le=40), Quantity("number")] | None = None
    """Mean coefficient of the plate's grade from 20 degC to its temperature, 1e-6/K, for
    grades that the table does not know."""


class Dowel(StrictModel):
    """A dowel hole: marked, drilled and reamed, never cut to size."""

    at: FacePoint
    """Its place on the face, from the centre of cylinder 1's port."""
    diameter: Size
    """Of the dowel."""
    name: HoleName | None = None
    """Its name in the hole table; dowel 1, dowel 2, ... without it."""


class Tapped(StrictModel):
    """A tapped hole: marked, drilled and tapped."""

    at: FacePoint
    """Its place on the face, from the centre of cylinder 1's port."""
    size: Literal["M6", "M8", "M10", "M12"]
    """Thread, coarse."""
    name: HoleName | None = None
    """Its name in the hole table; tapped 1, tapped 2, ... without it."""


class Slot(StrictModel):
    """A stud's hole made a slot."""

    stud: HoleName
    """Name of the stud."""
    length: Size
    """How much longer than wide."""
    angle: Angle = 0.0
    """Of the slot, from x to the left hand, seen from the tube side."""


class Flange(StrictModel):
    """The head flange."""

    thickness: Size
    """Plate as finished."""
    material: Material
    """Grade of the plate."""
    process: Literal["plasma", "laser", "waterjet"]
    """How it is cut; decides which holes are cut and which are marked and drilled."""
    window: Literal["socket", "round-socket", "butt"] = "socket"
    """``socket``: the formed tube goes into the plate, window = port shape + wall + fit.
    ``round-socket``: the round tube goes in as it is, its roof in line with the port's, and
    must not stand inside the port's edge. ``butt``: the window is the port and the tube stands
    on the plate's face. Where ports lean, the window is what the leaning tube sweeps."""
    fit: Span = 0.3
    """Tube to window, over both sides: 0.2 to 0.4."""
    set_back: Span = 2.0
    """Tube's end to the gasket face, square to it: room for the inside bead. The end of a
    leaning tube is cut in line with the face."""
    land: Size = 8.0
    """Metal left round every window."""
    hole_class: Literal["fine", "medium", "coarse"] = "medium"
    """Clearance holes for the studs, ISO 273."""
    outline: Literal["hugging", "bar", "separate"] | None = later()
    """``hugging`` (without it): round windows and bosses, waisted between. ``bar``: straight
    edges, rounded ends. ``separate``: one piece a port, each a part of its own with the studs
    nearest to it; ports that share a stud cannot be separate."""
    relief: Relief | None = later()
    """Slots between the ports."""
    facing: Span | None = later()
    """Stock on the gasket face: the plate is cut thicker by this and faced to ``thickness``
    after welding. Both are printed."""
    growth: Growth | None = later()
    """Hot growth of a one-piece flange over ``limits.growth_span``: the outer studs' holes are
    opened, as slots along the row where the process cuts them, else drilled larger under
    washers, and the middle stud is kept as register. It is reckoned with the defaults without
    this key."""
    dowels: tuple[Dowel, ...] | None = later()
    """Dowel holes."""
    tapped: tuple[Tapped, ...] | None = later()
    """Tapped holes."""
    slots: tuple[Slot, ...] | None = later()
    """Studs whose holes are slots."""
