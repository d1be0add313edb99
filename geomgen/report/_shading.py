"""Triangles to shaded pixels: a parallel view, a depth buffer, soft light, dark outlines.

Plain numpy on plain numbers; the same pixels for the same triangles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NOTHING = -1e6
"""Depth where no part is seen."""

_LIGHT = (-0.42, 0.62, 0.66)
_FILL = (0.80, -0.10, 0.59)
_STEP = 6.0
_CREASE = 0.10
_DEPTH_STEPS = 2.0**12


@dataclass(frozen=True)
class Scene:
    """All triangles of all parts.

    Attributes:
        points: (n, 3) [mm].
        normals: (n, 3) outward, of unit length.
        triangles: (m, 3) indices of points.
        parts: (m,) part of each triangle.
        faces: (m,) face of each triangle, numbered over all parts.
        colours: (parts, 3) sRGB, 0 to 1.
    """

    points: Floats
    normals: Floats
    triangles: Ints
    parts: Ints
    faces: Ints
    colours: Floats


@dataclass(frozen=True)
class View:
    """A parallel view.

    Attributes:
        axes: (3, 3) rows: to the right, up, towards the viewer.
        scale: pixels a millimetre.
        origin: pixel (x, y) of the point zero of space; y of pixels runs down.
        size: width and height [pixels].
    """

    axes: Floats
    scale: float
    origin: tuple[float, float]
    size: tuple[int, int]

    def seen(self, points: Floats) -> Floats:
        """Pixel x, pixel y and depth [mm] of points (n, 3); greater depth is nearer."""
        local = points @ self.axes.T
        return np.column_stack(
            (
                self.origin[0] + self.scale * local[:, 0],
                self.origin[1] - self.scale * local[:, 1],
                local[:, 2],
            )
        )


@dataclass(frozen=True)
class Raster:
    """What is seen at each pixel of a view.

    Attributes:
        colour: (h, w, 3) sRGB, 0 to 1, white where nothing is.
        depth: (h, w) [mm], ``NOTHING`` where nothing is.
        part: (h, w) part, -1 where nothing is.
    """

    colour: Floats
    depth: Floats
    part: Ints


def rendered(scene: Scene, view: View) -> Raster:
    """The scene as seen in a view."""
    width, height = view.size
    seen = view.seen(scene.points)
    corners = seen[scene.triangles]
    facing = _twice_area(corners) < -1e-9
    corners, kept = corners[facing], np.flatnonzero(facing)
    planes = _planes(corners, _light(scene, view)[scene.triangles[kept]])
    front = _frontmost(corners, planes[:, 0], view.size)
    drawn = front >= 0
    triangle = np.where(drawn, front, 0)
    y, x = np.divmod(np.arange(width * height), width)
    values = np.einsum(
        "pkc,pc->pk", planes[triangle], np.column_stack((x, y, np.ones_like(x))).astype(np.float64)
    )
    depth = np.where(drawn, values[:, 0], NOTHING).reshape(height, width)
    light = np.where(drawn, values[:, 1], 0.0).reshape(height, width)
    part = np.where(drawn, scene.parts[kept[triangle]], -1).reshape(height, width)
    face = np.where(drawn, scene.faces[kept[triangle]], -1).reshape(height, width)
    colour = _painted(scene.colours[part], light)
    colour[part < 0] = 1.0
    outline, crease = _edges(depth, part, face, light)
    colour[crease] *= 0.72
    colour[outline] = 0.30 * scene.colours[part[outline]]
    return Raster(colour, depth, part)


def _twice_area(corners: Floats) -> Floats:
    """Signed, in pixels with y down: negative faces the viewer."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _light(scene: Scene, view: View) -> Floats:
    """Brightness (n,) at each point, for a light over the viewer's left shoulder."""
    normals = scene.normals @ view.axes.T
    key = np.clip(normals @ np.array(_LIGHT), 0.0, None)
    fill = np.clip(normals @ np.array(_FILL), 0.0, None)
    return np.asarray(0.36 + 0.62 * key + 0.20 * fill)


