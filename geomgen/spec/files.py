"""What a spec says of the files that a cutter gets."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geomgen.units import Quantity, Size, Span, StrictModel, later, refusal

Layer = Annotated[str, Field(pattern=r"^[A-Za-z0-9_$-]{1,31}$")]
"""A layer's name in letters that every DXF version takes."""

_NEVER_PLOTTED = "defpoints"


class Layers(StrictModel):
    """Names of the layers, as the shop has them."""

    cut: Layer = "CUT"
    """What is cut through."""
    mark: Layer = "MARK"
    """What is etched or left out: centre marks and lettering."""
    reference: Layer = "REFERENCE"
    """What is only to be looked at."""

    @model_validator(mode="after")
    def _apart(self) -> Self:
        names = [name.casefold() for name in (self.cut, self.mark, self.reference)]
        if len(set(names)) < len(names):
            raise refusal(
                ", ".join((self.cut, self.mark, self.reference)),
                "three different names",
                "give each layer its own name; capitals make no difference in a DXF",
            )
        if _NEVER_PLOTTED in names:
            raise refusal("DEFPOINTS", "a layer that is plotted", "many readers leave it out")
        return self


class Kerf(StrictModel):
    """A second cut file with the path of the torch, for a machine that makes none itself."""

    width: Annotated[float, Field(gt=0, le=10), Quantity("length")]
    """Width of the cut: half of it goes outside the outline and inside every opening."""
    lead_in: Size | None = later()
    """How far from the edge the torch pierces, in the scrap; the plate's thickness, and at
    least 5, without it. Small openings take what room they have."""
    lead: Literal["arc", "line"] = "arc"
    """``arc`` runs into the edge along a quarter circle, ``line`` square to it."""
    overrun: Span = 2.0
    """How far the path goes on beyond the place where it met the edge: 1 to 3."""


class Files(StrictModel):
    """The files that a cutter gets of every flat part."""

    version: Literal["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"] = "R2000"
    """DXF version. R12 cannot say its unit in the file: it stands in the file's name and in
    the notes."""
    unit: Literal["mm", "inch"] = "mm"
    """Unit of the DXF's coordinates, named in its header and at the end of its name. Sheets
    and tables stay in mm."""
    style: Literal["polylines", "lines-arcs"] = "polylines"
    """``polylines``: one closed polyline a loop, arcs as bulges. ``lines-arcs``: joined lines
    and arcs, for readers that drop bulges. Circles are circles in both."""
    layers: Layers = Layers.model_construct()
    """Names of the layers."""
    reference: bool = False
    """Whether the DXF also holds what is only to be looked at: port edges, gasket lines."""
    paper: Literal["a4", "a3", "a2", "a1", "a0", "letter", "tabloid"] = "a4"
    """Paper of the drawings at full size; what does not fit is tiled over several pages."""
    kerf: Kerf | None = later()
    """A second DXF with kerf and lead-ins, named ``kerf_compensated``. Without it there is
    none: cutters want net size and set their own kerf."""
