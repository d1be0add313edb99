"""One DXF a flat part, as cutters ask for it.

Millimetres in the header, net size, closed loops with true arcs, z = 0, one part a file;
inner loops come before the outline and marks before all cuts. No text, dimension, spline,
block, facet or construction: what is in the file gets cut. Layer ``CUT`` is cut, layer
``MARK`` is etched or left out.
"""

from __future__ import annotations

import io
import logging
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal

from geomgen.design.model import Design, FlatPart
from geomgen.profiles.loops import Arc, Line, Loop, Point2, bounding_box

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

NAME = "dxf"

CUT, MARK, REFERENCE = "CUT", "MARK", "REFERENCE"
"""Layers."""

Version = Literal["R12", "R2000", "R2010", "R2013", "R2018"]
Style = Literal["polylines", "lines-arcs"]

MILLIMETRES, METRIC = 4, 1
"""``$INSUNITS`` and ``$MEASUREMENT``."""

_COLOURS = {CUT: 7, MARK: 5, REFERENCE: 8}
_DIGITS = 9  # floats are rounded once, here


def export(design: Design) -> dict[str, bytes]:
    """The DXF of every flat part, by file name."""
    return {file_name(part): flat(part) for part in design.flats}


def file_name(part: FlatPart) -> str:
    """``flats/head_flange_10mm_304_mm.dxf``: part, plate, grade, and the file's unit."""
    material = re.sub(r"[^A-Za-z0-9.]+", "-", part.material).strip("-.")
    return f"flats/{part.name}_{part.thickness:g}mm_{material}_mm.dxf"


def flat(
    part: FlatPart,
    version: Version = "R2000",
    style: Style = "polylines",
    reference: bool = False,
) -> bytes:
    """One part as the bytes of a DXF file.

    Args:
        part: what to write.
        version: R12 cannot name its unit; it is in the file's name all the same.
        style: closed polylines with bulges, or joined lines and arcs for readers that
            drop bulges.
        reference: also the loops that are only to be looked at, on their own layer.
    """
    import ezdxf

    with _fixed_meta_data():
        doc = ezdxf.new(version, setup=False)  # type: ignore[attr-defined]
        _header(doc, part, version)
        space = doc.modelspace()
        for name in (CUT, MARK, *((REFERENCE,) if reference else ())):
            doc.layers.add(name, color=_COLOURS[name])
        for mark in part.marks:
            _line(space, mark, MARK)
        for loop in part.reference if reference else ():
            _loop(space, loop, REFERENCE, version, style)
        for loop in (*reversed(part.profile.holes), part.profile.outer):
            _loop(space, loop, CUT, version, style)
        stream = io.StringIO(newline="\n")
        doc.write(stream)
        return stream.getvalue().encode(doc.output_encoding)


@contextmanager
def _fixed_meta_data() -> Iterator[None]:
    """No dates, GUIDs, library versions or log lines in what is written meanwhile."""
    import ezdxf

    options = ezdxf.options  # type: ignore[attr-defined]
    logger = logging.getLogger("ezdxf")
    level = logger.level
    logger.setLevel(logging.ERROR)  # it warns of R12's missing unit; dxf-units says it
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
        logger.setLevel(level)


def _header(doc: Drawing, part: FlatPart, version: Version) -> None:
    box = bounding_box(part.profile.outer)
    doc.header["$EXTMIN"] = (_r(box.left), _r(box.bottom), 0.0)
    doc.header["$EXTMAX"] = (_r(box.right), _r(box.top), 0.0)
    space = doc.modelspace()
    space.reset_extents((_r(box.left), _r(box.bottom), 0.0), (_r(box.right), _r(box.top), 0.0))
    if version != "R12":
        doc.header["$INSUNITS"] = MILLIMETRES
        doc.header["$MEASUREMENT"] = METRIC


def _r(value: float) -> float:
    return round(value, _DIGITS) + 0.0


def _p(point: Point2) -> Point2:
    return (_r(point[0]), _r(point[1]))


def _line(space: Modelspace, line: Line, layer: str) -> None:
    space.add_line(_p(line.start), _p(line.end), dxfattribs={"layer": layer})


def as_circle(loop: Loop) -> Arc | None:
    """The first arc of a loop that is one full circle, else None."""
    first = loop[0]
    if not isinstance(first, Arc):
        return None
    for piece in loop:
        if not isinstance(piece, Arc) or math.dist(piece.centre, first.centre) > 1e-9:
            return None
        if abs(piece.radius - first.radius) > 1e-9:
            return None
    return first


def bulge(piece: Line | Arc) -> float:
    """Tangent of a quarter of the arc's angle, positive counter-clockwise; 0 for a line."""
    return math.tan(piece.sweep / 4.0) if isinstance(piece, Arc) else 0.0


def _loop(space: Modelspace, loop: Loop, layer: str, version: Version, style: Style) -> None:
    attributes = {"layer": layer}
    circle = as_circle(loop)
    if circle is not None:
        space.add_circle(_p(circle.centre), _r(circle.radius), dxfattribs=attributes)
    elif style == "lines-arcs":
        for piece in loop:
            _piece(space, piece, layer)
    else:
        points = [(*_p(piece.start), _r(bulge(piece))) for piece in loop]
        if version == "R12":
            space.add_polyline2d(points, format="xyb", close=True, dxfattribs=attributes)
        else:
            space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=attributes)


def _piece(space: Modelspace, piece: Line | Arc, layer: str) -> None:
    if isinstance(piece, Line):
        _line(space, piece, layer)
        return
    low, high = sorted((piece.begin, piece.begin + piece.sweep))
    space.add_arc(
        _p(piece.centre),
        _r(piece.radius),
        _r(math.degrees(low) % 360.0),
        _r(math.degrees(high) % 360.0),
        dxfattribs={"layer": layer},
    )
