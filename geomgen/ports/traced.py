"""Port of any shape: a closed outline of a DXF file, a traced gasket, as lines and arcs.

The outline is cleaned (duplicates dropped, gaps closed), then fitted with lines and arcs that
join smoothly where the trace is smooth. Only the port's edge is taken: a gasket's bolt holes
are punched oversize, and a bolt pattern traced from them does not fit the studs.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from geomgen.names import Name
from geomgen.ports import NoOutline, Outline
from geomgen.ports._dxf import Drawing, NotDrawn, Stroke, read
from geomgen.ports._files import file_below
from geomgen.ports._placement import PortPlacement, Size, refusal
from geomgen.profiles.chaining import Chained, chained
from geomgen.profiles.distances import inside, is_simple
from geomgen.profiles.fitting import MOST_PIECES, Fit, fit
from geomgen.profiles.loops import (
    Arc,
    Line,
    Loop,
    Point2,
    area,
    backwards,
    bounding_box,
    perimeter,
    placed,
)
from geomgen.profiles.tracing import crossing
from geomgen.units import Angle, FacePoint, Span
from geomgen.units import refusal as refused

KIND = "traced"

MOST_POINTS = 3000
"""Lines and arcs of one outline: more is no trace but noise."""

LEAST = 5.0
"""Width below which an outline is no port but a wrong unit [mm]."""

LARGEST = 1000.0
"""Width above which an outline is no port but a wrong unit [mm]."""

_UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}

_HOLES = ("bolt_holes", "bolts", "holes", "studs", "hole_layer")


def _dxf_file(file: str) -> str:
    return file_below(file, (".dxf",), "a DXF file: .dxf", "export the outline as DXF")


class Spec(PortPlacement):
    """Ports of one head, their shape traced: read from a DXF file."""

    shape: Literal["traced"]
    """Shape of the ports."""
    file: Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_dxf_file)]
    """ASCII DXF with the outline, named from the spec's own folder: `parts/gasket.dxf`. Lines,
    arcs, circles, polylines, ellipses and splines are read."""
    unit: Literal["mm", "cm", "m", "in"] | None = None
    """Unit of the drawing; the one that the file names without it."""
    layer: Name | None = None
    """Layer that the outline is on; all layers without it."""
    number: Annotated[int, Field(strict=True, ge=1, le=1000)] | None = None
    """Which closed outline, by size: 1 is the largest, and taken without it."""
    inside: FacePoint | None = None
    """In place of ``number``: the smallest outline round this point of the drawing, in the
    drawing's own numbers."""
    gap: Span = 0.5
    """Ends up to this far apart are joined."""
    fit: Size = 0.1
    """Farthest that lines and arcs may lie from the trace."""
    centre: FacePoint | None = None
    """Point of the drawing, in its own numbers, that is the port's centre; the middle of the
    outline's box without it."""
    turn: Angle = 0.0
    """The drawing is turned by this, counter-clockwise, seen from the tube side."""
    mirror: bool = False
    """Whether the drawing shows the head's side of the gasket and is to be mirrored, left
    to right, before it is turned: specs are seen from the tube side."""

    @model_validator(mode="before")
    @classmethod
    def _no_bolt_holes(cls, said: Any) -> Any:
        asked = [key for key in _HOLES if isinstance(said, dict) and key in said]
        if asked:
            raise refusal(
                f"{asked[0]} from a traced gasket",
                "the port's edge alone: a gasket's bolt holes are oversize, a pattern traced "
                "from them misses the studs",
                "measure the studs themselves and give them under studs",
            )
        return said

    @model_validator(mode="after")
    def _one_choice(self) -> Self:
        if self.number is not None and self.inside is not None:
            raise refusal("both number and inside", "one of the two", "take one of them out")
        if not 0.005 <= self.fit <= 1.0:
            raise refused(self.fit, "a fit of 0.005 to 1 mm", "0.1 suits a traced gasket")
        if self.gap > 5.0:
            raise refused(self.gap, "a gap of at most 5 mm", "close the outline in the drawing")
        return self


def outline(spec: Spec, content: bytes) -> Outline:
    """Edge of the port, counter-clockwise, about the port's axis, and how well it is known.

    Raises:
        NoOutline: the file gives no port.
    """
    loop, facts, middle = _cleaned(
        content, spec.unit, spec.layer, spec.number, spec.inside, spec.gap, spec.fit
    )
    scale = dict(facts)["unit_mm"]
    if spec.centre is not None:
        middle = (spec.centre[0] * scale, spec.centre[1] * scale)
    loop = placed(loop, (-middle[0], -middle[1]))
    if spec.mirror:
        loop = _mirrored(loop)
    return Outline(placed(loop, (0.0, 0.0), math.radians(spec.turn)), facts)


@lru_cache(maxsize=8)
def _cleaned(
    content: bytes,
    unit: str | None,
    layer: str | None,
    number: int | None,
    point: Point2 | None,
    gap: float,
    tolerance: float,
) -> tuple[Loop, tuple[tuple[str, float], ...], Point2]:
    """The fitted outline where the drawing has it [mm], its facts, and the middle of its box."""
    try:
        drawing = read(content)
    except NotDrawn as error:
        raise NoOutline("file", error.found, error.allowed, error.remedy) from None
    chosen = _on_layer(drawing, layer)
    scale = _unit(drawing, unit)
    strokes = [_scaled(stroke.pieces, scale) for stroke in chosen]
    found = chained(strokes, gap)
    which = _chosen(found, gap, number, point and (point[0] * scale, point[1] * scale))
    drawn = found.loops[which]
    _refuse_odd(drawn, scale)
    fitted = _fitted(drawn, tolerance)
    facts = (
        ("unit_mm", scale),
        ("outlines", float(len(found.loops))),
        ("outline_taken", float(which + 1)),
        ("points", float(len(drawn))),
        ("pieces", float(len(fitted.loop))),
        ("corners", float(fitted.corners)),
        ("deviation_mm", fitted.deviation),
        ("fit_mm", tolerance),
        ("gaps_closed", float(found.gaps[which])),
        ("widest_gap_mm", found.widest[which]),
        ("duplicates_dropped", float(found.duplicates)),
        ("loose_strokes", float(found.loose)),
        ("passed_over", float(sum(count for _, count in drawing.passed_over))),
        ("area_mm2", area(fitted.loop)),
        ("perimeter_mm", perimeter(fitted.loop)),
    )
    box = bounding_box(fitted.loop)
    return fitted.loop, facts, ((box.left + box.right) / 2.0, (box.bottom + box.top) / 2.0)


