"""The same clearances by the CAD kernel: exact lines, arcs and solids, no samples.

``BRepExtrema_DistShapeShape`` between centrelines, less the radii. A path's distance to
itself is not asked of the kernel: which pairs of points count depends on the way between.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Vec
from OCP.TopoDS import TopoDS_Compound, TopoDS_Shape
from problem_set.problems import Problem, centrelines

from geomgen.geometry.centreline import Bend, Centreline, advance

_FAR = 5000.0


def _together(shapes: list[TopoDS_Shape]) -> TopoDS_Shape:
    out, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(out)
    for shape in shapes:
        builder.Add(out, shape)
    return out


def _line(a: Any, b: Any) -> TopoDS_Shape:
    return BRepBuilderAPI_MakeEdge(gp_Pnt(*map(float, a)), gp_Pnt(*map(float, b))).Edge()


def edges(path: Centreline) -> list[TopoDS_Shape]:
    """One edge a piece."""
    out = []
    frames = path.frames
    for here, there, piece in zip(frames, frames[1:], path.pieces, strict=False):
        if isinstance(piece, Bend):
            middle = advance(here, Bend(piece.radius, 0.5 * piece.angle, piece.roll)).origin
            points = (gp_Pnt(*here.origin), gp_Pnt(*middle), gp_Pnt(*there.origin))
            out.append(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(*points).Value()).Edge())
        elif piece.length > 1e-6:
            out.append(_line(here.origin, there.origin))
    return out


def solid(obstacle: dict[str, Any]) -> TopoDS_Shape:
    """An obstacle; a half-space as a slab much larger than any layout."""
    if obstacle["kind"] == "box":
        return BRepPrimAPI_MakeBox(gp_Pnt(*obstacle["low"]), gp_Pnt(*obstacle["high"])).Solid()
    if obstacle["kind"] == "half_space":
        down = gp_Dir(*(-v for v in obstacle["normal"]))
        axes = gp_Ax2(gp_Pnt(*obstacle["point"]), down)
        x, y = gp_Vec(axes.XDirection()), gp_Vec(axes.YDirection())
        axes.Translate((x + y).Multiplied(-_FAR))
        return BRepPrimAPI_MakeBox(axes, 2.0 * _FAR, 2.0 * _FAR, 100.0).Solid()
    a, b = np.array(obstacle["begin"]), np.array(obstacle["end"])
    axes = gp_Ax2(gp_Pnt(*map(float, a)), gp_Dir(*map(float, b - a)))
    size = float(np.linalg.norm(b - a))
    return BRepPrimAPI_MakeCylinder(axes, obstacle["radius"], size).Solid()


def apart(a: TopoDS_Shape, b: TopoDS_Shape) -> float:
    """Least distance [mm]."""
    measured = BRepExtrema_DistShapeShape(a, b)
    assert measured.IsDone()
    return float(measured.Value())


def box_of(shape: TopoDS_Shape) -> Bnd_Box:
    """A box that holds a shape."""
    box = Bnd_Box()
    BRepBndLib.Add_s(shape, box)
    return box


def least_margins(
    problem: Problem, answer: dict[str, Any], within: float = math.inf
) -> list[tuple[str, str, float]]:
    """Who, to what, and what is left beyond the need [mm]; everything but a path to itself.

    Pairs that are certainly left more than ``within``, by their boxes, are left out.
    """
    r, gap = problem["tube_radius"], problem["gap"]
    tubes, names = problem["tubes"], [t["name"] for t in problem["tubes"]]
    own, before, whole = [], [], []
    for path, slot in zip(centrelines(problem, answer), answer["slots"], strict=True):
        parts = edges(path)
        pose = problem["slots"][slot]
        at, z = np.array(pose["origin"]), np.array(pose["z"])
        own.append(_together(parts))
        before.append(_together(parts[:-1]))
        whole.append(_together([*parts, _line(at, at + pose["stub"] * z)]))
    out: list[tuple[str, str, float]] = []

    def measure(name: str, other: str, a: TopoDS_Shape, b: TopoDS_Shape, need: float) -> None:
        if box_of(a).Distance(box_of(b)) - need <= within:
            out.append((name, other, apart(a, b) - need))

    for i, name in enumerate(names):
        for j, other in enumerate(tubes):
            if i == j:
                continue
            measure(name, names[j], before[i], whole[j], 2.0 * r + gap)
            at, z, bar = np.array(other["origin"]), np.array(other["z"]), other["transition"]
            axis = _line(at - bar["length"] * z, at)
            measure(name, f"transition of {names[j]}", whole[i], axis, r + bar["radius"] + gap)
        for body in problem["bodies"]:
            axis = _line(body["begin"], body["end"])
            measure(name, body["name"], before[i], axis, r + body["radius"] + gap)
        for obstacle in problem["obstacles"]:
            measure(name, obstacle["name"], own[i], solid(obstacle), r + obstacle["gap"])
    return out
