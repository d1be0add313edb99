"""Lines, arcs and words on a page of PDF, in mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from geomgen.profiles.loops import Arc, Line, Loop, Point2

MM = 72.0 / 25.4
"""Points of the printer's trade in a millimetre: 72 to the inch."""

INK = (0.114, 0.153, 0.200)
CUT = (0.0, 0.0, 0.0)
MARK = (0.043, 0.388, 0.690)
DRILL = (0.702, 0.149, 0.118)
SOFT = (0.357, 0.400, 0.451)
STEEL = (0.900, 0.915, 0.930)

PLAIN, BOLD = "Helvetica", "Helvetica-Bold"

BEZIER_OFF = 1e-3
"""What a drawn arc may be off the true one [mm]."""

Colour = tuple[float, float, float]
Curve = tuple[Point2, Point2, Point2]


def curves(arc: Arc) -> tuple[Curve, ...]:
    """An arc as cubic Bezier curves: two handles and the end of each [mm].

    With handles of 4/3 tan(sweep/4) times the radius a curve strays outwards by at most
    R 4/27 sin^6(sweep/4) / cos^2(sweep/4) (Goldapp, Approximation of circular arcs by cubic
    polynomials, 1991; from memory). As many are used as keep it below ``BEZIER_OFF``.
    """
    count = max(1, math.ceil(abs(arc.sweep) / (math.pi / 2.0) - 1e-9))
    while arc.radius * _stray(arc.sweep / count) > BEZIER_OFF:
        count += 1
    step = arc.sweep / count
    reach = 4.0 / 3.0 * math.tan(step / 4.0) * arc.radius
    return tuple(_curve(arc, arc.begin + k * step, step, reach) for k in range(count))


def _stray(sweep: float) -> float:
    quarter = sweep / 4.0
    return 4.0 / 27.0 * math.sin(quarter) ** 6 / math.cos(quarter) ** 2


def _curve(arc: Arc, begin: float, step: float, reach: float) -> Curve:
    (x, y), r = arc.centre, arc.radius
    ca, sa, cb, sb = (
        math.cos(begin),
        math.sin(begin),
        math.cos(begin + step),
        math.sin(begin + step),
    )
    return (
        (x + r * ca - reach * sa, y + r * sa + reach * ca),
        (x + r * cb + reach * sb, y + r * sb - reach * cb),
        (x + r * cb, y + r * sb),
    )


def draw_loops(
    canvas: Any,
    loops: Sequence[Loop],
    shift: Point2,
    scale: float = 1.0,
    fill: bool = False,
) -> None:
    """Closed loops as one path, arcs as true curves; even-odd fill leaves openings white."""
    path = canvas.beginPath()
    for loop in loops:
        path.moveTo(*_at(loop[0].start, shift, scale))
        for piece in loop:
            if isinstance(piece, Line):
                path.lineTo(*_at(piece.end, shift, scale))
                continue
            for handles in curves(piece):
                a, b, end = (_at(point, shift, scale) for point in handles)
                path.curveTo(*a, *b, *end)
        path.close()
    canvas.drawPath(path, stroke=1, fill=int(fill), fillMode=0)


def draw_lines(
    canvas: Any, lines: Sequence[tuple[Point2, Point2]], shift: Point2, scale: float = 1.0
) -> None:
    """Straight strokes as one path."""
    path = canvas.beginPath()
    for start, end in lines:
        path.moveTo(*_at(start, shift, scale))
        path.lineTo(*_at(end, shift, scale))
    canvas.drawPath(path, stroke=1, fill=0)


def _at(point: Point2, shift: Point2, scale: float) -> Point2:
    return ((point[0] * scale + shift[0]) * MM, (point[1] * scale + shift[1]) * MM)


def pen(canvas: Any, colour: Colour, width: float, dash: tuple[float, ...] = ()) -> None:
    """Colour, width [mm] and dashes [mm] of what is drawn next."""
    canvas.setStrokeColorRGB(*colour)
    canvas.setLineWidth(width * MM)
    canvas.setDash([d * MM for d in dash])


def printable(text: str) -> str:
    """The text in letters that the standard fonts have."""
    one_line = "".join(c if c.isprintable() else " " for c in text)
    return one_line.encode("cp1252", "replace").decode("cp1252")


def width_of(text: str, size: float, font: str = PLAIN) -> float:
    """Width of a text [mm], its size in points."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(printable(text), font, size)) / MM


def write(
    canvas: Any,
    at: Point2,
    text: str,
    size: float,
    font: str = PLAIN,
    colour: Colour = INK,
    anchor: str = "left",
    within: float = math.inf,
) -> None:
    """One line of text, made smaller until it fits.

    Args:
        canvas: of the page.
        at: its foot: left end, middle or right end [mm].
        text: what to write.
        size: in points.
        font: of the two.
        colour: of the letters.
        anchor: ``left``, ``middle`` or ``right``.
        within: widest it may be [mm].
    """
    wide = width_of(text, size, font)
    size = size if wide <= within else size * within / wide
    canvas.setFillColorRGB(*colour)
    canvas.setFont(font, size)
    put = {
        "left": canvas.drawString,
        "middle": canvas.drawCentredString,
        "right": canvas.drawRightString,
    }[anchor]
    put(at[0] * MM, at[1] * MM, printable(text))


def wrapped(text: str, size: float, within: float, font: str = PLAIN) -> list[str]:
    """A text in lines of at most this width [mm]; words are kept whole."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, font) <= within:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
