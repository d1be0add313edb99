"""Loops, paths and strokes as the bytes of a DXF file, in any version, style and unit."""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from geomgen.profiles.loops import Arc, Box, Line, Loop, Point2
from geomgen.units import MM_PER_INCH

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

Version = Literal["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
Style = Literal["polylines", "lines-arcs"]
Unit = Literal["mm", "inch"]

UNIT_CODES: dict[str, tuple[int, int]] = {"mm": (4, 1), "inch": (1, 0)}
"""``$INSUNITS`` and ``$MEASUREMENT`` of each unit; DXF reference."""

IN_MM: dict[str, float] = {"mm": 1.0, "inch": MM_PER_INCH}
"""Length of each unit [mm]."""

_DIGITS = 9  # floats are rounded once, here


@dataclass(frozen=True)
class Drawn:
    """One loop, path or stroke on a layer [mm].

    Attributes:
        layer: its name.
        pieces: lines and arcs, each starting where the one before ends.
        closed: whether the last ends where the first starts.
    """

    layer: str
    pieces: Loop
    closed: bool = True


@dataclass(frozen=True)
class Pen:
    """How things are written: version, style, and the length of the file's unit [mm]."""

    version: Version
    style: Style
    unit: Unit

    def length(self, value: float) -> float:
        """A length in the file's unit."""
        return _r(value / IN_MM[self.unit])

    def point(self, point: Point2) -> Point2:
        """A point in the file's unit."""
        return (self.length(point[0]), self.length(point[1]))


def written(
    things: Sequence[Drawn],
    layers: Sequence[tuple[str, int]],
    box: Box,
    pen: Pen,
    comment: str = "",
) -> bytes:
    """The bytes of a file with these things, in this order.

    Args:
        things: what is drawn [mm].
        layers: names and colours.
        box: round what is cut, for the header [mm].
        pen: version, style and unit.
        comment: first group of the file, which readers pass over (group code 999); a version
            that cannot say its unit says it there.
    """
    import ezdxf

    said = [comment] if comment else []
    if pen.version == "R12":
        said.append(f"unit: {pen.unit}")

    with _fixed_meta_data():
        doc = ezdxf.new(pen.version, setup=False)  # type: ignore[attr-defined]
        _header(doc, box, pen)
        for name, colour in layers:
            if name not in doc.layers:
                doc.layers.add(name)
            doc.layers.get(name).color = colour
        space = doc.modelspace()
        for thing in things:
            _draw(space, thing, pen)
        stream = io.StringIO(newline="\n")
        doc.write(stream)
        text = "".join(f"999\n{line}\n" for line in said) + stream.getvalue()
        return text.encode(doc.output_encoding)


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


def _header(doc: Drawing, box: Box, pen: Pen) -> None:
    low = (*pen.point((box.left, box.bottom)), 0.0)
    high = (*pen.point((box.right, box.top)), 0.0)
    doc.header["$EXTMIN"], doc.header["$EXTMAX"] = low, high
    doc.modelspace().reset_extents(low, high)
    if pen.version != "R12":
        doc.header["$INSUNITS"], doc.header["$MEASUREMENT"] = UNIT_CODES[pen.unit]


def _r(value: float) -> float:
    return round(value, _DIGITS) + 0.0


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


def _halves(piece: Line | Arc) -> tuple[Line | Arc, ...]:
    """An arc of more than half a circle as two: not every reader takes bulges over 1 right."""
    if not isinstance(piece, Arc) or abs(piece.sweep) <= math.pi + 1e-9:
        return (piece,)
    half = piece.sweep / 2.0
    return replace(piece, sweep=half), replace(piece, begin=piece.begin + half, sweep=half)


def _draw(space: Modelspace, thing: Drawn, pen: Pen) -> None:
    attributes = {"layer": thing.layer}
    circle = as_circle(thing.pieces) if thing.closed else None
    if circle is not None:
        centre, radius = pen.point(circle.centre), pen.length(circle.radius)
        space.add_circle(centre, radius, dxfattribs=attributes)
    elif pen.style == "lines-arcs" or len(thing.pieces) == 1:
        for piece in thing.pieces:
            _piece(space, piece, thing.layer, pen)
    else:
        # a bulge is no length: shallow arcs of great radius need more of its digits
        pieces = [half for piece in thing.pieces for half in _halves(piece)]
        points = [(*pen.point(p.start), round(bulge(p), 15) + 0.0) for p in pieces]
        if not thing.closed:
            points.append((*pen.point(thing.pieces[-1].end), 0.0))
        add = space.add_polyline2d if pen.version == "R12" else space.add_lwpolyline
        add(points, format="xyb", close=thing.closed, dxfattribs=attributes)


def _piece(space: Modelspace, piece: Line | Arc, layer: str, pen: Pen) -> None:
    attributes = {"layer": layer}
    if isinstance(piece, Line):
        space.add_line(pen.point(piece.start), pen.point(piece.end), dxfattribs=attributes)
        return
    low, high = sorted((piece.begin, piece.begin + piece.sweep))
    space.add_arc(
        pen.point(piece.centre),
        pen.length(piece.radius),
        _r(math.degrees(low) % 360.0),
        _r(math.degrees(high) % 360.0),
        dxfattribs=attributes,
    )
