"""Distance fields of the solids that a tube must keep clear of.

Each field is frozen data with ``distance(points)``: signed distance from points (n, 3)
to the surface [mm], negative inside, never more than the true one. True distances are
1-Lipschitz, which is what lets sampled distances be turned into proven bounds. A field
whose distance may fall short of the true one has ``at_most(points)`` too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame, Vec

Floats = NDArray[np.float64]


class Field(Protocol):
    """Anything that knows its distance from points."""

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm]."""
        ...


def at_most(field: Field, points: Floats) -> Floats:
    """Upper bound (n,) of the true signed distance of points (n, 3) to a field's solid [mm].

    What a proof that something is too near may rest on; the distance itself where that is
    exact.
    """
    bound = getattr(field, "at_most", field.distance)
    return np.asarray(bound(points))


@dataclass(frozen=True)
class Box:
    """Box between two corners along the head frame's axes [mm]."""

    low: Vec
    high: Vec

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm]."""
        low, high = np.array(self.low), np.array(self.high)
        q = np.abs(points - 0.5 * (low + high)) - 0.5 * (high - low)
        outside = np.sqrt((np.maximum(q, 0.0) ** 2).sum(axis=1))
        return np.asarray(outside + np.minimum(q.max(axis=1), 0.0))


@dataclass(frozen=True)
class HalfSpace:
    """Everything on the far side of a plane from its unit normal."""

    point: Vec
    normal: Vec

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm]."""
        return np.asarray((points - np.array(self.point)) @ np.array(self.normal))


@dataclass(frozen=True)
class Cylinder:
    """Round bar with flat ends, from ``begin`` to ``end`` [mm]."""

    begin: Vec
    end: Vec
    radius: float

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm]."""
        begin, end = np.array(self.begin), np.array(self.end)
        axis = end - begin
        length = math.sqrt(float(axis @ axis))
        axis = axis / length
        d = points - begin
        along = d @ axis
        radial = np.sqrt(np.maximum((d * d).sum(axis=1) - along**2, 0.0)) - self.radius
        axial = np.abs(along - 0.5 * length) - 0.5 * length
        return _box2(radial, axial)


@dataclass(frozen=True)
class Swing:
    """What a flat spanner sweeps: a sector of a disc, rounded by half the handle's width.

    Attributes:
        frame: origin on the stud's axis at mid-thickness, z along the stud, x along the
            middle of the swing.
        reach: stud axis to the handle's end [mm].
        half_angle: half of the swing [rad], at most a right angle.
        half_width: half the handle's width; the head's radius where that is larger is
            ``head`` [mm].
        half_thickness: along the stud [mm].
    """

    frame: Frame
    reach: float
    half_angle: float
    half_width: float
    half_thickness: float
    head: float

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm]; a lower bound inside."""
        d = points - np.array(self.frame.origin)
        x = d @ np.array(self.frame.x)
        y = np.abs(d @ np.array(self.frame.y))
        z = np.abs(d @ np.array(self.frame.z)) - self.half_thickness
        return _box2(self.flat_distance(x, y), z)

    def flat_distance(self, x: Floats, y: Floats) -> Floats:
        """Signed distance in the plane of the swing, of local coordinates with y >= 0 [mm]."""
        c, s = math.cos(self.half_angle), math.sin(self.half_angle)
        rho = np.hypot(x, y)
        along = np.clip(x * c + y * s, 0.0, self.reach)
        to_edge = np.hypot(x - along * c, y - along * s)
        inside = (y * c <= x * s) & (x > 0.0)
        arc = rho - self.reach
        sector = np.where(inside, np.where(arc > 0.0, arc, np.maximum(arc, -to_edge)), to_edge)
        return np.asarray(np.minimum(sector - self.half_width, rho - self.head))


@dataclass(frozen=True)
class Placed:
    """A solid that is given in the coordinates of a frame, where that frame stands."""

    field: Field
    frame: Frame

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm], as good as the field's own."""
        return self.field.distance(self._local(points))

    def at_most(self, points: Floats) -> Floats:
        """Upper bound of the signed distance (n,) of points (n, 3) [mm]."""
        return at_most(self.field, self._local(points))

    def _local(self, points: Floats) -> Floats:
        frame = self.frame
        axes = np.array([frame.x, frame.y, frame.z])
        return np.asarray((points - np.array(frame.origin)) @ axes.T)


def placed(field: Field, frame: Frame) -> Field:
    """A solid in a frame's coordinates as the world has it; itself where the two are one."""
    return field if frame == Frame() else Placed(field, frame)


def seen(field: Field, frame: Frame) -> Field:
    """A solid of the world in a frame's coordinates; itself where the two are one."""
    return placed(field, frame.seen(Frame()))


@dataclass(frozen=True)
class Swept:
    """What a solid bars to something that slides along ``way`` by up to ``travel``.

    Looked at in steps; half a step is taken off the distance, so it is never more than the
    true one, and less by at most a step.

    Attributes:
        field: of the solid that stands still.
        way: unit direction in which the other slides.
        travel: how far [mm].
        step: at most [mm].
    """

    field: Field
    way: Vec
    travel: float
    step: float = 4.0

    def distance(self, points: Floats) -> Floats:
        """Lower bound of the least distance on the way (n,) of points (n, 3) [mm]."""
        count = max(1, math.ceil(self.travel / self.step))
        stops = np.linspace(0.0, self.travel, count + 1)
        way = np.array(self.way)
        least = np.min([self.field.distance(points + t * way) for t in stops], axis=0)
        return np.asarray(least - 0.5 * self.travel / count)

    def at_most(self, points: Floats) -> Floats:
        """Upper bound of the least distance on the way (n,) of points (n, 3) [mm]."""
        count = max(1, math.ceil(self.travel / self.step))
        stops = np.linspace(0.0, self.travel, count + 1)
        way = np.array(self.way)
        return np.asarray(np.min([at_most(self.field, points + t * way) for t in stops], axis=0))


def _box2(a: Floats, b: Floats) -> Floats:
    """Combine signed distances along two square directions."""
    outside = np.hypot(np.maximum(a, 0.0), np.maximum(b, 0.0))
    return np.asarray(outside + np.minimum(np.maximum(a, b), 0.0))