def _planes(corners: Floats, light: Floats) -> Floats:
    """Depth and light as affine functions of the pixel (m, 2, 3): x, y and constant."""
    base = corners[:, 0]
    a, b = corners[:, 1] - base, corners[:, 2] - base
    det = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    rows = []
    for value in (corners[:, :, 2], light):
        u, v = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
        gx = (u * b[:, 1] - v * a[:, 1]) / det
        gy = (v * a[:, 0] - u * b[:, 0]) / det
        rows.append(np.column_stack((gx, gy, value[:, 0] - gx * base[:, 0] - gy * base[:, 1])))
    return np.stack(rows, axis=1)


def _frontmost(corners: Floats, depth: Floats, size: tuple[int, int]) -> Ints:
    """Nearest triangle at each pixel (w * h,), or -1.

    Every triangle is cut into pixel rows, every row into pixels, all at once.
    """
    width, height = size
    triangle, row, left, right = _spans(corners, width, height)
    count = np.maximum(right - left + 1, 0)
    span = np.repeat(np.arange(len(count)), count)
    column = np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count) + left[span]
    line = depth[triangle]
    level = line[:, 1] * row + line[:, 2]
    z = line[:, 0][span] * column + level[span]
    # Depth above, triangle below, in one whole number: one comparison settles both.
    key = ((z + 1e5) * _DEPTH_STEPS).astype(np.int64) << 24 | triangle[span]
    buffer = np.full(width * height, -1, dtype=np.int64)
    np.maximum.at(buffer, row[span] * width + column, key)
    return np.where(buffer >= 0, buffer & 0xFFFFFF, -1)


def _spans(corners: Floats, width: int, height: int) -> tuple[Ints, Ints, Ints, Ints]:
    """Triangle, row, first and last column of every row of pixels in every triangle."""
    y = corners[:, :, 1]
    top = np.clip(np.ceil(y.min(axis=1)), 0, height).astype(np.int64)
    bottom = np.clip(np.floor(y.max(axis=1)), -1, height - 1).astype(np.int64)
    count = np.maximum(bottom - top + 1, 0)
    triangle = np.repeat(np.arange(len(count)), count)
    row = np.arange(len(triangle)) - np.repeat(np.cumsum(count) - count, count) + top[triangle]
    left = np.full(len(row), 0.0)
    right = np.full(len(row), width - 1.0)
    for k in range(3):
        start, end = corners[triangle, k], corners[triangle, (k + 1) % 3]
        rise = end[:, 1] - start[:, 1]
        level = np.abs(rise) < 1e-12
        safe = np.where(level, 1.0, rise)
        x = start[:, 0] + (row - start[:, 1]) / safe * (end[:, 0] - start[:, 0])
        # Corners run clockwise on the screen's y-down axes reversed: falling edges bound left.
        left = np.where(~level & (rise > 0.0), np.maximum(left, x), left)
        right = np.where(~level & (rise < 0.0), np.minimum(right, x), right)
    return triangle, row, np.ceil(left).astype(np.int64), np.floor(right).astype(np.int64)


def _painted(colours: Floats, light: Floats) -> Floats:
    """Lit colours; what is brighter than the colour itself fades to white."""
    dim = np.minimum(light, 1.0)[..., None]
    glint = np.clip((light - 0.86) * 1.5, 0.0, 0.45)[..., None]
    return np.asarray(np.clip(colours * dim * (1.0 - glint) + glint, 0.0, 1.0))


def _edges(
    depth: Floats, part: Ints, face: Ints, light: Floats
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Pixels on outlines, and on creases between faces of one part."""
    outline = np.zeros(depth.shape, dtype=np.bool_)
    crease = np.zeros(depth.shape, dtype=np.bool_)
    for axis in (0, 1):
        here = (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        there = (slice(1, None), slice(None)) if axis == 0 else (slice(None), slice(1, None))
        a, b = depth[here], depth[there]
        apart = (part[here] != part[there]) | (np.abs(a - b) > _STEP)
        outline[here] |= apart & (a >= b)
        outline[there] |= apart & (b > a)
        bent = (face[here] != face[there]) & (np.abs(light[here] - light[there]) > _CREASE)
        crease[here] |= bent & ~apart
    return outline, crease & ~outline
