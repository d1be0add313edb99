"""Obstacles as thin lines, as seen in one view."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from geomgen.design.model import Design
from geomgen.geometry.fields import Box, Cylinder, Field, HalfSpace, Placed
from geomgen.geometry.solid_field import Solid
from geomgen.report._shading import NOTHING, Floats, Raster, View

_FAR = 4000.0
_ROUND = 24
_SHARP = 0.9
_MOST_LINES = 4000


@dataclass(frozen=True)
class Wire:
    """One obstacle.

    Attributes:
        name: as in the spec.
        lines: (k, 2, 3) ends of straight lines [mm].
        anchors: (a, 3) points where its name may stand, best first [mm].
        hangs: whether it hangs on the manifold.
    """

    name: str
    lines: Floats
    anchors: Floats
    hangs: bool = False


def wires_of(design: Design, towards: Floats) -> list[Wire]:
    """Every obstacle that lines can show when seen from ``towards``.

    Only what the spec names is drawn: the router's list holds the flange too.
    """
    named = {name for name, _ in design.obstacles}
    found = []
    for obstacle in design.problem.obstacles:
        if obstacle.name not in named:
            continue
        wire = _wire(obstacle.name, obstacle.field, towards)
        if wire is not None:
            found.append(replace(wire, hangs=obstacle.name in design.hung))
    return found


def hung_points(design: Design) -> Floats:
    """Points (n, 3) that hold whatever hangs on the manifold [mm]."""
    found = [np.empty((0, 3))]
    for obstacle in design.problem.obstacles:
        if obstacle.name not in design.hung:
            continue
        for axis in np.eye(3):
            wire = _wire(obstacle.name, obstacle.field, axis)
            if wire is not None:
                found.append(wire.lines.reshape(-1, 3))
    return np.concatenate(found)


def _wire(name: str, field: Field, towards: Floats) -> Wire | None:
    match field:
        case Box():
            return _box(name, field)
        case Cylinder():
            return _cylinder(name, field, towards)
        case HalfSpace():
            return _plane(name, field, towards)
        case Solid():
            return _solid(name, field, towards)
        case Placed():
            axes = np.array([field.frame.x, field.frame.y, field.frame.z])
            own = _wire(name, field.field, axes @ towards)
            if own is None:
                return None
            start = np.array(field.frame.origin)
            return Wire(name, own.lines @ axes + start, own.anchors @ axes + start)
    return None


def _box(name: str, box: Box) -> Wire:
    ends = np.array([box.low, box.high])
    corners = {
        (i, j, k): np.array([ends[i, 0], ends[j, 1], ends[k, 2]])
        for i in (0, 1)
        for j in (0, 1)
        for k in (0, 1)
    }
    lines = [
        (a, b)
        for key, a in corners.items()
        for other, b in corners.items()
        if key < other and sum(p != q for p, q in zip(key, other, strict=True)) == 1
    ]
    front = [corners[k] for k in ((0, 0, 1), (1, 0, 1), (0, 1, 1), (1, 1, 1))]
    back = [corners[k] for k in ((0, 1, 0), (0, 0, 0), (1, 1, 0), (1, 0, 0))]
    return Wire(name, np.array(lines), np.array([*front, *back]))


def _cylinder(name: str, bar: Cylinder, towards: Floats) -> Wire:
    begin, end = np.array(bar.begin), np.array(bar.end)
    axis = (end - begin) / np.linalg.norm(end - begin)
    beside = np.cross(axis, towards)
    if np.linalg.norm(beside) < 1e-6:
        beside = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    beside = beside / np.linalg.norm(beside)
    across = np.cross(axis, beside)
    turn = np.linspace(0.0, 2.0 * np.pi, _ROUND + 1)[:, None]
    ring = bar.radius * (np.cos(turn) * beside + np.sin(turn) * across)
    side = bar.radius * beside
    lines = [(begin + side, end + side), (begin - side, end - side)]
    for centre in (begin, end):
        lines += list(zip(centre + ring[:-1], centre + ring[1:], strict=True))
    share = np.array([0.05, 0.95, 0.2, 0.8, 0.35, 0.65, 0.5])[:, None]
    return Wire(name, np.array(lines), begin + share * (end - begin))


def _plane(name: str, space: HalfSpace, towards: Floats) -> Wire | None:
    """The plane's edge, when it is seen edge-on."""
    normal, point = np.array(space.normal), np.array(space.point)
    if abs(float(normal @ towards)) > 0.02:
        return None
    along = np.cross(normal, towards)
    along = along / np.linalg.norm(along)
    anchors = point + np.arange(-1500.0, 1501.0, 25.0)[:, None] * along
    return Wire(name, np.array([(point - _FAR * along, point + _FAR * along)]), anchors)


def _solid(name: str, solid: Solid, towards: Floats) -> Wire:
    """Sharp edges, and where the skin turns out of sight."""
    axes = np.array([solid.place.x, solid.place.y, solid.place.z])
    lines = []
    for body in solid.bodies:
        ends, beside = body.skin.sides
        normals = (body.skin.normals @ axes)[beside]
        sharp = (normals[:, 0] * normals[:, 1]).sum(axis=1) < _SHARP
        facing = normals @ towards > 1e-9
        lines.append(body.skin.points[ends[sharp | (facing[:, 0] != facing[:, 1])]])
    found = np.concatenate(lines) @ axes + np.array(solid.place.origin)
    longest = np.argsort(-np.linalg.norm(found[:, 1] - found[:, 0], axis=1), kind="stable")
    found = found[np.sort(longest[:_MOST_LINES])]
    low, high = np.array(solid.low), np.array(solid.high)
    share = np.array([(0.5, 0.5), (0.2, 0.5), (0.8, 0.5), (0.5, 0.2), (0.5, 0.8)])
    front = np.column_stack([low[:2] + share * (high - low)[:2], np.full(len(share), high[2])])
    return Wire(name, found, front)


def draw(raster: Raster, view: View, wires: list[Wire], grey: int, width: int) -> None:
    """Draw lines into a raster's colours where no part is in front of them."""
    high, wide = raster.depth.shape
    for wire in wires:
        for line in wire.lines:
            ends = view.seen(line)
            count = int(np.abs(ends[1, :2] - ends[0, :2]).max()) + 2
            share = np.linspace(0.0, 1.0, count)[:, None]
            dots = ends[0] + share * (ends[1] - ends[0])
            for dx in range(width):
                for dy in range(width):
                    x = np.rint(dots[:, 0]).astype(np.int64) + dx
                    y = np.rint(dots[:, 1]).astype(np.int64) + dy
                    on = (x >= 0) & (x < wide) & (y >= 0) & (y < high)
                    x, y, depth = x[on], y[on], dots[on, 2]
                    seen = depth > np.maximum(raster.depth[y, x], NOTHING)
                    raster.colour[y[seen], x[seen]] = grey
