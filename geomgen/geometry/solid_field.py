"""The distance field of a solid that is known by its skin of triangles.

Near the skin the nearest triangle is found exactly. Elsewhere a grid of exact distances
answers: the distance to a set, less the square of the distance from any fixed point over
twice the least distance there is, is concave, so that between grid points it is no less
than its linear interpolation. That makes the answer a lower bound, and a close one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame, Vec
from geomgen.geometry.triangles import NotClosed, Skin

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MARGIN = 110.0
"""How far the grid reaches beyond the solid [mm]."""

NODES = 150_000
"""Grid points of one skin, about."""

FEW = 4096
"""So many points are measured exactly wherever that may matter; more only close by."""

_LEAST_STEP = 3.0
_NEAR_FEW = 60.0
_NEAR_STEPS = 2.5
_HALF = math.sqrt(3.0) / 2.0
_ROUNDING = 1e-3
_CHUNK = 32_768
_CORNERS = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)])


@dataclass(frozen=True, eq=False)
class Body:
    """One skin with its grid.

    Attributes:
        skin: the triangles.
        low: first grid point, (3,) [mm].
        step: between grid points [mm].
        values: signed distances at the grid points (nx, ny, nz), exact to 1e-3 [mm].
        nearest: a triangle nearest to each of them.
    """

    skin: Skin
    low: Floats
    step: float
    values: NDArray[np.float32]
    nearest: NDArray[np.int32]

    @staticmethod
    def of(skin: Skin) -> Body:
        """Measure the grid.

        Raises:
            NotClosed: the skin does not say everywhere which side is outside.
        """
        low = skin.low - MARGIN
        size = skin.high + MARGIN - low
        step = max(_LEAST_STEP, float(size.prod() / NODES) ** (1.0 / 3.0))
        nx, ny, nz = (int(n) + 1 for n in np.ceil(size / step))
        y, z = (a.ravel() for a in np.meshgrid(np.arange(ny), np.arange(nz), indexing="ij"))
        values = np.zeros((nx, ny * nz), dtype=np.float32)
        nearest = np.zeros((nx, ny * nz), dtype=np.int32)
        guess: Ints | None = None
        for i in range(nx):
            points = low + step * np.stack([np.full_like(y, i), y, z], axis=1)
            found = skin.nearest(points, guess)
            values[i], guess = skin.signed(points, *found), found[1]
            nearest[i] = guess
        body = Body(skin, low, step, values.reshape(nx, ny, nz), nearest.reshape(nx, ny, nz))
        body._refuse_wrong_sides()
        return body

    def _refuse_wrong_sides(self) -> None:
        """Between neighbours on either side of the skin there is room for the skin."""
        for axis in range(3):
            a = np.moveaxis(self.values, axis, 0)[:-1].astype(np.float64)
            b = np.moveaxis(self.values, axis, 0)[1:].astype(np.float64)
            if ((a * b < 0.0) & (np.abs(a) + np.abs(b) > self.step + 1e-2)).any():
                raise NotClosed("its triangles do not say which side is outside")

    @cached_property
    def _flat(self) -> Floats:
        return self.values.ravel().astype(np.float64)

    @cached_property
    def _least(self) -> Floats:
        """Least value at the corners of each cell, by its first corner, flat."""
        least = self.values.astype(np.float64)
        for axis in range(3):
            ahead = np.roll(least, -1, axis)
            least = np.minimum(least, ahead)
        return np.asarray(least.ravel())

    def bounds(self, points: Floats, few: bool) -> tuple[Floats, Floats]:
        """Lower and upper bounds (n,) of the signed distance to the skin [mm].

        Args:
            points: (n, 3) [mm].
            few: whether there are so few that most may be measured exactly.
        """
        shape = np.array(self.values.shape)
        place = (points - self.low) / self.step
        inside = np.asarray(((place >= 0.0) & (place <= shape - 1)).all(axis=1))
        if not inside.all():
            return self._beyond(points, inside, few)
        cell = np.minimum(place.astype(np.int64), shape - 2)
        share = place - cell
        _, ny, nz = self.values.shape
        first = (cell[:, 0] * ny + cell[:, 1]) * nz + cell[:, 2]
        between = self._interpolated(first, share)
        spread = self.step**2 * (share * (1.0 - share)).sum(axis=1)
        # No point of the cell is farther than half its diagonal from some corner.
        nearest = self._least[first] - _HALF * self.step
        reach = np.sqrt(spread)
        lower = between - np.minimum(reach, 0.5 * spread / np.maximum(nearest, 1e-9))
        lower, upper = lower - _ROUNDING, between + reach + _ROUNDING
        close = _NEAR_FEW if few else _NEAR_STEPS * self.step
        exact = np.flatnonzero((lower < close) & (upper > -self.step))
        if len(exact):
            corner = (share[exact] > 0.5).astype(np.int64)
            node = first[exact] + (corner[:, 0] * ny + corner[:, 1]) * nz + corner[:, 2]
            guess = self.nearest.ravel()[node].astype(np.int64)
            lower[exact] = upper[exact] = self.skin.distance(points[exact], guess)
        return lower, upper

    def _interpolated(self, first: Ints, share: Floats) -> Floats:
        _, ny, nz = self.values.shape
        flat, (x, y, z) = self._flat, share.T
        between = np.zeros(len(first))
        for i, j, k in _CORNERS:
            weight = (x if i else 1.0 - x) * (y if j else 1.0 - y) * (z if k else 1.0 - z)
            between += weight * flat[first + ((i * ny + j) * nz + k)]
        return between

    def _beyond(
        self, points: Floats, inside: NDArray[np.bool_], few: bool
    ) -> tuple[Floats, Floats]:
        """Bounds where some points lie off the grid: there, by the box round the skin."""
        low, high = self.skin.low, self.skin.high
        away = np.maximum(np.maximum(low - points, points - high), 0.0)
        lower = np.sqrt((away * away).sum(axis=1))
        upper = np.sqrt(((points - self.skin.points[0]) ** 2).sum(axis=1))
        if inside.any():
            lower[inside], upper[inside] = self.bounds(points[inside], few)
        return lower, upper


@dataclass(frozen=True)
class Solid:
    """A solid by its triangles, somewhere in space. Equal content and place are equal.

    Attributes:
        key: digest of what it was made from.
        place: of the solid's own frame.
        bodies: skins in the solid's own frame; the solid is their union.
        outside: how far the true solid may stand out of its triangles [mm].
        within: how far the triangles may stand out of the true solid [mm].
    """

    key: str
    place: Frame
    bodies: tuple[Body, ...] = field(compare=False, repr=False)
    outside: float = 0.0
    within: float = 0.0

    def distance(self, points: Floats) -> Floats:
        """Lower bound (n,) of the signed distance of points (n, 3) to the true solid [mm].

        Outside and near, exact for the triangles, less what the solid may stand out of them.
        Inside it is negative, and says little more.
        """
        return self._bounds(points)[0] - self.outside

    def at_most(self, points: Floats) -> Floats:
        """Upper bound (n,) of the signed distance of points (n, 3) to the true solid [mm]."""
        return self._bounds(points)[1] + self.within

    def _bounds(self, points: Floats) -> tuple[Floats, Floats]:
        axes = np.array([self.place.x, self.place.y, self.place.z])
        lower, upper = np.empty(len(points)), np.empty(len(points))
        few = len(points) <= FEW
        for k in range(0, len(points), _CHUNK):
            part = slice(k, k + _CHUNK)
            local = (points[part] - np.array(self.place.origin)) @ axes.T
            found = [body.bounds(local, few) for body in self.bodies]
            lower[part] = np.min([low for low, _ in found], axis=0)
            upper[part] = np.min([high for _, high in found], axis=0)
        return lower, upper

    def placed(self, place: Frame) -> Solid:
        """The same solid elsewhere."""
        return replace(self, place=place)

    @cached_property
    def triangles(self) -> Floats:
        """Corners (m, 3, 3) of all triangles where the solid stands [mm]."""
        axes = np.array([self.place.x, self.place.y, self.place.z])
        own = np.concatenate([body.skin.points[body.skin.corners] for body in self.bodies])
        return np.asarray(own @ axes + np.array(self.place.origin))

    @cached_property
    def low(self) -> Vec:
        """Corner of a box along the axes that holds the true solid [mm]."""
        x, y, z = (float(v) - self.outside for v in self.triangles.min(axis=(0, 1)))
        return (x, y, z)

    @cached_property
    def high(self) -> Vec:
        """Opposite corner of a box along the axes that holds the true solid [mm]."""
        x, y, z = (float(v) + self.outside for v in self.triangles.max(axis=(0, 1)))
        return (x, y, z)
