"""The nearest of many triangles to each of many points, by boxes in boxes.

A box has eight children, the lowest a few triangles. A triangle near each point is guessed
first; boxes that lie farther off than that one are never opened.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FACE, EDGES, CORNERS = 0, 1, 4
"""Features of a triangle: its face; from 1 its sides; from 4 its corners."""

_NOTHING = 1e-200


@dataclass(frozen=True, eq=False)
class Tree:
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
    def of(triangles: Floats) -> Tree:
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
        return Tree(tuple(levels[::-1]), order, _flattened(triangles))

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
    feature = np.where(t <= 0.0, CORNERS + side, EDGES + side)
    feature = np.where(t >= 1.0, CORNERS + (side + 1) % 3, feature)
    return np.asarray(np.where(_over(x, y, flat), FACE, feature))


def to_triangles(points: Floats, triangles: Floats) -> Floats:
    """Distances (n,) of points (n, 3), each to its own triangle (n, 3, 3) [mm]."""
    return np.asarray(np.sqrt(_to_triangles(points, _flattened(triangles))))
