"""Sections of a prism by slanting planes, and what they sweep, as lines and arcs.

A slanting section of a prism is an affine image of its shape: lines stay lines, arcs become
arcs of ellipses. A convex outline is told by its support function: the farthest it reaches
in every direction. One outline lies outside another where it reaches farther, and the two
are as far apart as their supports differ at most (Hausdorff distance of convex sets).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from geomgen.profiles.convex import is_convex
from geomgen.profiles.crossings import SHORT, stretch
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment, heading, turn_between

Matrix = tuple[tuple[float, float], tuple[float, float]]
"""Rows of a linear map of the plane."""

_MOST_PARTS = 256
_PROBES = 16


def slanted(loop: Loop, matrix: Matrix, tolerance: float) -> Loop:
    """A convex loop's affine image, from outside: lines and tangent arcs.

    Every point of the result lies outside the true image, by ``tolerance`` at most: the
    image is moved outwards by half of it, and every elliptic arc is replaced with pairs of
    arcs that stay within less than the other half. Each pair joins two points of the moved
    ellipse with its tangents there (a biarc), so the loop has no new corners.

    Args:
        loop: convex, counter-clockwise.
        matrix: the map; its determinant is more than 0.
        tolerance: more than 0 [mm].

    Raises:
        ValueError: the loop is not convex, or the map turns it over.
    """
    if not is_convex(loop):
        raise ValueError("only a convex, counter-clockwise loop can be cut aslant")
    if matrix[0][0] * matrix[1][1] - matrix[0][1] * matrix[1][0] <= 0.0:
        raise ValueError("a section cannot be turned over")
    out = tolerance / 2.0
    images = [_image(piece, matrix, out) for piece in loop]
    pieces: list[Segment] = []
    for piece, image, after in zip(loop, images, images[1:] + images[:1], strict=True):
        pieces += image.pieces
        turn = turn_between(image.last, after.first)
        if turn > 1e-9:
            pieces.append(Arc(_mapped(matrix, piece.end), out, image.last, turn))
    return tuple(pieces)


@dataclass(frozen=True)
class _Image:
    """What stands for one piece, with the outward normals at its ends [rad]."""

    pieces: tuple[Segment, ...]
    first: float
    last: float


def _image(piece: Segment, matrix: Matrix, out: float) -> _Image:
    return (
        _line_image(piece, matrix, out)
        if isinstance(piece, Line)
        else _arc_image(piece, matrix, out)
    )


def _mapped(m: Matrix, p: Point2) -> Point2:
    return (m[0][0] * p[0] + m[0][1] * p[1], m[1][0] * p[0] + m[1][1] * p[1])


def _line_image(line: Line, matrix: Matrix, out: float) -> _Image:
    start, end = _mapped(matrix, line.start), _mapped(matrix, line.end)
    normal = math.atan2(end[1] - start[1], end[0] - start[0]) - math.pi / 2.0
    dx, dy = out * math.cos(normal), out * math.sin(normal)
    moved = Line((start[0] + dx, start[1] + dy), (end[0] + dx, end[1] + dy))
    return _Image((moved,), normal, normal)


@dataclass(frozen=True)
class _Ellipse:
    """An arc's image, moved outwards: its place and support by the outward normal [rad]."""

    centre: Point2
    radius: float
    matrix: Matrix
    out: float

    def place(self, normal: float) -> Point2:
        """Where the moved ellipse has a normal."""
        u = (math.cos(normal), math.sin(normal))
        (a, b), (c, d) = self.matrix
        back = (a * u[0] + c * u[1], b * u[0] + d * u[1])
        size = self.radius / math.hypot(*back)
        x, y = _mapped(self.matrix, (size * back[0], size * back[1]))
        return (self.centre[0] + x + self.out * u[0], self.centre[1] + y + self.out * u[1])

    def reach(self, normal: float) -> float:
        """Support of the moved ellipse."""
        u = (math.cos(normal), math.sin(normal))
        (a, b), (c, d) = self.matrix
        size = self.radius * math.hypot(a * u[0] + c * u[1], b * u[0] + d * u[1])
        return self.centre[0] * u[0] + self.centre[1] * u[1] + size + self.out


def _arc_image(arc: Arc, matrix: Matrix, out: float) -> _Image:
    """Arcs for an arc's image, and the normals at its ends."""
    ellipse = _Ellipse(_mapped(matrix, arc.centre), arc.radius, matrix, out)

    def normal(angle: float) -> float:
        # normals go by the inverse transpose: scaled by the determinant, which is positive
        u = (math.cos(angle), math.sin(angle))
        (a, b), (c, d) = matrix
        return math.atan2(-b * u[0] + a * u[1], d * u[0] - c * u[1])

    first, middle = normal(arc.begin), normal(arc.begin + arc.sweep / 2.0)
    half = (middle - first) % math.tau
    last = first + half + (normal(arc.begin + arc.sweep) - middle) % math.tau
    parts = 1
    while parts <= _MOST_PARTS:
        cuts = [first + (last - first) * i / parts for i in range(parts + 1)]
        arcs = [a for low, high in pairwise(cuts) for a in _pair(ellipse.place, low, high)]
        if all(a.radius > 0.0 for a in arcs) and _worst(arcs, ellipse) < 0.95 * out:
            return _Image(tuple(arcs), first, last)
        parts += 1
    raise ValueError("a section too slanted for arcs")


