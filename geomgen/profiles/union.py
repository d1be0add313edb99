"""Union, erosion and closing of loops, exact: lines and arcs in, lines and arcs out.

Every segment is cut where it meets another; pieces that do not lie on the boundary are
dropped; the rest are chained. Metal is on the left of every loop that comes out: outer
loops run counter-clockwise, holes clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from geomgen.profiles.convex import SAME_WAY, corner_turns, is_convex, offset
from geomgen.profiles.crossings import TOUCH, cut, meetings, point_at
from geomgen.profiles.distances import inside, point_to_loop, point_to_segment
from geomgen.profiles.loops import (
    Arc,
    Line,
    Loop,
    Point2,
    Segment,
    area,
    backwards,
    bounding_box,
    heading,
    turn_between,
)

JOIN = 1e-6
"""Pieces whose ends are nearer than this are chained [mm]."""


def union(shapes: Sequence[Loop]) -> tuple[Loop, ...]:
    """Boundary of the union of simple counter-clockwise loops, greatest area first."""
    owners = [k for k, shape in enumerate(shapes) for _ in shape]
    pieces = _cut_all([piece for shape in shapes for piece in shape])
    boxes = [bounding_box(shape) for shape in shapes]
    kept: list[Segment] = []
    for owner, parts in zip(owners, pieces, strict=True):
        for part in parts:
            middle = point_at(part, 0.5)
            if not any(
                k != owner
                and box.left < middle[0] < box.right
                and box.bottom < middle[1] < box.top
                and inside(middle, shape)
                and point_to_loop(middle, shape) > TOUCH
                for k, (shape, box) in enumerate(zip(shapes, boxes, strict=True))
            ):
                kept.append(part)
    return _chain(_single(kept))


def difference(shape: Loop, tool: Loop) -> tuple[Loop, ...]:
    """What is left of a simple counter-clockwise loop when a tool's is cut out of it.

    Raises:
        ValueError: the edges touch without crossing.
    """
    of_shape, of_tool = len(shape), tuple(backwards(tool))
    pieces = _cut_all([*shape, *of_tool])
    kept: list[Segment] = []
    for k, parts in enumerate(pieces):
        other, wanted = (tool, False) if k < of_shape else (shape, True)
        kept += [part for part in parts if inside(point_at(part, 0.5), other) is wanted]
    return _chain(_single(kept))


def erode(loops: Sequence[Loop], by: float) -> tuple[Loop, ...]:
    """What is left of a region when everything nearer than ``by`` to its edge goes [mm].

    Args:
        loops: boundary of the region with metal on the left, as ``union`` gives it: its
            corners are concave, its arcs bulge outwards or inwards.
        by: more than 0.
    """
    raw = [piece for loop in loops for piece in _moved_in(loop, by)]
    edges = [(piece, bounding_box((piece,))) for loop in loops for piece in loop]

    def deep(p: Point2) -> bool:
        return not any(
            box.left - by < p[0] < box.right + by
            and box.bottom - by < p[1] < box.top + by
            and point_to_segment(p, piece) <= by - JOIN
            for piece, box in edges
        )

    kept = [part for parts in _cut_all(raw) for part in parts if deep(point_at(part, 0.5))]
    return _chain(_single(kept))


def grown(loop: Loop, by: float) -> Loop:
    """A simple counter-clockwise loop moved outwards, exact, dents and all [mm].

    Raises:
        ValueError: a dent is so narrow that its sides meet.
    """
    if is_convex(loop):
        return offset(loop, by)
    if by == 0.0:
        return loop
    edges = erode((backwards(loop),), by)
    if len(edges) != 1:
        raise ValueError(f"a dent of the outline closes where it grows by {by:g} mm")
    return backwards(edges[0])


def closing(shapes: Sequence[Loop], radius: float) -> tuple[Loop, ...]:
    """Shapes with every gap and dent filled that a disc of ``radius`` cannot enter [mm].

    All shapes are inflated by the radius, united, and deflated again (morphological
    closing): arcs and lines come back to where they were, and every concave corner
    becomes a fillet of the radius. A great radius tends to the convex hull.
    """
    return erode(union([_filled(shape, radius) for shape in shapes]), radius)


def _filled(shape: Loop, by: float) -> Loop:
    """A shape moved outwards; what closes within it is filled."""
    if is_convex(shape):
        return offset(shape, by)
    return backwards(min(erode((backwards(shape),), by), key=area))


def _moved_in(loop: Loop, by: float) -> list[Segment]:
    """Offset of a boundary to its left, with a fillet at every concave corner."""
    pieces: list[Segment] = []
    for piece, raw_turn in zip(loop, corner_turns(loop), strict=True):
        if isinstance(piece, Line):
            way = heading(piece, 0.0) + math.pi / 2
            dx, dy = by * math.cos(way), by * math.sin(way)
            pieces.append(
                Line(
                    (piece.start[0] + dx, piece.start[1] + dy),
                    (piece.end[0] + dx, piece.end[1] + dy),
                )
            )
        else:
            radius = piece.radius - math.copysign(by, piece.sweep)
            if radius > TOUCH:
                pieces.append(Arc(piece.centre, radius, piece.begin, piece.sweep))
        # a half turn is a cusp where two shapes touch: metal never has a spike
        turn = -math.pi if raw_turn > math.pi - 1e-6 else raw_turn
        if turn < 0.0:
            pieces.append(Arc(piece.end, by, heading(piece, 1.0) + math.pi / 2, turn))
    return pieces


def _cut_all(segments: list[Segment]) -> list[list[Segment]]:
    """Each segment in pieces, cut wherever it meets any other."""
    cuts: list[list[Point2]] = [[] for _ in segments]
    boxes = [bounding_box((segment,)) for segment in segments]
    for i, (a, box) in enumerate(zip(segments, boxes, strict=True)):
        for j in range(i + 1, len(segments)):
            other = boxes[j]
            if (
                box.left > other.right + TOUCH
                or other.left > box.right + TOUCH
                or box.bottom > other.top + TOUCH
                or other.bottom > box.top + TOUCH
            ):
                continue
            points = meetings(a, segments[j])
            cuts[i].extend(points)
            cuts[j].extend(points)
    return [cut(segment, points) for segment, points in zip(segments, cuts, strict=True)]


def _single(pieces: list[Segment]) -> list[Segment]:
    """Pieces that lie on each other once; two that run against each other vanish."""
    kept: list[tuple[Segment, Point2]] = []
    for piece in pieces:
        x, y = point_at(piece, 0.5)
        near = [k for k, (_, m) in enumerate(kept) if abs(m[0] - x) + abs(m[1] - y) < JOIN]
        if any(_runs(piece, kept[k][0], along=True) for k in near):
            continue
        against = next((k for k in near if _runs(piece, kept[k][0], along=False)), None)
        if against is None:
            kept.append((piece, (x, y)))
        else:
            kept.pop(against)
    return [piece for piece, _ in kept]


def _runs(a: Segment, b: Segment, along: bool) -> bool:
    """Whether two pieces with one middle have the same ends, the same or the other way."""
    start, end = (b.start, b.end) if along else (b.end, b.start)
    return math.dist(a.start, start) < JOIN and math.dist(a.end, end) < JOIN


def _chain(pieces: list[Segment]) -> tuple[Loop, ...]:
    """Closed loops from loose pieces; where several go on, the leftmost turn is taken."""
    left = [(piece.start, piece) for piece in pieces]
    loops: list[Loop] = []
    while left:
        chain = [left.pop(0)[1]]
        home, end = chain[0].start, chain[0].end
        while True:
            onward = [
                (_turn(chain[-1], piece), -k)
                for k, (start, piece) in enumerate(left)
                if math.dist(end, start) <= JOIN
            ]
            closes = math.dist(end, home) <= JOIN
            if closes and (not onward or _turn(chain[-1], chain[0]) >= max(onward)[0]):
                break
            if not onward:
                raise ValueError("loose end in a boundary: shapes touch within rounding")
            chain.append(left.pop(-max(onward)[1])[1])
            end = chain[-1].end
        loops.append(_tidied(chain))
    return tuple(sorted(loops, key=lambda loop: -area(loop)))


def _turn(a: Segment, b: Segment) -> float:
    turn = turn_between(heading(a, 1.0), heading(b, 0.0))
    return -math.pi if turn > math.pi - 1e-6 else turn


def _tidied(chain: list[Segment]) -> Loop:
    """Neighbouring pieces of one line or circle made one, starting at a true corner."""
    start = next((k for k in range(len(chain)) if _merged(chain[k - 1], chain[k]) is None), 0)
    pieces = chain[start:] + chain[:start]
    tidy = pieces[:1]
    for piece in pieces[1:]:
        one = _merged(tidy[-1], piece)
        if one is None:
            tidy.append(piece)
        else:
            tidy[-1] = one
    return tuple(tidy)


def _merged(a: Segment, b: Segment) -> Segment | None:
    """Both as one segment, if they are parts of one line or of one circle."""
    if isinstance(a, Line) and isinstance(b, Line):
        straight = abs(turn_between(heading(a, 0.0), heading(b, 0.0))) < SAME_WAY
        return Line(a.start, b.end) if straight else None
    if isinstance(a, Arc) and isinstance(b, Arc):
        one_circle = math.dist(a.centre, b.centre) < TOUCH and abs(a.radius - b.radius) < TOUCH
        one_way = (a.sweep > 0) == (b.sweep > 0) and abs(a.sweep + b.sweep) <= 1.5 * math.pi
        if one_circle and one_way:
            return Arc(a.centre, a.radius, a.begin, a.sweep + b.sweep)
    return None
