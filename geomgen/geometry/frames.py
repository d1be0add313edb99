"""Right-handed orthonormal frames and the few vector operations the project needs.

Vectors are tuples of three floats in mm (points) or unit length (directions), so that
everything built from them is frozen, hashable and prints in full precision.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Vec = tuple[float, float, float]


def add(a: Vec, b: Vec) -> Vec:
    """Sum of two vectors."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def sub(a: Vec, b: Vec) -> Vec:
    """Difference ``a - b``."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scale(a: Vec, factor: float) -> Vec:
    """``a`` times a number."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def dot(a: Vec, b: Vec) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Vector product ``a x b``."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def norm(a: Vec) -> float:
    """Length of ``a``."""
    return math.sqrt(dot(a, a))


def unit(a: Vec) -> Vec:
    """Direction of ``a``.

    Raises:
        ValueError: ``a`` has no direction.
    """
    length = norm(a)
    if not length > 0.0:
        raise ValueError("a zero vector has no direction")
    return scale(a, 1.0 / length)


def distance(a: Vec, b: Vec) -> float:
    """Distance between two points [mm]."""
    return norm(sub(a, b))


def angle_between(a: Vec, b: Vec) -> float:
    """Angle between two directions [rad], accurate near 0 and pi."""
    return math.atan2(norm(cross(a, b)), dot(a, b))


@dataclass(frozen=True)
class Plane:
    """Plane through ``point`` with unit ``normal``."""

    point: Vec
    normal: Vec

    def height(self, p: Vec) -> float:
        """Signed distance of ``p``, positive on the side of the normal [mm]."""
        return dot(sub(p, self.point), self.normal)


@dataclass(frozen=True)
class Frame:
    """Origin [mm] with unit ``x`` and ``z``; ``y`` completes the right-handed frame."""

    origin: Vec = (0.0, 0.0, 0.0)
    x: Vec = (1.0, 0.0, 0.0)
    z: Vec = (0.0, 0.0, 1.0)

    @property
    def y(self) -> Vec:
        """Third axis, ``z x x``."""
        return cross(self.z, self.x)

    def point(self, local: Vec) -> Vec:
        """World point of local coordinates [mm]."""
        return add(self.origin, self.vector(local))

    def vector(self, local: Vec) -> Vec:
        """World vector of local components."""
        x, y, z = self.x, self.y, self.z
        a, b, c = local
        return (
            a * x[0] + b * y[0] + c * z[0],
            a * x[1] + b * y[1] + c * z[1],
            a * x[2] + b * y[2] + c * z[2],
        )

    def local(self, world: Vec) -> Vec:
        """Local coordinates of a world point [mm]."""
        d = sub(world, self.origin)
        return (dot(d, self.x), dot(d, self.y), dot(d, self.z))

    def carried(self, local: Frame) -> Frame:
        """In the world, a frame that is given in this one's coordinates."""
        return Frame(
            self.point(local.origin), unit(self.vector(local.x)), unit(self.vector(local.z))
        )

    def seen(self, world: Frame) -> Frame:
        """In this frame's coordinates, a frame that is given in the world."""
        x, z = world.x, world.z
        return Frame(
            self.local(world.origin),
            unit((dot(x, self.x), dot(x, self.y), dot(x, self.z))),
            unit((dot(z, self.x), dot(z, self.y), dot(z, self.z))),
        )

    def moved(self, along_z: float) -> Frame:
        """The same frame carried ``along_z`` mm along its z axis."""
        return Frame(add(self.origin, scale(self.z, along_z)), self.x, self.z)

    def shifted(self, by: Vec) -> Frame:
        """The same frame moved by a vector of the world [mm]."""
        return Frame(add(self.origin, by), self.x, self.z)

    def rolled(self, roll: float) -> Frame:
        """The frame turned about its own z by ``roll`` [rad], right-hand rule."""
        if roll == 0.0:
            return self
        c, s = math.cos(roll), math.sin(roll)
        return Frame(self.origin, unit(add(scale(self.x, c), scale(self.y, s))), self.z)

    @staticmethod
    def facing(origin: Vec, z: Vec, x_hint: Vec | None = None) -> Frame:
        """A frame with the given z; x as near to ``x_hint`` as a right angle allows.

        Without a usable hint, x is taken square to the world axis least aligned with z.
        """
        axis = unit(z)
        for hint in (x_hint, _least_aligned(axis)):
            if hint is None:
                continue
            across = sub(hint, scale(axis, dot(hint, axis)))
            if norm(across) > 1e-9 * max(1.0, norm(hint)):
                return Frame(origin, unit(across), axis)
        raise ValueError("no x axis square to z")  # pragma: no cover - hint above always serves


WORLD = Frame()
"""The frame that everything is given in."""


def _least_aligned(axis: Vec) -> Vec:
    smallest = min(range(3), key=lambda i: (abs(axis[i]), i))
    return (float(smallest == 0), float(smallest == 1), float(smallest == 2))
