"""A picture of the whole manifold from four sides, to look at before anybody opens CAD.

Three-quarter view, and front, side and top as third-angle projections at one scale: what
is above the front view is seen from above, what is beside it from that side. The front is the tube
side, wherever the heads stand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geomgen.design.model import Design
from geomgen.recipe.nodes import parts_of
from geomgen.report._hues import colours
from geomgen.report._shading import Floats, Scene, View
from geomgen.report._stance import Stance, stance_of
from geomgen.report._wires import hung_points

NAME = "assembly-picture"

FILE = "assembly.png"
SIZE = (1800, 900)
"""Of the sheet [pixels]."""

FINE = 2
"""Pixels are worked out so many times finer than they are written."""

_DEFLECTION, _TURN = 0.8, 0.5
_ROOM = 42.0
_TITLE = 30.0
"""Height of a view's title [pixels]."""

_HEAD, _EDGE, _SPLIT = 84, 16, 870

_FRONT = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
_SIDE = ((0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
_ABOVE = ((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
_TOWARDS = (0.50, 0.42, 0.76)


@dataclass(frozen=True)
class Cell:
    """One view on the sheet.

    Attributes:
        title: what it shows.
        at: its corner at the top left of the sheet [pixels].
        view: in fine pixels.
    """

    title: str
    at: tuple[int, int]
    view: View


def pictures(design: Design) -> dict[str, bytes]:
    """The sheet as PNG, by file name."""
    from geomgen.report._sheet import sheet

    scene = scene_of(design)
    low, high = scene.points.min(axis=0), scene.points.max(axis=0)
    stance = stance_of(design)
    cells, legend = layout(np.concatenate([scene.points, hung_points(design)]), stance)
    said = (legend, stance.note)
    return {FILE: sheet(design, scene, cells, said, SIZE, FINE, high - low)}


def scene_of(design: Design) -> Scene:
    """Triangles of every part of the assembly, in the tree's order."""
    from geomgen.solids.build import build
    from geomgen.solids.mesh import mesh

    parts, shown = parts_of(design.assembly), colours(design)
    meshes = [mesh(build(part.node), _DEFLECTION, _TURN) for part in parts]
    points = np.cumsum([0, *(len(m.points) for m in meshes)])
    faces = np.cumsum([0, *(int(m.faces.max()) + 1 for m in meshes)])
    return Scene(
        np.concatenate([m.points for m in meshes]),
        np.concatenate([m.normals for m in meshes]),
        np.concatenate([m.triangles + n for m, n in zip(meshes, points[:-1], strict=True)]),
        np.repeat(np.arange(len(meshes)), [len(m.triangles) for m in meshes]),
        np.concatenate([m.faces + n for m, n in zip(meshes, faces[:-1], strict=True)]),
        np.array([shown[part.name] for part in parts]),
    )


def layout(points: Floats, stance: Stance) -> tuple[tuple[Cell, ...], tuple[int, int, int, int]]:
    """Views that hold all points (n, 3), and the box that is left for the legend.

    The box is left, top, right and bottom on the sheet.
    """
    width, height = SIZE
    front, above, side, quarter_on = (
        np.array(axes) @ stance.axes for axes in (_FRONT, _ABOVE, _SIDE, _quarter())
    )
    local = points @ stance.axes.T
    size = local.max(axis=0) - local.min(axis=0)
    left, top = _SPLIT + _EDGE, _HEAD
    wide, high = width - _EDGE - left, height - _EDGE - top
    x, y, z = size + 2.0 * _ROOM
    scale = min(wide / (x + z), high / (y + z))
    # Titles stand in the views' corners: what is drawn begins below them.
    x, y, z = size + 2.0 * max(_ROOM, _TITLE / scale)
    scale = min(wide / (x + z), high / (y + z))
    across, up, deep = (int(scale * side) for side in (x, y, z))
    below = top + deep
    quarter = (_SPLIT - _EDGE, height - _EDGE - top)
    cells = (
        Cell("three-quarter view", (_EDGE, top), _view(quarter_on, points, quarter, None)),
        Cell("from above", (left, top), _view(above, points, (across, deep), scale)),
        Cell(stance.front, (left, below), _view(front, points, (across, up), scale)),
        Cell(stance.side, (left + across, below), _view(side, points, (deep, up), scale)),
    )
    return cells, (left + across, top, width - _EDGE, below)


def _quarter() -> Floats:
    towards = np.array(_TOWARDS) / np.linalg.norm(_TOWARDS)
    right = np.cross((0.0, 1.0, 0.0), towards)
    right = right / np.linalg.norm(right)
    return np.array([right, np.cross(towards, right), towards])


def _view(axes: Floats, points: Floats, size: tuple[int, int], scale: float | None) -> View:
    """A view of the points in the middle of a cell; None scales it to fit [pixels a mm]."""
    local = points @ axes.T
    low, high = local.min(axis=0), local.max(axis=0)
    if scale is None:
        scale = min(size[k] / (high[k] - low[k] + 2.0 * _ROOM) for k in (0, 1))
    middle = 0.5 * (low + high)
    fine = scale * FINE
    origin = (0.5 * size[0] * FINE - fine * middle[0], 0.5 * size[1] * FINE + fine * middle[1])
    return View(axes, fine, origin, (size[0] * FINE, size[1] * FINE))
