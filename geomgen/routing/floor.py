"""Shortest curvature-bounded path from a pose to a point: the floor of any route."""

from __future__ import annotations

import math

from geomgen.geometry.frames import Frame, Vec, dot, norm, scale, sub


def pose_to_point(start: Frame, goal: Vec, radius: float) -> float:
    """Lower bound of a path's length from a pose to a point [mm].

    The shortest path lies in the plane of the direction and the point. When the point is
    outside the turning circle on its side, that path is an arc and a straight, in closed
    form; inside the circle the plain distance is given, which no path can beat.

    Args:
        start: pose; z is the direction of travel.
        goal: the point [mm].
        radius: least radius of any bend [mm].

    Source: L. E. Dubins, "On curves of minimal length with a constraint on average
    curvature", Amer. J. Math. 79 (1957): shortest paths are arcs and tangents (from memory).
    """
    away = sub(goal, start.origin)
    along = dot(away, start.z)
    across = norm(sub(away, scale(start.z, along)))
    to_centre = math.hypot(along, across - radius)
    if to_centre < radius:
        return norm(away)
    straight = math.sqrt(max(to_centre**2 - radius**2, 0.0))
    # Turn until the tangent from the circle meets the goal.
    bearing = math.atan2(along, radius - across)
    turn = (bearing - math.acos(min(1.0, radius / to_centre))) % (2.0 * math.pi)
    if turn > 2.0 * math.pi - 1e-9:
        turn = 0.0
    return radius * turn + straight


def floor_of(start: Frame, end: Frame, radius: float) -> float:
    """Lower bound of a path between two poses: the larger of the floors from each end [mm]."""
    back = Frame(end.origin, end.x, scale(end.z, -1.0))
    return max(pose_to_point(start, end.origin, radius), pose_to_point(back, start.origin, radius))
