"""Closed skins of flat triangles, and the exact signed distance to one.

A tree of boxes, eight to each, finds the nearest triangle; its nearest corner, edge or
face says the side by an angle-weighted normal, which is exact on a closed, oriented skin
(J. A. Baerentzen and H. Aanaes, Signed distance computation using the angle weighted
pseudonormal, IEEE TVCG 11(3), 2005).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CHUNK = 20_000
_FACE, _EDGES, _CORNERS = 0, 1, 4
_NOTHING = 1e-200


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
    def _tree(self) -> _Tree:
        return _Tree.of(self.points[self.corners])

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
        corner = np.where(feature >= _CORNERS, feature - _CORNERS, 0)
        corner = np.where((feature > 0) & (feature < _CORNERS), feature - _EDGES, corner)
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


@dataclass(frozen=True, eq=False)
class _Tree:
    """Boxes in boxes; a box's children lie in a row.

    Attributes:
        levels: for each level below the top: how many children a box has, and the low and
            high corners of all children; those of the last level are triangles.
        order: the triangles in the order of the last level, some of them twice.
        flat: (m, 16) of each triangle, see ``_flattened``.
    """

    levels: tuple[tuple[int, Floats, Floats], ...]
    order: Ints
    flat: Floats

    @staticmethod
    def of(triangles: Floats) -> _Tree:
        """The tree of triangles (m, 3, 3)."""
        count, middles = len(triangles), triangles.mean(axis=1)
        depth = 0
        while 8 ** (depth + 1) <= count:
            depth += 1
        leaf = -(-count // 8**depth)
        order = np.arange(leaf * 8**depth).clip(max=count - 1)[None]
        for _ in range(3 * depth):
            there = middles[order]
            axis = np.argmax(there.max(axis=1) - there.min(axis=1), axis=1)
            along = np.take_along_axis(there, axis[:, None, None], axis=2)[:, :, 0]
            row = np.argsort(along, axis=1, kind="stable")
            order = np.take_along_axis(order, row, axis=1).reshape(2 * len(order), -1)
        order = order.ravel()
        low, high = triangles.min(axis=1)[order], triangles.max(axis=1)[order]
        levels = []
        for children in (leaf, *([8] * depth)):
            levels.append((children, low, high))
            low = low.reshape(-1, children, 3).min(axis=1)
            high = high.reshape(-1, children, 3).max(axis=1)
        return _Tree(tuple(levels[::-1]), order, _flattened(triangles))

    def probe(self, points: Floats) -> Ints:
        """A triangle near each point: going down the nearest boxes."""
        box = np.zeros(len(points), dtype=np.int64)
        for children, low, high in self.levels:
            below = children * box[:, None] + np.arange(children)
            near, far = low[below], high[below]
            away = _to_boxes(points[:, None], near, far)
            # The middle tells boxes apart that hold the point.
            off = points[:, None] - 0.5 * (near + far)
            away += 1e-3 * (off * off).sum(axis=-1)
            box = np.take_along_axis(below, np.argmin(away, axis=1)[:, None], axis=1)[:, 0]
        return np.asarray(self.order[box])

    def nearest(self, points: Floats, guess: Ints) -> tuple[Floats, Ints, Ints]:
        """Distance, triangle and feature nearest to each point."""
        most = _to_triangles(points, self.flat[guess])
        # A little more, for what rounding may have taken off.
        most = most * (1.0 + 1e-9) + 1e-9
        point, box = np.arange(len(points)), np.zeros(len(points), dtype=np.int64)
        for children, low, high in self.levels:
            point = np.repeat(point, children)
            box = (children * box[:, None] + np.arange(children)).ravel()
            keep = _to_boxes(points[point], low[box], high[box]) <= most[point]
            point, box = point[keep], box[keep]
        triangle = self.order[box]
        square = _to_triangles(points[point], self.flat[triangle])
        chosen = _least(point, square)
        triangle = triangle[chosen]
        return np.sqrt(square[chosen]), triangle, _feature(points, self.flat[triangle])


def _least(point: Ints, value: Floats) -> Ints:
    """Where each point's least value is, the first of equals; points lie together, in order."""
    starts = np.flatnonzero(np.diff(point, prepend=-1))
    least = np.minimum.reduceat(value, starts)
    hits = np.flatnonzero(value == np.repeat(least, np.diff(starts, append=len(point))))
    return np.asarray(hits[np.diff(point[hits], prepend=-1) != 0])


def _to_boxes(points: Floats, low: Floats, high: Floats) -> Floats:
    """Squared distances of points to boxes (..., 3) [mm2]."""
    away = np.maximum(np.maximum(low - points, points - high), 0.0)
    return np.asarray(np.einsum("...i,...i->...", away, away))


