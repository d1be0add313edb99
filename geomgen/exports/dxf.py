"""One DXF a flat part, as cutters ask for it.

Its unit in the header and the name, net size, closed loops with true arcs, z = 0, one part a
file; inner loops come before the outline and marks before all cuts. No text, dimension, spline,
block, facet or construction: what is in the file gets cut. Layer ``CUT`` is cut, layer
``MARK`` is etched or left out, layer ``REFERENCE`` is there on request, to be looked at.
"""

from __future__ import annotations

import re

from geomgen.design.model import Design, FlatPart
from geomgen.exports._dxf_writing import Drawn, Pen, Style, Unit, Version, written
from geomgen.exports._dxf_writing import as_circle as as_circle
from geomgen.exports._dxf_writing import bulge as bulge
from geomgen.profiles.loops import bounding_box

NAME = "dxf"

CUT, MARK, REFERENCE = "CUT", "MARK", "REFERENCE"
"""Layers, where the spec does not name them."""

COLOURS = (7, 5, 8)
"""Of cut, mark and reference."""


def export(design: Design) -> dict[str, bytes]:
    """The DXF of every flat part, by file name."""
    said = design.files
    return {
        file_name(part, said.unit): flat(
            part,
            said.version,
            said.style,
            said.with_reference,
            said.unit,
            (said.cut, said.mark, said.reference),
        )
        for part in design.flats
    }


def file_name(part: FlatPart, unit: Unit = "mm", what: str = "") -> str:
    """``flats/head_flange_10mm_304_mm.dxf``: part, plate as cut, grade, and the file's unit.

    Args:
        part: that is in it.
        unit: of its coordinates.
        what: words that set it apart from the net file.
    """
    material = re.sub(r"[^A-Za-z0-9.]+", "-", part.material).strip("-.")
    words = (part.name, f"{part.cut_thickness:g}mm", material, what, unit)
    return f"flats/{'_'.join(word for word in words if word)}.dxf"


def flat(
    part: FlatPart,
    version: Version = "R2000",
    style: Style = "polylines",
    reference: bool = False,
    unit: Unit = "mm",
    layers: tuple[str, str, str] = (CUT, MARK, REFERENCE),
) -> bytes:
    """One part as the bytes of a DXF file.

    Args:
        part: what to write.
        version: R12 cannot name its unit; it is in the file's name all the same.
        style: closed polylines with bulges, or joined lines and arcs for readers that
            drop bulges.
        reference: also the loops that are only to be looked at, on their own layer.
        unit: of the coordinates.
        layers: names for what is cut, marked and looked at.
    """
    cut, mark, look = layers
    things = [Drawn(mark, (stroke,), closed=False) for stroke in part.marks]
    things += [Drawn(look, loop) for loop in (part.reference if reference else ())]
    things += [Drawn(cut, loop) for loop in (*reversed(part.profile.holes), part.profile.outer)]
    used = tuple(zip(layers, COLOURS, strict=True))
    box = bounding_box(part.profile.outer)
    return written(things, used if reference else used[:2], box, Pen(version, style, unit))
