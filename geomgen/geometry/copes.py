"""Copes: where the wall of a straight round tube ends when it meets a plane or another tube.

A tube stands along z of its frame. On the generator at distance r from its axis and azimuth
t from the frame's x towards its y, the cope lies at height z = h(r, t). Of a plane,

    h = ((p - o) . n - r (cos t  x . n + sin t  y . n)) / (z . n),

a sinusoid on the unrolled tube. Of a cylinder of radius R about an axis through a along d,
with v' for the part of v that is square to d and m = (o + r (cos t x + sin t y) - a)',

    h = (-m . z' - sqrt((m . z')^2 - |z'|^2 (|m|^2 - R^2))) / |z'|^2,

the first of the two places where the generator meets it. With the axes crossing square at the
distance D that is D - sqrt(R^2 - r^2 sin^2 t), t counted from d. Both are plain analytic
geometry. One function of r and t serves outside, bore, and everything between them: what a
tube holds up to its cope, its skin, and the hole that it needs, are integrals of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame, Plane, Vec, add, cross, dot, norm, scale, sub, unit

Floats = NDArray[np.float64]

_TURNS = 256
"""Azimuths of an integral: of smooth periodic functions it converges faster than any power."""

_RINGS = 24
"""Radii of an integral (Gauss and Legendre)."""


@dataclass(frozen=True)
class PlaneCope:
    """A tube cut by a plane that is not along it."""

    tube: Frame
    plane: Plane

    def heights(self, r: Floats, t: Floats) -> Floats:
        """Height of the cope at distances from the axis [mm] and azimuths [rad]."""
        o, n = self.tube, self.plane.normal
        across = r * (np.cos(t) * dot(o.x, n) + np.sin(t) * dot(o.y, n))
        found: Floats = (-self.plane.height(o.origin) - across) / dot(o.z, n)
        return found

    def leans(self, r: Floats, t: Floats) -> Floats:
        """Cosine between the tube's axis and the surface's normal, there."""
        return np.broadcast_to(
            np.asarray(abs(dot(self.tube.z, self.plane.normal))), np.broadcast(r, t).shape
        )


@dataclass(frozen=True)
class SaddleCope:
    """A tube laid on a cylinder, cut where it first meets it.

    Attributes:
        tube: its frame, z towards the cylinder.
        point, axis: of the cylinder; ``axis`` is a unit vector.
        radius: of the cylinder [mm].
    """

    tube: Frame
    point: Vec
    axis: Vec
    radius: float

    def heights(self, r: Floats, t: Floats) -> Floats:
        """Height of the cope at distances from the axis [mm] and azimuths [rad].

        Not a number where the generator passes the cylinder by.
        """
        way = self._square(self.tube.z)
        m = self._from_axis(r, t)
        a, b = dot(way, way), m @ np.array(way)
        root = b * b - a * (np.einsum("...c,...c->...", m, m) - self.radius**2)
        with np.errstate(invalid="ignore"):
            found: Floats = (-b - np.sqrt(root)) / a
        return found

    def leans(self, r: Floats, t: Floats) -> Floats:
        """Cosine between the tube's axis and the surface's normal, there."""
        way = np.array(self._square(self.tube.z))
        hit = self._from_axis(r, t) + self.heights(r, t)[..., None] * way
        found: Floats = np.abs(hit @ way) / self.radius
        return found

    def _square(self, v: Vec) -> Vec:
        return sub(v, scale(self.axis, dot(v, self.axis)))

    def _from_axis(self, r: Floats, t: Floats) -> Floats:
        x, y = (np.array(self._square(v)) for v in (self.tube.x, self.tube.y))
        start = np.array(self._square(sub(self.tube.origin, self.point)))
        found: Floats = start + (r * np.cos(t))[..., None] * x + (r * np.sin(t))[..., None] * y
        return found


Cope = PlaneCope | SaddleCope


@dataclass(frozen=True)
class Crossing:
    """How a straight line and an axis pass each other [mm, rad].

    Attributes:
        height: of the place on the line that is nearest the axis, from its origin.
        station: of the place on the axis that is nearest the line, from its point.
        offset: between the two.
        angle: between the two directions, 0 to half a turn.
    """

    height: float
    station: float
    offset: float
    angle: float


def crossing(line: Frame, point: Vec, axis: Vec) -> Crossing | None:
    """How the z axis of a frame passes an axis; None where the two are parallel."""
    across = cross(line.z, axis)
    sine = norm(across)
    if sine < 1e-9:
        return None
    away = sub(point, line.origin)
    height = dot(cross(away, axis), across) / sine**2
    foot = add(line.origin, scale(line.z, height))
    station = dot(sub(foot, point), axis)
    apart = norm(sub(foot, add(point, scale(axis, station))))
    return Crossing(height, station, apart, math.atan2(sine, dot(line.z, axis)))


def curve(cope: Cope, radius: float) -> Callable[[float], float]:
    """Height of the cope on a skin of a tube as a function of azimuth: its wrap curve [mm, rad].

    On the unrolled skin a point of the curve lies ``radius * t`` along and ``z`` up; for a
    template round the outside, which has some thickness, the radius is that of its middle.
    """

    def height(t: float) -> float:
        return float(cope.heights(np.array(radius), np.array(t)))

    return height


def points(cope: Cope, radius: float, t: Floats) -> Floats:
    """The wrap curve rolled up again: points (n, 3) in space."""
    tube = cope.tube
    z = cope.heights(np.full(t.shape, radius), t)
    x, y, along = (np.array(v) for v in (tube.x, tube.y, tube.z))
    found: Floats = (
        np.array(tube.origin)
        + (radius * np.cos(t))[:, None] * x
        + (radius * np.sin(t))[:, None] * y
        + z[:, None] * along
    )
    return found


def extremes(cope: Cope, radius: float) -> tuple[float, float]:
    """Least and greatest height of a wrap curve [mm]."""
    height = curve(cope, radius)
    t = 2.0 * np.pi * np.arange(_TURNS) / _TURNS
    z = cope.heights(np.full(t.shape, radius), t)
    step = 2.0 * math.pi / _TURNS
    least = _least(height, float(t[int(np.argmin(z))]), step)
    most = _least(lambda u: -height(u), float(t[int(np.argmax(z))]), step)
    return least, -most


def _least(f: Callable[[float], float], about: float, step: float) -> float:
    """Least value of a function within a step either way, by golden sections."""
    low, high, share = about - step, about + step, (math.sqrt(5.0) - 1.0) / 2.0
    for _ in range(60):
        a, b = high - share * (high - low), low + share * (high - low)
        low, high = (low, b) if f(a) < f(b) else (a, high)
    return f(0.5 * (low + high))


def held(cope: Cope, radius: float) -> float:
    """Volume of a rod from its frame's origin up to its cope [mm3]."""
    r, t, weight = _disc(radius)
    return float(np.sum(weight * cope.heights(r, t)))