def _unit(drawing: Drawing, unit: str | None) -> float:
    if unit is not None:
        return _UNITS[unit]
    if drawing.unit is None:
        raise NoOutline(
            "unit",
            "a drawing that does not say its unit",
            "unit: mm, cm, m or in",
            "add unit: mm, or what it was drawn in",
        )
    return drawing.unit


def _on_layer(drawing: Drawing, layer: str | None) -> tuple[Stroke, ...]:
    if not drawing.strokes:
        kinds = ", ".join(f"{count} {kind}" for kind, count in drawing.passed_over)
        raise NoOutline(
            "file",
            f"a drawing with no lines or curves{', but ' + kinds if kinds else ''}",
            "lines, arcs, circles, polylines, ellipses or splines, flat, in model space",
            "explode blocks, draw or trace the port's edge, and export it again",
        )
    if layer is None:
        return drawing.strokes
    chosen = tuple(s for s in drawing.strokes if s.layer.casefold() == layer.casefold())
    if not chosen:
        names = list(dict.fromkeys(stroke.layer for stroke in drawing.strokes))
        shown = ", ".join(names[:8]) + (", ..." if len(names) > 8 else "")
        raise NoOutline("layer", layer, f"a layer with lines on it: {shown}", "correct the name")
    return chosen


def _scaled(loop: Loop, by: float) -> Loop:
    return tuple(
        Line((piece.start[0] * by, piece.start[1] * by), (piece.end[0] * by, piece.end[1] * by))
        if isinstance(piece, Line)
        else Arc(
            (piece.centre[0] * by, piece.centre[1] * by),
            piece.radius * by,
            piece.begin,
            piece.sweep,
        )
        for piece in loop
    )


def _chosen(found: Chained, gap: float, number: int | None, point: Point2 | None) -> int:
    if not found.loops:
        near = (
            f"; the nearest loose ends are {found.open_by:.2f} mm apart"
            if math.isfinite(found.open_by)
            else ""
        )
        raise NoOutline(
            "file" if found.open_by > 5.0 else "gap",
            f"no closed outline{near}",
            f"an outline whose ends meet within gap, {gap:g} mm",
            "close it in the drawing, or allow a wider gap",
        )
    if number is not None and number > len(found.loops):
        raise NoOutline(
            "number",
            f"outline {number} of {len(found.loops)}",
            f"1 to {len(found.loops)}, the largest first",
            "correct the number, or give a point inside",
        )
    if point is None:
        return (number or 1) - 1
    holding = [k for k, loop in enumerate(found.loops) if inside(point, loop)]
    if not holding:
        raise NoOutline(
            "inside",
            "a point that is in none of the closed outlines",
            "a point inside the port's edge, in the drawing's own numbers",
            "read one off in the drawing",
        )
    return holding[-1]


def _refuse_odd(drawn: Loop, scale: float) -> None:
    """What cannot be a port is refused before it is fitted."""
    box = bounding_box(drawn)
    size = max(box.width, box.height)
    if not min(box.width, box.height) >= LEAST or size > LARGEST:
        raise NoOutline(
            "unit",
            f"an outline of {box.width:.3g} x {box.height:.3g} mm, {scale:g} mm to the unit",
            f"a port of {LEAST:g} to {LARGEST:g} mm",
            "correct unit, or take another outline with number or inside",
        )
    if len(drawn) > MOST_POINTS:
        raise NoOutline(
            "file",
            f"an outline of {len(drawn)} lines and arcs",
            f"at most {MOST_POINTS}",
            "thin the trace out: a point every half mm is plenty",
        )
    crossed = crossing(drawn)
    if crossed is not None:
        x, y = crossed[0] / scale, crossed[1] / scale
        raise NoOutline(
            "file",
            f"an outline that crosses itself near {x:.4g}, {y:.4g} of the drawing",
            "an outline that goes round once",
            "mend it in the drawing",
        )


def _fitted(drawn: Loop, tolerance: float) -> Fit:
    try:
        found = fit(drawn, tolerance)
    except ValueError:
        found = None
    if found is None or found.deviation > tolerance * (1.0 + 1e-6) or not is_simple(found.loop):
        raise NoOutline(
            "fit",
            f"a trace that {MOST_PIECES} lines and arcs do not follow within {tolerance:g} mm",
            "a trace that is smoother than its fit",
            "trace it again more carefully, or allow a larger fit",
        )
    return found


def _mirrored(loop: Loop) -> Loop:
    """Left to right, still counter-clockwise."""
    flipped = tuple(
        Line((-piece.start[0], piece.start[1]), (-piece.end[0], piece.end[1]))
        if isinstance(piece, Line)
        else Arc(
            (-piece.centre[0], piece.centre[1]), piece.radius, math.pi - piece.begin, -piece.sweep
        )
        for piece in loop
    )
    return backwards(flipped)
