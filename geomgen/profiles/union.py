"""Union, erosion and closing of loops, exact: lines and arcs in, lines and arcs out.

Every segment is cut where it meets another; pieces that do not lie on the boundary are
dropped; the rest are chained. Metal is on the left of every loop that comes out: outer
loops run counter-clockwise, holes clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from geomgen.profiles.convex import SAME_WAY, corner_turns, offset
from geomgen.profiles.crossings import TOUCH, cut, meetings, point_at
from geomgen.profiles.distances import inside, point_to_loop
from geomgen.profiles.loops import (
    Arc,
    Line,
    Loop,
    Point2,
    Segment,
    area,
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


def erode(loops: Sequence[Loop], by: float) -> tuple[Loop, ...]:
    """What is left of a region when everything nearer than ``by`` to its edge goes [mm].

    Args:
        loops: boundary of the region with metal on the left, as ``union`` gives it: its
            corners are concave, its arcs bulge outwards or inwards.
        by: more than 0.
    """
    raw = [piece for loop in loops for piece in _moved_in(loop, by)]
    return _chain(
        _single(_keep(raw, lambda p: all(point_to_loop(p, e) > by - JOIN for e in loops)))
    )


def closing(shapes: Sequence[Loop], radius: float) -> tuple[Loop, ...]:
    """Convex shapes with every gap filled that a disc of ``radius`` cannot enter [mm].

    All shapes are inflated by the radius, united, and deflated again (morphological
    closing): arcs and lines come back to where they were, and every concave corner
    becomes a fillet of the radius. A great radius tends to the convex hull.
    """
    return erode(union([offset(shape, radius) for shape in shapes]), radius)


def _moved_in(loop: Loop, by: float) -> list[Segment]:
    """Offset of a boundary to its left, with a fillet at every concave corner."""
    pieces: list[Segment] = []
    for piece, turn in zip(loop, corner_turns(loop), strict=True):
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
        if turn < 0.0:
            pieces.append(Arc(piece.end, by, heading(piece, 1.0) + math.pi / 2, turn))
    return pieces


def _keep(raw: list[Segment], wanted: Callable[[Point2], bool]) -> list[Segment]:
    return [part for parts in _cut_all(raw) for part in parts if wanted(point_at(part, 0.5))]


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
    kept: list[Segment] = []
    for piece in pieces:
        twin = next((k for k, other in enumerate(kept) if _same(piece, other)), None)
        if twin is not None:
            continue
        against = next((k for k, other in enumerate(kept) if _opposed(piece, other)), None)
        if against is not None:
            kept.pop(against)
            continue
        kept.append(piece)
    return kept


def _same(a: Segment, b: Segment) -> bool:
    return (
        math.dist(a.start, b.start) < JOIN
        and math.dist(a.end, b.end) < JOIN
        and math.dist(point_at(a, 0.5), point_at(b, 0.5)) < JOIN
    )


def _opposed(a: Segment, b: Segment) -> bool:
    return (
        math.dist(a.start, b.end) < JOIN
        and math.dist(a.end, b.start) < JOIN
        and math.dist(point_at(a, 0.5), point_at(b, 0.5)) < JOIN
    )


def _chain(pieces: list[Segment]) -> tuple[Loop, ...]:
    """Closed loops from loose pieces; where several go on, the leftmost turn is taken."""
    left = list(pieces)
    loops: list[Loop] = []
    while left:
        chain = [left.pop(0)]
        while math.dist(chain[-1].end, chain[0].start) > JOIN or _goes_on(chain, left):
            onward = [k for k, piece in enumerate(left) if _joins(chain[-1], piece)]
            if not onward:
                raise ValueError("loose end in a boundary: shapes touch within rounding")
            chain.append(left.pop(max(onward, key=lambda k: _turn(chain[-1], left[k]))))
        loops.append(_tidied(chain))
    return tuple(sorted(loops, key=lambda loop: -area(loop)))


def _joins(a: Segment, b: Segment) -> bool:
    return math.dist(a.end, b.start) <= JOIN


def _goes_on(chain: list[Segment], left: list[Segment]) -> bool:
    """Whether a loop that could close here passes through, on a more leftward piece."""
    closing_turn = _turn(chain[-1], chain[0])
    return any(_joins(chain[-1], b) and _turn(chain[-1], b) > closing_turn for b in left)


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
