"""Exact distances between points, lines, arcs and loops, and what lies inside what."""

from __future__ import annotations

import math

from geomgen.profiles.crossings import covers, meetings
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment, bounding_box


def point_to_segment(p: Point2, segment: Segment) -> float:
    """Distance from a point to a segment [mm]."""
    if isinstance(segment, Line):
        (x, y), (ex, ey) = segment.start, segment.end
        ux, uy = ex - x, ey - y
        square = ux * ux + uy * uy
        if square == 0.0:
            return math.dist(p, segment.start)
        s = min(1.0, max(0.0, ((p[0] - x) * ux + (p[1] - y) * uy) / square))
        return math.hypot(p[0] - x - s * ux, p[1] - y - s * uy)
    dx, dy = p[0] - segment.centre[0], p[1] - segment.centre[1]
    gone = math.copysign(1.0, segment.sweep) * (math.atan2(dy, dx) - segment.begin) % math.tau
    if gone <= abs(segment.sweep):
        return abs(math.hypot(dx, dy) - segment.radius)
    return min(math.dist(p, segment.start), math.dist(p, segment.end))


def segment_to_segment(a: Segment, b: Segment) -> float:
    """Least distance between two segments [mm], 0 where they meet.

    The least distance is between an end and a segment, or along a common normal: the
    line through both centres, or from a centre square to a line.
    """
    for one, other in ((a, b), (b, a)):
        if isinstance(one, Line) and one.start == one.end:  # a point: it lies on no line
            return point_to_segment(one.start, other)
    if meetings(a, b):
        return 0.0
    best = min(
        point_to_segment(a.start, b),
        point_to_segment(a.end, b),
        point_to_segment(b.start, a),
        point_to_segment(b.end, a),
    )
    for p, q in _normal_pairs(a, b):
        if covers(a, p) and covers(b, q):
            best = min(best, math.dist(p, q))
    return best


def _normal_pairs(a: Segment, b: Segment) -> list[tuple[Point2, Point2]]:
    if isinstance(a, Arc) and isinstance(b, Arc):
        dx, dy = b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]
        d = math.hypot(dx, dy)
        if d == 0.0:
            return []
        u = (dx / d, dy / d)
        return [(_rim(a, u, i), _rim(b, u, j)) for i in (1.0, -1.0) for j in (1.0, -1.0)]
    if isinstance(a, Line) and isinstance(b, Line):
        return []
    if isinstance(a, Arc):
        return [(p, q) for q, p in _normal_pairs(b, a)]
    assert isinstance(a, Line)
    assert isinstance(b, Arc)
    length = a.length
    if length == 0.0:
        return []
    u = ((a.start[1] - a.end[1]) / length, (a.end[0] - a.start[0]) / length)
    height = (b.centre[0] - a.start[0]) * u[0] + (b.centre[1] - a.start[1]) * u[1]
    foot = (b.centre[0] - height * u[0], b.centre[1] - height * u[1])
    return [(foot, _rim(b, u, 1.0)), (foot, _rim(b, u, -1.0))]


def _rim(arc: Arc, u: Point2, sign: float) -> Point2:
    return (
        arc.centre[0] + sign * arc.radius * u[0],
        arc.centre[1] + sign * arc.radius * u[1],
    )


def point_to_loop(p: Point2, loop: Loop) -> float:
    """Distance from a point to a loop's edge, from inside or outside [mm]."""
    return min(point_to_segment(p, segment) for segment in loop)


def loop_to_loop(a: Loop, b: Loop) -> float:
    """Least distance between the edges of two loops [mm], 0 where they meet.

    Pairs whose boxes are farther apart than the best so far are passed over.
    """
    boxes = [bounding_box((piece,)) for piece in b]
    best = math.inf
    for first in a:
        box = bounding_box((first,))
        for second, other in zip(b, boxes, strict=True):
            across = max(box.left - other.right, other.left - box.right, 0.0)
            up = max(box.bottom - other.top, other.bottom - box.top, 0.0)
            if math.hypot(across, up) < best:
                best = min(best, segment_to_segment(first, second))
    return best


def inside(p: Point2, loop: Loop) -> bool:
    """Whether a point lies within a loop; on the edge itself either answer may come.

    Crossings of a ray to the right are counted. Each corner is taken once, so that both
    neighbours agree on it; arcs are cut at top and bottom, so that each rises or falls.
    """
    count = False
    corners = [segment.start for segment in loop]
    for i, segment in enumerate(loop):
        start, end = corners[i], corners[(i + 1) % len(loop)]
        if isinstance(segment, Line):
            if (start[1] <= p[1]) != (end[1] <= p[1]):
                along = (p[1] - start[1]) / (end[1] - start[1])
                count ^= start[0] + along * (end[0] - start[0]) > p[0]
        else:
            count ^= _arc_crossings(p, segment, start, end)
    return count


def _arc_crossings(p: Point2, arc: Arc, start: Point2, end: Point2) -> bool:
    """Whether the ray to the right of ``p`` crosses an arc an odd number of times."""
    dy = p[1] - arc.centre[1]
    half = math.sqrt(max(0.0, arc.radius**2 - dy * dy))
    low, high = sorted((arc.begin, arc.begin + arc.sweep))
    first = math.floor(low / math.pi - 0.5) + 1  # tops and bottoms: pi/2 + k pi
    last = math.ceil(high / math.pi - 0.5) - 1
    angles = [low, *((k + 0.5) * math.pi for k in range(first, last + 1)), high]
    heights = [
        arc.centre[1] + (arc.radius if k % 2 == 0 else -arc.radius) for k in range(first, last + 1)
    ]
    from_low = [start[1], end[1]] if arc.sweep > 0 else [end[1], start[1]]
    heights = [from_low[0], *heights, from_low[1]]
    odd = False
    for i in range(len(angles) - 1):
        if (heights[i] <= p[1]) != (heights[i + 1] <= p[1]):
            side = math.copysign(half, math.cos((angles[i] + angles[i + 1]) / 2))
            odd ^= arc.centre[0] + side > p[0]
    return odd


def gap(loop: Loop) -> float:
    """Widest gap between one segment's end and the next one's start [mm]."""
    return max(math.dist(a.end, b.start) for a, b in zip(loop, loop[1:] + loop[:1], strict=True))


def is_simple(loop: Loop, slack: float = 1e-6) -> bool:
    """Whether a closed loop nowhere meets itself, corners aside.

    Args:
        loop: closed loop.
        slack: neighbours may meet this near their common corner [mm].
    """
    n = len(loop)
    for i in range(n):
        for j in range(i + 1, n):
            corners = []
            if j == i + 1:
                corners.append(loop[j].start)
            if (j + 1) % n == i:
                corners.append(loop[i].start)
            for point in meetings(loop[i], loop[j]):
                if all(math.dist(point, corner) > slack for corner in corners):
                    return False
    return True
