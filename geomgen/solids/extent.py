"""How far a solid reaches either side of a plane, in closed form.

Height over a plane is linear along the straight lines of a plane, cylinder, cone or
ruled face, so its extremes lie on such a face's edges; a torus has them also where its
normal is the plane's. Edges are lines, circles and ellipses. Anything else is bounded by
its poles: never too small, perhaps too large.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.gp import gp_Ax2, gp_Ax3, gp_Pnt
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape
from OCP.TopTools import TopTools_IndexedMapOfShape

from geomgen.geometry.frames import Plane, Vec, add, dot, norm, scale, sub
from geomgen.solids.errors import SolidError
from geomgen.solids.measure import faces_of, surface_kind

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Oval:
    """``centre + a cos t + b sin t`` for t from ``first`` to ``last``."""

    centre: Vec
    a: Vec
    b: Vec
    first: float
    last: float


@dataclass(frozen=True)
class _Ring:
    """Piece of a torus, over angles ``first`` to ``last`` about its axis."""

    centre: Vec
    x: Vec
    y: Vec
    z: Vec
    major: float
    minor: float
    first: float
    last: float


@dataclass(frozen=True)
class Extent:
    """Points, ovals and rings among which a solid's extreme heights are.

    Attributes:
        points: (n, 3) [mm].
        centres, a, b: (m, 3) of ovals [mm].
        spans: (m, 2) first and last angle of each oval [rad].
        rings: pieces of tori.
    """

    points: Floats
    centres: Floats
    a: Floats
    b: Floats
    spans: Floats
    rings: tuple[_Ring, ...]

    def heights(self, plane: Plane) -> tuple[float, float]:
        """Least and greatest height over a plane [mm]."""
        normal = np.array(plane.normal)
        level = float(normal @ plane.point)
        found = [self.points @ normal - level, *self._oval_heights(normal, level)]
        rings = [height for ring in self.rings for height in _ring_heights(ring, plane)]
        all_heights = np.concatenate([*found, np.array(rings)])
        return float(all_heights.min()), float(all_heights.max())

    def _oval_heights(self, normal: Floats, level: float) -> tuple[Floats, ...]:
        """Heights at both ends of each oval, and at its top and bottom if it has them."""
        middle = self.centres @ normal - level
        p, q = self.a @ normal, self.b @ normal
        first, last = self.spans[:, 0], self.spans[:, 1]
        ends = [middle + p * np.cos(t) + q * np.sin(t) for t in (first, last)]
        peak, swing = np.arctan2(q, p), np.hypot(p, q)
        top = np.mod(peak - first, math.tau) <= last - first
        bottom = np.mod(peak + math.pi - first, math.tau) <= last - first
        return (*ends, (middle + swing)[top], (middle - swing)[bottom])


def extent_of(shape: TopoDS_Shape) -> Extent:
    """What is needed to say how far a shape reaches.

    Raises:
        SolidError: a curve or surface of a kind that no tube work has.
    """
    points: list[Vec] = []
    ovals: list[_Oval] = []
    rings: list[_Ring] = []
    edges = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_EDGE, edges)
    for k in range(1, edges.Extent() + 1):
        edge = TopoDS.Edge_s(edges.FindKey(k))
        if not BRep_Tool.Degenerated_s(edge):
            _add_edge(edge, points, ovals)
    for face in faces_of(shape):
        _add_face(face, points, rings)
    return Extent(
        np.array(points).reshape(-1, 3),
        np.array([oval.centre for oval in ovals]).reshape(-1, 3),
        np.array([oval.a for oval in ovals]).reshape(-1, 3),
        np.array([oval.b for oval in ovals]).reshape(-1, 3),
        np.array([(oval.first, oval.last) for oval in ovals]).reshape(-1, 2),
        tuple(rings),
    )


def _vec(p: gp_Pnt) -> Vec:
    return (p.X(), p.Y(), p.Z())


def _axes(system: gp_Ax2 | gp_Ax3) -> tuple[Vec, Vec, Vec, Vec]:
    o, x, y, z = (
        system.Location(),
        system.XDirection(),
        system.YDirection(),
        system.Direction(),
    )
    return _vec(o), (x.X(), x.Y(), x.Z()), (y.X(), y.Y(), y.Z()), (z.X(), z.Y(), z.Z())


def _add_edge(edge: TopoDS_Edge, points: list[Vec], ovals: list[_Oval]) -> None:
    curve = BRepAdaptor_Curve(edge)
    kind, first, last = curve.GetType(), curve.FirstParameter(), curve.LastParameter()
    if kind == GeomAbs_CurveType.GeomAbs_Line:
        points += (_vec(curve.Value(first)), _vec(curve.Value(last)))
    elif kind == GeomAbs_CurveType.GeomAbs_Circle:
        circle = curve.Circle()
        o, x, y, _ = _axes(circle.Position())
        r = circle.Radius()
        ovals.append(_Oval(o, scale(x, r), scale(y, r), first, last))
    elif kind == GeomAbs_CurveType.GeomAbs_Ellipse:
        ellipse = curve.Ellipse()
        o, x, y, _ = _axes(ellipse.Position())
        a, b = ellipse.MajorRadius(), ellipse.MinorRadius()
        ovals.append(_Oval(o, scale(x, a), scale(y, b), first, last))
    elif kind == GeomAbs_CurveType.GeomAbs_BSplineCurve:
        spline = curve.BSpline()
        points += (_vec(spline.Pole(k)) for k in range(1, spline.NbPoles() + 1))
    else:
        raise SolidError(f"no extent is known for a curve of kind {kind}")


def _add_face(face: TopoDS_Face, points: list[Vec], rings: list[_Ring]) -> None:
    kind = surface_kind(face)
    surface = BRepAdaptor_Surface(face)
    if kind in ("plane", "cylinder", "cone"):
        return
    if kind == "torus":
        torus = surface.Torus()
        o, x, y, z = _axes(torus.Position())
        first, last = surface.FirstUParameter(), surface.LastUParameter()
        rings.append(_Ring(o, x, y, z, torus.MajorRadius(), torus.MinorRadius(), first, last))
    elif kind == "bspline":
        spline = surface.BSpline()
        if 1 not in (spline.UDegree(), spline.VDegree()):
            for i in range(1, spline.NbUPoles() + 1):
                points += (_vec(spline.Pole(i, j)) for j in range(1, spline.NbVPoles() + 1))
    else:
        raise SolidError(f"no extent is known for a face of kind {kind}")


def _within(angle: float, first: float, last: float) -> bool:
    return math.fmod(math.fmod(angle - first, math.tau) + math.tau, math.tau) <= last - first


def _ring_heights(ring: _Ring, plane: Plane) -> list[float]:
    """Heights where a torus' normal is the plane's: on two circles of its tube, each twice."""
    n = plane.normal
    level = sub(n, scale(ring.z, dot(n, ring.z)))
    if norm(level) < 1e-12:
        top = plane.height(ring.centre)
        return [top + ring.minor, top - ring.minor]
    u = math.atan2(dot(level, ring.y), dot(level, ring.x))
    found = []
    for angle in (u, u + math.pi):
        if _within(angle, ring.first, ring.last):
            out = add(scale(ring.x, math.cos(angle)), scale(ring.y, math.sin(angle)))
            centre = plane.height(add(ring.centre, scale(out, ring.major)))
            found += [centre + ring.minor, centre - ring.minor]
    return found