def _pair(place: Callable[[float], Point2], low: float, high: float) -> tuple[Arc, Arc]:
    """Two arcs from normal ``low`` to ``high`` through both places, meeting half-way.

    With u the unit normal, an arc of radius r leads by ``r (u(end) - u(begin))``; the two
    radii follow from the chord.
    """
    start, end = place(low), place(high)
    middle = 0.5 * (low + high)
    ux, uy = math.cos(low), math.sin(low)
    mx, my = math.cos(middle), math.sin(middle)
    vx, vy = math.cos(high), math.sin(high)
    a, b, c, d = mx - ux, vx - mx, my - uy, vy - my
    dx, dy = end[0] - start[0], end[1] - start[1]
    whole = a * d - b * c
    r, s = (dx * d - b * dy) / whole, (a * dy - dx * c) / whole
    return (
        Arc((start[0] - r * ux, start[1] - r * uy), r, low, middle - low),
        Arc((end[0] - s * vx, end[1] - s * vy), s, middle, high - middle),
    )


def _worst(arcs: list[Arc], ellipse: _Ellipse) -> float:
    """Largest difference of support between arcs and ellipse [mm]."""
    return max(
        abs(
            arc.centre[0] * math.cos(angle)
            + arc.centre[1] * math.sin(angle)
            + arc.radius
            - ellipse.reach(angle)
        )
        for arc in arcs
        for angle in (arc.begin + arc.sweep * i / _PROBES for i in range(_PROBES + 1))
    )


def swept(loop: Loop, by: Point2) -> Loop:
    """What a convex loop covers as it moves by a vector: the hull of both ends, exact.

    The half that faces the way of travel is carried along; arcs are cut where they are
    parallel to it, and two lines of the vector's length join the halves.
    """
    length = math.hypot(*by)
    if length == 0.0:
        return loop
    way = math.atan2(by[1], by[0])
    pieces: list[Segment] = []
    for piece in (part for whole in loop for part in _halves(whole, way)):
        outward = heading(piece, 0.5) - math.pi / 2.0
        ahead = math.cos(outward - way)
        moved = _moved(piece, by) if ahead > 1e-12 else piece
        if pieces:
            _join(pieces, moved.start)
        pieces.append(moved)
    _join(pieces, pieces[0].start)
    return _tidy(pieces)


def _halves(piece: Segment, way: float) -> list[Segment]:
    """A piece, an arc cut where it runs along the way or against it."""
    if isinstance(piece, Line):
        return [piece]
    marks = [0.0]
    for side in (way + math.pi / 2.0, way - math.pi / 2.0):
        gone = (side - piece.begin) % math.tau
        while gone < piece.sweep:
            if min(gone, piece.sweep - gone) * piece.radius > SHORT:
                marks.append(gone / piece.sweep)
            gone += math.tau
    marks = [*sorted(marks), 1.0]
    if len(marks) == 2:
        return [piece]
    return [stretch(piece, low, high) for low, high in pairwise(marks)]


def _moved(piece: Segment, by: Point2) -> Segment:
    def carry(p: Point2) -> Point2:
        return (p[0] + by[0], p[1] + by[1])

    if isinstance(piece, Line):
        return Line(carry(piece.start), carry(piece.end))
    return Arc(carry(piece.centre), piece.radius, piece.begin, piece.sweep)


def _join(pieces: list[Segment], start: Point2) -> None:
    end = pieces[-1].end
    if math.dist(end, start) > SHORT:
        pieces.append(Line(end, start))


def _tidy(pieces: list[Segment]) -> Loop:
    """Neighbouring lines of one direction as one, round the end too."""
    k = next((i for i in range(len(pieces)) if not _in_line(pieces[i - 1], pieces[i])), 0)
    tidy: list[Segment] = []
    for piece in pieces[k:] + pieces[:k]:
        if tidy and _in_line(tidy[-1], piece):
            tidy[-1] = Line(tidy[-1].start, piece.end)
        else:
            tidy.append(piece)
    return tuple(tidy)


def _in_line(a: Segment, b: Segment) -> bool:
    return (
        isinstance(a, Line)
        and isinstance(b, Line)
        and abs(turn_between(heading(a, 0.0), heading(b, 0.0))) < 1e-9
    )
