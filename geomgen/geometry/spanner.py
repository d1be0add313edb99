"""What an open-ended spanner sweeps: its swing, and its way on to the nut from the side."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.fields import Swing
from geomgen.geometry.frames import Frame

Floats = NDArray[np.float64]
_Point = tuple[float, float]


@dataclass(frozen=True)
class OpenEnd:
    """Swing of an open-ended spanner, and its sliding on and off at both ends of the swing.

    The jaws stand at ``offset`` to the handle, to either side as the spanner is turned
    over, and leave the nut along themselves: handle and head slide that way by ``slide``.

    Attributes:
        frame: origin on the stud's axis at mid-thickness, z along the stud, x along the
            middle of the swing.
        reach: stud's axis to the handle's end [mm].
        half_angle: half of the swing [rad], at most a right angle.
        half_width: half the handle's width [mm].
        half_thickness: along the stud [mm].
        head: radius of the head, no less than half the handle's width [mm].
        slide: how far it slides to come off the nut [mm].
        offset: of the jaws against the handle [rad].
    """

    frame: Frame
    reach: float
    half_angle: float
    half_width: float
    half_thickness: float
    head: float
    slide: float
    offset: float

    def distance(self, points: Floats) -> Floats:
        """Signed distance (n,) of points (n, 3) [mm]; a lower bound inside."""
        d = points - np.array(self.frame.origin)
        x, y = d @ np.array(self.frame.x), np.abs(d @ np.array(self.frame.y))
        z = np.abs(d @ np.array(self.frame.z)) - self.half_thickness
        flat = self.flat_distance(x, y)
        out, up = np.maximum(flat, 0.0), np.maximum(z, 0.0)
        outside = np.sqrt(out * out + up * up)
        return np.asarray(outside + np.minimum(np.maximum(flat, z), 0.0))

    def flat_distance(self, x: Floats, y: Floats) -> Floats:
        """Signed distance in the plane of the swing, of local coordinates with y >= 0 [mm]."""
        swing = Swing(
            self.frame,
            self.reach,
            self.half_angle,
            self.half_width,
            self.half_thickness,
            self.head,
        )
        least = swing.flat_distance(x, y)
        handle = _along(self.reach, self.half_angle)
        for turn in (self.offset, -self.offset):
            way = _along(self.slide, self.half_angle + turn)
            # What slides across the middle has its mirror image on this side too.
            sides = (y, -y) if self.half_angle + turn < -1e-9 else (y,)
            for side in sides:
                least = np.minimum(least, _to_edge(x, side, (0.0, 0.0), way) - self.head)
                least = np.minimum(least, _to_slid(x, side, handle, way) - self.half_width)
        return np.asarray(least)


def _along(length: float, angle: float) -> _Point:
    return length * math.cos(angle), length * math.sin(angle)


def _to_edge(x: Floats, y: Floats, a: _Point, b: _Point) -> Floats:
    """Distance (n,) from a line segment."""
    u, v = b[0] - a[0], b[1] - a[1]
    square = u * u + v * v
    dx, dy = x - a[0], y - a[1]
    if square > 0.0:
        t = np.minimum(np.maximum((dx * u + dy * v) / square, 0.0), 1.0)
        dx, dy = dx - t * u, dy - t * v
    return np.asarray(np.sqrt(dx * dx + dy * dy))


def _to_slid(x: Floats, y: Floats, handle: _Point, way: _Point) -> Floats:
    """Signed distance (n,) from what a line from the origin sweeps as it slides.

    Only from its far edges: the line where it starts, and the way of its near end, belong
    to the swing and to the head, which are wider.
    """
    far = (handle[0] + way[0], handle[1] + way[1])
    edge = np.minimum(_to_edge(x, y, handle, far), _to_edge(x, y, way, far))
    det = handle[0] * way[1] - handle[1] * way[0]
    if det == 0.0:
        return edge
    s, t = (x * way[1] - y * way[0]) / det, (handle[0] * y - handle[1] * x) / det
    along = abs(det) / math.hypot(*way)
    across = abs(det) / math.hypot(*handle)
    inside = np.minimum(along * np.minimum(s, 1.0 - s), across * np.minimum(t, 1.0 - t))
    return np.asarray(np.where(inside > 0.0, -inside, edge))
