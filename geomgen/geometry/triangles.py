"""Closed skins of flat triangles, and the exact signed distance to one.

The nearest triangle's nearest corner, edge or face says the side by an angle-weighted
normal, which is exact on a closed, oriented skin (J. A. Baerentzen and H. Aanaes, Signed
distance computation using the angle weighted pseudonormal, IEEE TVCG 11(3), 2005; from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.triangle_tree import CORNERS, EDGES, Tree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CHUNK = 20_000


class NotClosed(ValueError):
    """Triangles that do not bound a solid: the text says why."""


@dataclass(frozen=True, eq=False)
class Skin:
    """Triangles round one solid.

    Attributes:
        points: (n, 3) [mm].
        corners: (m, 3) indices of points, counter-clockwise seen from outside; the first
            side of each is its longest.
    """

    points: Floats
    corners: Ints

    @staticmethod
    def of(points: Floats, corners: Ints) -> Skin:
        """A skin of triangles as a mesher leaves them: its equal points become one.

        Args:
            points: (n, 3) [mm]; those that are the same place agree to 1e-7 mm.
            corners: (m, 3) indices, counter-clockwise seen from outside.

        Raises:
            NotClosed: the triangles leave a hole, or do not agree which side is outside.
        """
        keys = np.round(points, 6) + 0.0
        _, first, same = np.unique(keys, axis=0, return_index=True, return_inverse=True)
        corners = same.reshape(-1)[corners]
        a, b, c = corners.T
        kept = corners[(a != b) & (b != c) & (c != a)]
        if not len(kept):
            raise NotClosed("it has no triangles")
        skin = Skin(np.ascontiguousarray(points[first]), _longest_first(points[first], kept))
        skin._refuse_holes()
        if skin.volume <= 0.0:
            raise NotClosed("its skin is inside out")
        return skin

    def _refuse_holes(self) -> None:
        """Every side is run along as often one way as the other."""
        count = len(self.points)
        start, end = self._sides
        there, back = np.sort(start * count + end), np.sort(end * count + start)
        if not np.array_equal(there, back):
            raise NotClosed("its triangles leave a hole")

    @property
    def _sides(self) -> tuple[Ints, Ints]:
        """Starts and ends of all sides, (3 m,) each: all first sides, all second, all third."""
        return self.corners.T.ravel(), self.corners[:, [1, 2, 0]].T.ravel()

    @property
    def volume(self) -> float:
        """Volume inside [mm3]; negative when inside out."""
        a, b, c = (self.points[self.corners[:, k]] - self.points[0] for k in range(3))
        return float((a * np.cross(b, c)).sum() / 6.0)

    @property
    def low(self) -> Floats:
        """Corner of the box round it, (3,) [mm]."""
        return np.asarray(self.points.min(axis=0))

    @property
    def high(self) -> Floats:
        """Opposite corner of the box round it, (3,) [mm]."""
        return np.asarray(self.points.max(axis=0))

    @cached_property
    def normals(self) -> Floats:
        """Unit normals (m, 3); zero for a triangle without area."""
        a, b, c = (self.points[self.corners[:, k]] for k in range(3))
        n = np.cross(b - a, c - a)
        size = np.linalg.norm(n, axis=1)
        flat = size <= 1e-12 * ((b - a) ** 2).sum(axis=1)
        return np.asarray(np.where(flat[:, None], 0.0, n / np.where(flat, 1.0, size)[:, None]))

    @cached_property
    def feature_normals(self) -> Floats:
        """(7, m, 3): of each triangle's face, its three sides and its three corners."""
        count, normals = len(self.points), self.normals
        start, end = self._sides
        sides = np.minimum(start, end) * count + np.maximum(start, end)
        _, place = np.unique(sides, return_inverse=True)
        of_sides = _summed(place.reshape(-1), np.tile(normals, (3, 1)))
        a, b, c = (self.points[self.corners[:, k]] for k in range(3))
        angles = np.concatenate([_angle(b - a, c - a), _angle(c - b, a - b), _angle(a - c, b - c)])
        weighted = angles[:, None] * np.tile(normals, (3, 1))
        of_points = _summed(start, weighted, count)[start]
        return np.concatenate([normals, of_sides, of_points]).reshape(7, -1, 3)

    @cached_property
    def sides(self) -> tuple[Ints, Ints]:
        """Every side once: its two points (e, 2), and the two triangles that it lies between."""
        start, end = self._sides
        key = np.minimum(start, end) * len(self.points) + np.maximum(start, end)
        order = np.argsort(key, kind="stable")
        triangle = order % len(self.corners)
        one, two = order[::2], order[1::2]
        return (
            np.stack([start[one], end[one]], axis=1),
            np.stack([triangle[::2], triangle[1::2]], axis=1)[: len(two)],
        )

    @cached_property
    def _tree(self) -> Tree:
        return Tree.of(self.points[self.corners])

    def nearest(self, points: Floats, guess: Ints | None = None) -> tuple[Floats, Ints, Ints]:
        """Nearest triangle of each point.

        Args:
            points: (n, 3) [mm].
            guess: (n,) a triangle near each point; any will do, a near one is faster.

        Returns:
            Distance [mm], triangle, and its nearest feature: 0 the face, 1 to 3 a side, 4 to
            6 a corner; (n,) each.
        """
        parts = []
        for k in range(0, len(points), _CHUNK):
            some = points[k : k + _CHUNK]
            first = self._tree.probe(some) if guess is None else guess[k : k + _CHUNK]
            parts.append(self._tree.nearest(some, first))
        if not parts:
            return np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        distance, triangle, feature = (np.concatenate(part) for part in zip(*parts, strict=True))
        return distance, triangle, feature

    def distance(self, points: Floats, guess: Ints | None = None) -> Floats:
        """Signed distance (n,) of points (n, 3), negative inside [mm].

        Args:
            points: where from.
            guess: (n,) a triangle near each point; any will do, a near one is faster.
        """
        return self.signed(points, *self.nearest(points, guess))

    def signed(self, points: Floats, distance: Floats, triangle: Ints, feature: Ints) -> Floats:
        """Distances (n,) with the sign of the side on which their points lie [mm]."""
        # Any point of the feature tells the side: its normal is square to the feature, or
        # the point is the corner itself.
        corner = np.where(feature >= CORNERS, feature - CORNERS, 0)
        corner = np.where((feature > 0) & (feature < CORNERS), feature - EDGES, corner)
        foot = self.points[self.corners[triangle, corner]]
        side = ((points - foot) * self.feature_normals[feature, triangle]).sum(axis=1)
        return np.asarray(np.where(side < 0.0, -distance, distance))


def _longest_first(points: Floats, corners: Ints) -> Ints:
    sides = np.stack(
        [((points[corners[:, k]] - points[corners[:, k - 2]]) ** 2).sum(axis=1) for k in range(3)],
        axis=1,
    )
    turn = np.argmax(sides, axis=1)
    order = (turn[:, None] + np.arange(3)) % 3
    return np.asarray(np.take_along_axis(corners, order, axis=1))


def _angle(a: Floats, b: Floats) -> Floats:
    """Angle between rows [rad]."""
    across = np.linalg.norm(np.cross(a, b), axis=1)
    return np.asarray(np.arctan2(across, (a * b).sum(axis=1)))


def _summed(place: Ints, rows: Floats, count: int | None = None) -> Floats:
    """Rows (n, 3) summed by place; by place again without ``count``, else (count, 3)."""
    sums = np.stack(
        [np.bincount(place, rows[:, k], minlength=count or 0) for k in range(3)], axis=1
    )
    return np.asarray(sums if count is not None else sums[place])