def _flattened(triangles: Floats) -> Floats:
    """Each triangle in a frame of its own, (m, 16).

    First corner; the frame by rows (along the first side, across it, normal); length of the
    first side; third corner in the frame; 1 where there is no area.
    """
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    along = b - a
    length = np.linalg.norm(along, axis=1)
    x = np.where(length[:, None] > 0.0, along, (1.0, 0.0, 0.0))
    x = x / np.linalg.norm(x, axis=1)[:, None]
    third = c - a
    cx = (third * x).sum(axis=1)
    y = third - cx[:, None] * x
    cy = np.linalg.norm(y, axis=1)
    thin = cy <= 1e-12 * length
    spare = np.cross(x, np.eye(3)[np.argmin(np.abs(x), axis=1)])
    y = np.where(thin[:, None], spare, y)
    y = y / np.linalg.norm(y, axis=1)[:, None]
    row = (a, x, y, np.cross(x, y), length[:, None], cx[:, None], cy[:, None], thin[:, None])
    return np.ascontiguousarray(np.concatenate(row, axis=1), dtype=np.float64)


def _local(points: Floats, flat: Floats) -> tuple[Floats, Floats, Floats]:
    """Points (n, 3) in the frames of their triangles."""
    d = points - flat[:, :3]
    turned = np.einsum("nij,nj->ni", flat[:, 3:12].reshape(-1, 3, 3), d)
    return turned[:, 0], turned[:, 1], turned[:, 2]


def _over(x: Floats, y: Floats, flat: Floats) -> NDArray[np.bool_]:
    """Whether a point's foot lies in its triangle."""
    b, cx, cy = flat[:, 12], flat[:, 13], flat[:, 14]
    over = (y >= 0.0) & (x * cy >= y * cx) & ((cx - b) * y >= (x - b) * cy)
    return np.asarray(over & (flat[:, 15] == 0.0))


def _to_triangles(points: Floats, flat: Floats) -> Floats:
    """Squared distances (n,) of points (n, 3), each to its triangle [mm2]."""
    x, y, z = _local(points, flat)
    b, cx, cy = flat[:, 12], flat[:, 13], flat[:, 14]
    (t0, t1, t2), (ex, fx) = _shares(x, y, flat), (cx - b, x - b)
    edge = (x - t0 * b) ** 2 + y * y
    edge = np.minimum(edge, (fx - t1 * ex) ** 2 + (y - t1 * cy) ** 2)
    edge = np.minimum(edge, (x - t2 * cx) ** 2 + (y - t2 * cy) ** 2)
    edge[_over(x, y, flat)] = 0.0
    return np.asarray(edge + z * z)


def _shares(x: Floats, y: Floats, flat: Floats) -> tuple[Floats, Floats, Floats]:
    """How far along each side the nearest point is: a to b, b to c, and a to c."""
    b, cx, cy = flat[:, 12], flat[:, 13], flat[:, 14]
    ex = cx - b
    # A side without length is a point: any share of it will do.
    return (
        (x / np.maximum(b, _NOTHING)).clip(0.0, 1.0),
        (((x - b) * ex + y * cy) / np.maximum(ex * ex + cy * cy, _NOTHING)).clip(0.0, 1.0),
        ((x * cx + y * cy) / np.maximum(cx * cx + cy * cy, _NOTHING)).clip(0.0, 1.0),
    )


def _feature(points: Floats, flat: Floats) -> Ints:
    """Which feature of its triangle is nearest to each point: face, side or corner."""
    x, y, _ = _local(points, flat)
    b, cx, cy = flat[:, 12], flat[:, 13], flat[:, 14]
    t0, t1, t2 = _shares(x, y, flat)
    squares = (
        (x - t0 * b) ** 2 + y * y,
        (x - b - t1 * (cx - b)) ** 2 + (y - t1 * cy) ** 2,
        (x - t2 * cx) ** 2 + (y - t2 * cy) ** 2,
    )
    side = np.argmin(np.stack(squares), axis=0)
    t = np.choose(side, (t0, t1, 1.0 - t2))
    feature = np.where(t <= 0.0, _CORNERS + side, _EDGES + side)
    feature = np.where(t >= 1.0, _CORNERS + (side + 1) % 3, feature)
    return np.asarray(np.where(_over(x, y, flat), _FACE, feature))


def to_triangles(points: Floats, triangles: Floats) -> Floats:
    """Distances (n,) of points (n, 3), each to its own triangle (n, 3, 3) [mm]."""
    return np.asarray(np.sqrt(_to_triangles(points, _flattened(triangles))))
