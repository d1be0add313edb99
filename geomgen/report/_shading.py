"""Triangles to shaded pixels: a parallel view, a depth buffer, soft light, dark outlines.

Plain numpy on plain numbers; the same pixels for the same triangles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Shorts = NDArray[np.int32]

NOTHING = -1e6
"""Depth where no part is seen."""

_LIGHT = (-0.42, 0.62, 0.66)
_FILL = (0.80, -0.10, 0.59)
_STEP = 6.0
_CREASE = 0.10
_BEHIND, _DEPTH_STEPS = 1e4, 2.0**8
"""Depths from -1e4 mm on are told apart to 1/256 mm."""


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
        colour: (h, w, 3) sRGB, 0 to 255, white where nothing is.
        depth: (h, w) [mm], ``NOTHING`` where nothing is.
        part: (h, w) part, -1 where nothing is.
    """

    colour: NDArray[np.uint8]
    depth: Singles
    part: Shorts


def rendered(scene: Scene, view: View) -> Raster:
    """The scene as seen in a view."""
    width, height = view.size
    seen = view.seen(scene.points)
    corners = seen[scene.triangles]
    facing = _twice_area(corners) < -1e-9
    corners, kept = corners[facing], np.flatnonzero(facing)
    planes = _planes(corners, _light(scene, view)[scene.triangles[kept]])
    front = _frontmost(corners, planes[0], view.size)
    # From here on only pixels that show something are worked on: most of a sheet is white.
    at = np.flatnonzero(front >= 0).astype(np.int32)
    triangle = front[at]
    y = at // width
    x = at - width * y
    near, light = (p[triangle, 0] * x + p[triangle, 1] * y + p[triangle, 2] for p in planes)
    depth = np.full(width * height, NOTHING, dtype=np.float32)
    part = np.full(width * height, -1, dtype=np.int32)
    depth[at], part[at] = near, scene.parts[kept[triangle]]
    outline, crease = _edges(at, width, depth, part, scene.faces[kept[triangle]], light)
    shade = _painted(scene.colours[part[at]], light)
    shade[crease] *= 0.72
    shade[outline] = 0.30 * scene.colours[part[at[outline]]]
    colour = np.full((width * height, 3), 255, dtype=np.uint8)
    colour[at] = np.rint(255.0 * shade).astype(np.uint8)
    return Raster(
        colour.reshape(height, width, 3), depth.reshape(height, width), part.reshape(height, width)
    )


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


def _planes(corners: Floats, light: Floats) -> list[Singles]:
    """Depth and light as affine functions of the pixel, each (m, 3): x, y and constant."""
    base = corners[:, 0]
    a, b = corners[:, 1] - base, corners[:, 2] - base
    det = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    rows = []
    for value in (corners[:, :, 2], light):
        u, v = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
        gx = (u * b[:, 1] - v * a[:, 1]) / det
        gy = (v * a[:, 0] - u * b[:, 0]) / det
        plane = (gx, gy, value[:, 0] - gx * base[:, 0] - gy * base[:, 1])
        rows.append(np.column_stack(plane).astype(np.float32))
    return rows


def _frontmost(corners: Floats, depth: Singles, size: tuple[int, int]) -> Shorts:
    """Nearest triangle at each pixel (w * h,), or -1.

    Every triangle is cut into pixel rows, every row into pixels, all at once.
    """
    width, height = size
    triangle, row, left, right = _spans(corners, width, height)
    count = np.maximum(right - left + 1, 0)
    column = np.arange(count.sum(), dtype=np.int32)
    column -= np.repeat(np.cumsum(count, dtype=np.int32) - count - left, count)
    line = depth[triangle]
    z = np.repeat(line[:, 0], count) * column
    z += np.repeat(line[:, 1] * row + line[:, 2], count)
    # Depth above, triangle below, in one whole number: one comparison settles both.
    key = ((z + np.float32(_BEHIND)) * np.float32(_DEPTH_STEPS)).astype(np.int64) << 24
    key |= np.repeat(triangle, count)
    column += np.repeat(row * np.int32(width), count)
    buffer = np.full(width * height, -1, dtype=np.int64)
    np.maximum.at(buffer, column, key)
    return np.where(buffer >= 0, buffer & 0xFFFFFF, -1).astype(np.int32)


def _spans(corners: Floats, width: int, height: int) -> tuple[Shorts, Shorts, Shorts, Shorts]:
    """Triangle, row, first and last column of every row of pixels in every triangle."""
    y = corners[:, :, 1]
    top = np.clip(np.ceil(y.min(axis=1)), 0, height).astype(np.int32)
    bottom = np.clip(np.floor(y.max(axis=1)), -1, height - 1).astype(np.int32)
    count = np.maximum(bottom - top + 1, 0)
    triangle = np.repeat(np.arange(len(count), dtype=np.int32), count)
    row = np.arange(len(triangle), dtype=np.int32)
    row -= np.repeat(np.cumsum(count, dtype=np.int32) - count - top, count)
    left = np.zeros(len(row))
    right = np.full(len(row), width - 1.0)
    for k in range(3):
        start, end = corners[:, k], corners[:, (k + 1) % 3]
        rise = end[:, 1] - start[:, 1]
        lean = (end[:, 0] - start[:, 0]) / np.where(np.abs(rise) < 1e-12, 1.0, rise)
        x = lean[triangle] * row + (start[:, 0] - lean * start[:, 1])[triangle]
        # What faces the viewer runs against the clock: edges that go down bound it on the left.
        np.maximum(left, x, out=left, where=(rise >= 1e-12)[triangle])
        np.minimum(right, x, out=right, where=(rise <= -1e-12)[triangle])
    return triangle, row, np.ceil(left).astype(np.int32), np.floor(right).astype(np.int32)


def _painted(colours: Floats, light: Singles) -> Floats:
    """Lit colours; what is brighter than the colour itself fades to white."""
    dim = np.minimum(light, 1.0)[..., None]
    glint = np.clip((light - 0.86) * 1.5, 0.0, 0.45)[..., None]
    return np.asarray(np.clip(colours * dim * (1.0 - glint) + glint, 0.0, 1.0))


def _edges(
    at: Shorts, width: int, depth: Singles, part: Shorts, face: Ints, light: Singles
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which of the pixels ``at`` lie on outlines, and on creases inside a part."""
    outline = np.zeros(len(at), dtype=np.bool_)
    crease = np.zeros(len(at), dtype=np.bool_)
    faces = np.full(len(depth), -1, dtype=np.int32)
    lights = np.zeros(len(depth), dtype=np.float32)
    faces[at], lights[at] = face, light
    mine, own = depth[at], part[at]
    for step in (1, width, -1, -width):
        beside = np.clip(at + step, 0, len(depth) - 1)
        drop = mine - depth[beside]
        other = own != part[beside]
        outline |= (other | (drop > _STEP)) & (drop >= 0.0)
        if step > 0:
            crease |= (face != faces[beside]) & (np.abs(light - lights[beside]) > _CREASE) & ~other
    return outline, crease & ~outline
