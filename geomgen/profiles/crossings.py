"""Where lines and arcs meet, and cutting them there."""

from __future__ import annotations

import itertools
import math

from geomgen.profiles.loops import Arc, Line, Point2, Segment

TOUCH = 1e-9
"""Nearer than this, two curves touch [mm]."""

SHORT = 1e-7
"""Pieces shorter than this are not cut off [mm]."""


def meetings(a: Segment, b: Segment) -> tuple[Point2, ...]:
    """Points that two segments share [mm].

    Segments that lie on each other share the ends of the common stretch. Curves that
    pass within ``TOUCH`` without crossing share the touching point.
    """
    if isinstance(a, Line) and isinstance(b, Line):
        return _line_line(a, b)
    if isinstance(a, Line) and isinstance(b, Arc):
        return _line_arc(a, b)
    if isinstance(a, Arc) and isinstance(b, Line):
        return _line_arc(b, a)
    assert isinstance(a, Arc)
    assert isinstance(b, Arc)
    return _arc_arc(a, b)


def travel(segment: Segment, point: Point2) -> float:
    """Distance along the segment to the foot of ``point`` on its line or circle [mm].

    Below 0 before the start, above the length past the end; on an arc, whichever of the
    two is nearer.
    """
    if isinstance(segment, Line):
        (x, y), (ex, ey), length = segment.start, segment.end, segment.length
        if length == 0.0:
            return 0.0
        return ((point[0] - x) * (ex - x) + (point[1] - y) * (ey - y)) / length
    angle = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0])
    gone = math.copysign(1.0, segment.sweep) * (angle - segment.begin) % math.tau
    past_end, before_start = gone - abs(segment.sweep), math.tau - gone
    if past_end > 0.0 and before_start < past_end:
        gone -= math.tau
    return gone * segment.radius


def covers(segment: Segment, point: Point2) -> bool:
    """Whether a point of the segment's line or circle lies between its ends."""
    return -TOUCH <= travel(segment, point) <= segment.length + TOUCH


def cut(segment: Segment, points: list[Point2]) -> list[Segment]:
    """The segment in pieces, cut at points that lie on it."""
    length = segment.length
    marks = [0.0]
    for along in sorted(travel(segment, point) for point in points):
        if along - marks[-1] > SHORT and length - along > SHORT:
            marks.append(along)
    if len(marks) == 1:
        return [segment]
    marks.append(length)
    return [
        stretch(segment, low / length, high / length) for low, high in itertools.pairwise(marks)
    ]


def stretch(segment: Segment, low: float, high: float) -> Segment:
    """The part of a segment between two fractions."""
    if isinstance(segment, Arc):
        return Arc(
            segment.centre,
            segment.radius,
            segment.begin + low * segment.sweep,
            (high - low) * segment.sweep,
        )
    start = segment.start if low == 0.0 else point_at(segment, low)
    end = segment.end if high == 1.0 else point_at(segment, high)
    return Line(start, end)


def point_at(segment: Segment, fraction: float) -> Point2:
    """Point after a fraction of the segment [mm]."""
    if isinstance(segment, Arc):
        return segment.at(fraction)
    (x, y), (ex, ey) = segment.start, segment.end
    return (x + fraction * (ex - x), y + fraction * (ey - y))


def _common(a: Segment, b: Segment, points: list[Point2]) -> tuple[Point2, ...]:
    return tuple(point for point in points if covers(a, point) and covers(b, point))


def _ends(a: Segment, b: Segment) -> tuple[Point2, ...]:
    """Ends of the common stretch of two segments of one line or circle."""
    return _common(a, b, [a.start, a.end, b.start, b.end])


def _line_line(a: Line, b: Line) -> tuple[Point2, ...]:
    (ax, ay), (bx, by) = a.start, b.start
    ux, uy = a.end[0] - ax, a.end[1] - ay
    vx, vy = b.end[0] - bx, b.end[1] - by
    wx, wy = bx - ax, by - ay
    cross = ux * vy - uy * vx
    if abs(cross) <= 1e-12 * a.length * b.length:
        apart = abs(wx * uy - wy * ux) / a.length if a.length else math.inf
        return _ends(a, b) if apart <= TOUCH else ()
    s = (wx * vy - wy * vx) / cross
    return _common(a, b, [(ax + s * ux, ay + s * uy)])


def _line_arc(line: Line, arc: Arc) -> tuple[Point2, ...]:
    length = line.length
    if length == 0.0:
        return ()
    (x, y), (cx, cy) = line.start, arc.centre
    ux, uy = (line.end[0] - x) / length, (line.end[1] - y) / length
    along = (cx - x) * ux + (cy - y) * uy
    foot = (x + along * ux, y + along * uy)
    height = math.dist(foot, arc.centre)
    if height > arc.radius + TOUCH:
        return ()
    if height >= arc.radius - TOUCH:
        return _common(line, arc, [foot])
    half = math.sqrt((arc.radius - height) * (arc.radius + height))
    return _common(
        line,
        arc,
        [(foot[0] + sign * half * ux, foot[1] + sign * half * uy) for sign in (-1.0, 1.0)],
    )


def _arc_arc(a: Arc, b: Arc) -> tuple[Point2, ...]:
    dx, dy = b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]
    apart = math.hypot(dx, dy)
    if apart <= TOUCH and abs(a.radius - b.radius) <= TOUCH:
        return _ends(a, b)
    outside, inside = apart - (a.radius + b.radius), abs(a.radius - b.radius) - apart
    if max(outside, inside) > TOUCH or apart == 0.0:
        return ()
    ux, uy = dx / apart, dy / apart
    along = (apart + (a.radius - b.radius) * (a.radius + b.radius) / apart) / 2.0
    foot = (a.centre[0] + along * ux, a.centre[1] + along * uy)
    if max(outside, inside) >= -TOUCH:
        return _common(a, b, [foot])
    half = math.sqrt(max(0.0, (a.radius - along) * (a.radius + along)))
    return _common(
        a, b, [(foot[0] - sign * half * uy, foot[1] + sign * half * ux) for sign in (-1.0, 1.0)]
    )
