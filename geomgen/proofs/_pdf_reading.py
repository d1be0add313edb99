"""What is drawn on the pages of a written PDF, read from its own drawing operators, in mm."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from geomgen.profiles.loops import Box, Point2

MM = 25.4 / 72.0
"""A point of the page [mm]: 72 to the inch, PDF reference."""

_STREAM = re.compile(rb"/Length (\d+)\s*>>\s*stream\r?\n")
_STRING = re.compile(rb"\((?:\\.|[^\\()])*\)", re.DOTALL)
_SKIPPED = re.compile(rb"\[[^\]]*\]")

Colour = tuple[float, float, float]
Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Stroke:
    """One path that is stroked.

    Attributes:
        colour: red, green, blue, 0 to 1.
        points: ends of its lines and curves [mm].
        box: exact box round it, curves and all [mm].
        curves: how many of its pieces are Bezier curves.
    """

    colour: Colour
    points: tuple[Point2, ...]
    box: Box
    curves: int


@dataclass
class _State:
    """What the operators have built up so far."""

    matrix: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    colour: Colour = (0.0, 0.0, 0.0)
    saved: list[tuple[Matrix, Colour]] = field(default_factory=list)
    points: list[Point2] = field(default_factory=list)
    reach: list[Point2] = field(default_factory=list)
    curves: int = 0
    strokes: list[Stroke] = field(default_factory=list)

    def at(self, x: float, y: float) -> Point2:
        a, b, c, d, e, f = self.matrix
        return (MM * (a * x + c * y + e), MM * (b * x + d * y + f))

    def painted(self, stroked: bool) -> None:
        if stroked and self.points:
            xs, ys = zip(*(*self.points, *self.reach), strict=True)
            box = Box(min(xs), min(ys), max(xs), max(ys))
            self.strokes.append(Stroke(self.colour, tuple(self.points), box, self.curves))
        self.points, self.reach, self.curves = [], [], 0


def pages(data: bytes) -> list[tuple[Stroke, ...]]:
    """Strokes of each page, in order; pages must be written uncompressed.

    Raises:
        ValueError: the bytes are no such PDF.
    """
    if not data.startswith(b"%PDF-") or b"%%EOF" not in data[-16:]:
        raise ValueError("not a whole PDF")
    found = []
    for match in _STREAM.finditer(data):
        content = data[match.end() : match.end() + int(match.group(1))]
        found.append(_strokes(content))
    if len(found) != len(re.findall(rb"/Type /Page\b", data)):
        raise ValueError("pages and their contents do not agree")
    return found


def _strokes(content: bytes) -> tuple[Stroke, ...]:
    bare = _SKIPPED.sub(b" ", _STRING.sub(b" ", content))
    state, numbers = _State(), []
    for token in bare.split():
        try:
            numbers.append(float(token))
        except ValueError:
            _operate(state, token, numbers)
            numbers = []
    return tuple(state.strokes)


def _operate(state: _State, operator: bytes, n: list[float]) -> None:
    """One operator of the PDF reference; those of text and style are passed over."""
    if operator in (b"m", b"l"):
        state.points.append(state.at(n[0], n[1]))
    elif operator == b"c":
        _curve(state, n)
    elif operator == b"re":
        x, y, w, h = n
        state.points += [state.at(x, y), state.at(x + w, y + h)]
    elif operator in (b"S", b"s", b"B", b"B*", b"b", b"b*"):
        state.painted(stroked=True)
    elif operator in (b"n", b"f", b"f*"):
        state.painted(stroked=False)
    else:
        _settle(state, operator, n)


def _settle(state: _State, operator: bytes, n: list[float]) -> None:
    """Operators of the graphics state."""
    if operator == b"RG":
        state.colour = (n[0], n[1], n[2])
    elif operator == b"cm":
        state.matrix = _times((n[0], n[1], n[2], n[3], n[4], n[5]), state.matrix)
    elif operator == b"q":
        state.saved.append((state.matrix, state.colour))
    elif operator == b"Q":
        state.matrix, state.colour = state.saved.pop()


def _times(m: Matrix, n: Matrix) -> Matrix:
    """First ``m``, then ``n``."""
    return (
        m[0] * n[0] + m[1] * n[2],
        m[0] * n[1] + m[1] * n[3],
        m[2] * n[0] + m[3] * n[2],
        m[2] * n[1] + m[3] * n[3],
        m[4] * n[0] + m[5] * n[2] + n[4],
        m[4] * n[1] + m[5] * n[3] + n[5],
    )


def _curve(state: _State, n: list[float]) -> None:
    handles = (state.points[-1], state.at(n[0], n[1]), state.at(n[2], n[3]), state.at(n[4], n[5]))
    state.curves += 1
    state.points.append(handles[3])
    state.reach += [_on(handles, t) for axis in (0, 1) for t in _turns([h[axis] for h in handles])]


def _turns(p: list[float]) -> list[float]:
    """Where a cubic Bezier of one coordinate turns back."""
    a = -p[0] + 3.0 * p[1] - 3.0 * p[2] + p[3]
    b = 2.0 * (p[0] - 2.0 * p[1] + p[2])
    c = p[1] - p[0]
    # 3 (a t^2 + b t + c) is its slope; the stable form of the roots
    root = b * b - 4.0 * a * c
    if root < 0.0:
        return []
    q = -0.5 * (b + math.copysign(math.sqrt(root), b))
    roots = [top / below for top, below in ((q, a), (c, q)) if abs(below) > 1e-300]
    return [t for t in roots if 0.0 < t < 1.0]


def _on(p: tuple[Point2, ...], t: float) -> Point2:
    u = 1.0 - t
    w = (u**3, 3.0 * u * u * t, 3.0 * u * t * t, t**3)
    return (
        math.fsum(k * h[0] for k, h in zip(w, p, strict=True)),
        math.fsum(k * h[1] for k, h in zip(w, p, strict=True)),
    )
