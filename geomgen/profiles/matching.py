"""Matching a loop to a circle, for walls that run from a port to a round tube."""

from __future__ import annotations

import math

from geomgen.profiles.convex import corner_turns, is_convex
from geomgen.profiles.hulls import hull_walk
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment, area, heading


def match_to_circle(loop: Loop, centre: Point2, radius: float) -> tuple[Loop, Loop]:
    """The loop and the circle, cut so that segment i of both has the same outward normals.

    An arc is matched with the circle's arc over the same angles: the wall between them
    is part of an oblique cone. A line is matched with one point of the circle, a
    degenerate line: a flat triangle. A corner of the loop is a degenerate line matched
    with an arc. Segments correspond at equal parameter, as ``RuledWall`` wants.

    A dent is matched with one point of the circle, the one that its bridge faces: it shrinks
    towards that point without changing its shape. Sections stay simple, for they are those
    of the hull without the shrunk dents, and those lie within the hull's.

    Args:
        loop: simple, counter-clockwise.
        centre: of the circle, in the loop's x-y [mm].
        radius: of the circle [mm].

    Raises:
        ValueError: the loop folds back on itself.
    """
    if not is_convex(loop):
        return _match_hull(loop, centre, radius)
    of_loop: list[Segment] = []
    of_circle: list[Segment] = []
    for piece, turn in zip(loop, corner_turns(loop), strict=True):
        of_loop.append(piece)
        if isinstance(piece, Arc):
            of_circle.append(Arc(centre, radius, piece.begin, piece.sweep))
        else:
            angle = heading(piece, 0.0) - math.pi / 2
            point = Arc(centre, radius, angle, 0.0).start
            of_circle.append(Line(point, point))
        if turn > 0.0:
            of_loop.append(Line(piece.end, piece.end))
            of_circle.append(Arc(centre, radius, heading(piece, 1.0) - math.pi / 2, turn))
    return tuple(of_loop), tuple(of_circle)


def _match_hull(loop: Loop, centre: Point2, radius: float) -> tuple[Loop, Loop]:
    of_loop: list[Segment] = []
    of_circle: list[Segment] = []
    for step in hull_walk(loop):
        arc = Arc(centre, radius, step.normal, step.sweep)
        of_loop.append(step.piece)
        of_circle.append(arc if step.sweep > 0.0 else Line(arc.start, arc.start))
    return tuple(of_loop), tuple(of_circle)


def blend(loop_a: Loop, loop_b: Loop, fraction: float) -> Loop:
    """Section at a fraction of the way along a ruled wall between matched loops.

    Points of equal normal are joined by straight lines, so the section is the Minkowski
    combination ``(1 - t) A + t B``: radii and centres run linearly.
    """
    t = fraction
    return tuple(_blend(a, b, t) for a, b in zip(loop_a, loop_b, strict=True))


def _between(a: Point2, b: Point2, t: float) -> Point2:
    return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))


def _blend(a: Segment, b: Segment, t: float) -> Segment:
    if isinstance(a, Line) and isinstance(b, Line):
        return Line(_between(a.start, b.start, t), _between(a.end, b.end, t))
    arc = a if isinstance(a, Arc) else b
    assert isinstance(arc, Arc)
    first, second = _as_arc(a, arc), _as_arc(b, arc)
    return Arc(
        _between(first.centre, second.centre, t),
        (1.0 - t) * first.radius + t * second.radius,
        arc.begin,
        arc.sweep,
    )


def _as_arc(piece: Segment, like: Arc) -> Arc:
    """A corner, or the foot of a dent, as an arc of no radius over its partner's angles."""
    if isinstance(piece, Arc):
        return piece
    return Arc(piece.start, 0.0, like.begin, like.sweep)


def mixed_area(loop_a: Loop, loop_b: Loop) -> float:
    """Mixed area V of matched loops [mm2].

    The blend's area is ``(1-t)^2 A + 2 t (1-t) V + t^2 B`` (Minkowski); V follows from
    the exact area at half way. With a circle of radius r it is r times half the
    perimeter of the other loop (Steiner).
    """
    return 2.0 * area(blend(loop_a, loop_b, 0.5)) - (area(loop_a) + area(loop_b)) / 2.0


def blend_area(loop_a: Loop, loop_b: Loop, fraction: float) -> float:
    """Exact area at a fraction of the way between matched loops [mm2].

    Its square root is concave in the fraction for convex loops (Brunn and Minkowski), so
    their blend is never smaller than the smaller of its ends. Neither is that of a dented
    loop: its dents d take off ``(1-t)^2 d``, and what is left is no less than
    ``((1-t) sqrt(A - d) + t sqrt(B))^2``.
    """
    t = fraction
    return (
        (1.0 - t) ** 2 * area(loop_a)
        + 2.0 * t * (1.0 - t) * mixed_area(loop_a, loop_b)
        + t**2 * area(loop_b)
    )
