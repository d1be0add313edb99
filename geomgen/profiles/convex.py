"""Convex loops of lines and arcs: offsets and hulls, exact."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment, heading, turn_between

SAME_WAY = 1e-9
"""Headings that differ by less are one and the same [rad]."""


def corner_turns(loop: Loop) -> list[float]:
    """Turn at the end of each segment, positive to the left; 0 where it is smooth [rad]."""
    turns = []
    for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
        turn = turn_between(heading(a, 1.0), heading(b, 0.0))
        turns.append(0.0 if abs(turn) < SAME_WAY else turn)
    return turns


def is_convex(loop: Loop) -> bool:
    """Whether a counter-clockwise loop turns left only, once round."""
    turns = corner_turns(loop)
    bends = [piece.sweep for piece in loop if isinstance(piece, Arc)]
    if min(turns + bends) < 0.0:
        return False
    return abs(math.fsum(turns + bends) - math.tau) < 1e-6


def offset(loop: Loop, by: float) -> Loop:
    """A convex loop moved outwards, or inwards when ``by`` is negative [mm].

    Exact: arcs change radius, lines move, corners become arcs of radius ``by``. For a
    convex loop area grows by perimeter times ``by`` plus pi ``by`` squared (Steiner).

    Raises:
        ValueError: the loop is not convex, or an inward offset would eat up an arc or
            meets a corner.
    """
    if not is_convex(loop):
        raise ValueError("only a convex, counter-clockwise loop can be offset")
    if by == 0.0:
        return loop
    pieces: list[Segment] = []
    for piece, turn in zip(loop, corner_turns(loop), strict=True):
        if isinstance(piece, Line):
            way = heading(piece, 0.0) - math.pi / 2
            dx, dy = by * math.cos(way), by * math.sin(way)
            pieces.append(
                Line(
                    (piece.start[0] + dx, piece.start[1] + dy),
                    (piece.end[0] + dx, piece.end[1] + dy),
                )
            )
        else:
            radius = piece.radius + by
            if radius < -1e-12:
                raise ValueError(
                    f"an arc of radius {piece.radius:g} mm cannot move inwards {-by:g} mm"
                )
            if radius > 1e-12:
                pieces.append(Arc(piece.centre, radius, piece.begin, piece.sweep))
        if turn > 0.0:
            if by < 0.0:
                raise ValueError("a loop with a sharp corner cannot move inwards")
            pieces.append(Arc(piece.end, by, heading(piece, 1.0) - math.pi / 2, turn))
    return tuple(pieces)


def hull_of_circles(circles: Sequence[tuple[Point2, float]]) -> Loop:
    """Tightest convex loop round circles: their arcs and common tangents, exact.

    The support function of a circle is ``c . u + r``; the hull's is the greatest of them,
    and it changes hands where two are equal, which is a common tangent.

    Args:
        circles: centre and radius [mm]; a radius of 0 makes a corner.
    """
    unique = list(dict.fromkeys(circles))
    turns = _leaders(unique)
    if len(turns) == 1:
        centre, radius = unique[turns[0][0]]
        return (Arc(centre, radius, 0.0, math.pi), Arc(centre, radius, math.pi, math.pi))
    pieces: list[Segment] = []
    for (owner, begin), (after, end) in zip(turns, turns[1:] + turns[:1], strict=True):
        centre, radius = unique[owner]
        sweep = (end - begin) % math.tau
        if radius > 0.0:
            pieces.append(Arc(centre, radius, begin, sweep))
        tangent = Line(_rim(unique[owner], end), _rim(unique[after], end))
        if tangent.length > 1e-9:
            pieces.append(tangent)
    return tuple(pieces)


def _rim(circle: tuple[Point2, float], angle: float) -> Point2:
    (x, y), r = circle
    return (x + r * math.cos(angle), y + r * math.sin(angle))


def _leaders(circles: list[tuple[Point2, float]]) -> list[tuple[int, float]]:
    """Which circle leads from which angle on, once round."""
    n = len(circles)
    angles = sorted(
        angle for i in range(n) for j in range(i) for angle in _ties(circles[i], circles[j])
    )
    if not angles:  # one circle holds all others
        return [(max(range(n), key=lambda i: circles[i][1]), 0.0)]
    order: list[int] = []
    for low, high in zip(angles, [*angles[1:], angles[0] + math.tau], strict=True):
        if high - low > SAME_WAY:
            leader = _leader(circles, (low + high) / 2)
            if not order or order[-1] != leader:
                order.append(leader)
    if len(order) > 1 and order[0] == order[-1]:
        order.pop()
    if len(order) == 1:
        return [(order[0], 0.0)]
    return _handovers(circles, order)


def _handovers(circles: list[tuple[Point2, float]], order: list[int]) -> list[tuple[int, float]]:
    """Angle from which each circle leads: the tie with the one before it, rising."""
    turns = []
    for before, now in zip(order[-1:] + order[:-1], order, strict=True):
        (bx, by), br = circles[before]
        (nx, ny), nr = circles[now]
        away = math.atan2(ny - by, nx - bx)
        lean = (br - nr) / math.hypot(nx - bx, ny - by)
        turns.append((now, away - math.acos(max(-1.0, min(1.0, lean)))))
    return turns


def _leader(circles: list[tuple[Point2, float]], angle: float) -> int:
    c, s = math.cos(angle), math.sin(angle)
    reach = [x * c + y * s + r for (x, y), r in circles]
    best = max(reach)
    return next(i for i, value in enumerate(reach) if value >= best - 1e-12)


def _ties(a: tuple[Point2, float], b: tuple[Point2, float]) -> list[float]:
    dx, dy = b[0][0] - a[0][0], b[0][1] - a[0][1]
    apart = math.hypot(dx, dy)
    if apart <= abs(a[1] - b[1]):
        return []
    away, half = math.atan2(dy, dx), math.acos((a[1] - b[1]) / apart)
    return [(away - half) % math.tau, (away + half) % math.tau]
