"""Length that no path beats: from a pose to a point with a least radius, by planar Dubins.

A path that leaves a pose and bends no tighter than R, to a point off its turning circle:
one arc and its tangent, in the plane of pose and point (L. E. Dubins, American Journal of
Mathematics 79 (1957), for the plane; from memory that in space the shortest path from a
pose to a point stays in that plane). To a point inside the turning circle the straight
distance is taken, which is weaker and always true.
"""

from __future__ import annotations

import math

import numpy as np
from problem_set.fillets import Floats


def pose_to_point(origin: Floats, z: Floats, target: Floats, radius: float) -> float:
    """Least length of a path from a pose to a point [mm]."""
    way = target - origin
    ahead = float(way @ z)
    aside = float(np.linalg.norm(way - ahead * z))
    square = ahead**2 + (aside - radius) ** 2 - radius**2
    if square <= 0.0:
        return math.hypot(ahead, aside)
    tangent = math.sqrt(square)
    # About the turn's centre at (0, R): the point's bearing less what the tangent takes.
    bearing = math.atan2(ahead, radius - aside)
    turned = (bearing - math.atan2(tangent, radius)) % (2.0 * math.pi)
    # Straight ahead, rounding may leave a full turn where there is none.
    turned = 0.0 if turned > 2.0 * math.pi - 1e-9 else turned
    return radius * turned + tangent


def floor_of(p: Floats, z: Floats, q: Floats, w: Floats, radius: float) -> float:
    """The larger of the floors from either end [mm]."""
    return max(pose_to_point(p, z, q, radius), pose_to_point(q, -w, p, radius))