def skin(cope: Cope, radius: float) -> float:
    """Area of the round side of that rod [mm2]."""
    t = 2.0 * np.pi * np.arange(_TURNS) / _TURNS
    z = cope.heights(np.full(t.shape, radius), t)
    return float(radius * 2.0 * np.pi * z.mean())


def patch(cope: Cope, radius: float) -> float:
    """Area of the surface that is met, within a rod [mm2]."""
    r, t, weight = _disc(radius)
    return float(np.sum(weight / cope.leans(r, t)))


def _disc(radius: float) -> tuple[Floats, Floats, Floats]:
    """Radii, azimuths and areas of the places that stand for a disc."""
    node, share = np.polynomial.legendre.leggauss(_RINGS)
    r = 0.5 * radius * (node + 1.0)
    t = 2.0 * np.pi * np.arange(_TURNS) / _TURNS
    weight = 0.5 * radius * share * r * (2.0 * np.pi / _TURNS)
    shape = (_RINGS, _TURNS)
    return (
        np.broadcast_to(r[:, None], shape),
        np.broadcast_to(t[None, :], shape),
        np.broadcast_to(weight[:, None], shape),
    )


def slash(tube: Frame, height: float, angle: float, clocking: float) -> Plane:
    """Plane that cuts a tube at a slant.

    Args:
        tube: z along it.
        height: of the cut on the tube's axis [mm].
        angle: of the cut from square [rad].
        clocking: azimuth of the longest side, from the frame's x towards its y [rad].
    """
    aside = add(scale(tube.x, math.cos(clocking)), scale(tube.y, math.sin(clocking)))
    normal = sub(scale(tube.z, math.cos(angle)), scale(aside, math.sin(angle)))
    return Plane(tube.moved(height).origin, unit(normal))
