"""One face of straight lines between a piece of one section and its fellow in the next.

It is a plane, cylinder or cone where that is exact. Otherwise it is a ruled B-spline
face on the exact boundary curves: both are written as splines of nearly constant speed
in the eccentric angle (2e-7 rad off at a quarter turn, 3e-5 rad at a half turn), so the
lines join points of equal parameter.
"""

from __future__ import annotations

import math

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepLib import BRepLib
from OCP.Convert import Convert_ParameterisationType
from OCP.Geom import (
    Geom_BSplineCurve,
    Geom_BSplineSurface,
    Geom_ConicalSurface,
    Geom_CylindricalSurface,
    Geom_Plane,
    Geom_Surface,
    Geom_TrimmedCurve,
)
from OCP.Geom2d import Geom2d_Line
from OCP.GeomConvert import GeomConvert
from OCP.GeomFill import GeomFill
from OCP.gp import gp_Ax3, gp_Dir2d, gp_Pnt2d
from OCP.ShapeFix import ShapeFix_Edge
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Vertex, TopoDS_Wire

from geomgen.geometry.frames import Frame, Vec, cross, dot, norm, scale, sub, unit
from geomgen.profiles.loops import Arc, Line
from geomgen.recipe.nodes import Section
from geomgen.solids._curves import (
    SAME_POINT,
    Piece,
    curve_of,
    direction,
    is_corner,
    lifted,
    point,
)
from geomgen.solids.errors import SolidError

FLAT = 1e-9
"""Distance out of plane, or angle out of line, below which an exact form is taken."""

_FORWARD = TopAbs_Orientation.TopAbs_FORWARD
_REVERSED = TopAbs_Orientation.TopAbs_REVERSED

Border = tuple[TopoDS_Edge | None, TopoDS_Edge | None, TopoDS_Edge | None, TopoDS_Edge | None]


def ruling(start: TopoDS_Vertex, end: TopoDS_Vertex) -> TopoDS_Edge | None:
    """Straight edge between two corners; None where they are one point."""
    if BRep_Tool.Pnt_s(start).Distance(BRep_Tool.Pnt_s(end)) < SAME_POINT:
        return None
    return BRepBuilderAPI_MakeEdge(start, end).Edge()


def ruled_face(near: Section, far: Section, i: int, border: Border) -> TopoDS_Face:
    """Face between pieces ``i`` of two sections, on the given edges.

    Args:
        near: first section.
        far: next section.
        i: index of the piece.
        border: edge in ``near``, ruling at the piece's end, edge in ``far``, ruling at
            its start; None where one has shrunk to a point.
    """
    surface, with_hand = _surface(near, far, i)
    face = TopoDS_Face()
    builder = BRep_Builder()
    builder.MakeFace(face, surface, SAME_POINT)
    wire = TopoDS_Wire()
    builder.MakeWire(wire)
    ways = (_FORWARD, _FORWARD, _REVERSED, _REVERSED)
    for edge, way in zip(_bordered(face, surface, border), ways, strict=True):
        if edge is not None:
            builder.Add(wire, edge.Oriented(way))
    wire.Closed(True)
    builder.Add(face, wire if with_hand else wire.Reversed())
    if not isinstance(surface, Geom_Plane):
        fixer = ShapeFix_Edge()
        for edge in border:
            if edge is not None:
                fixer.FixAddPCurve(edge, face, False, SAME_POINT)
        BRepLib.SameParameter_s(face, SAME_POINT, True)
    return face


def _bordered(face: TopoDS_Face, surface: Geom_Surface, border: Border) -> Border:
    """The border with an edge of no length where a spline face runs to a point."""
    near, end, far, start = border
    if not isinstance(surface, Geom_BSplineSurface) or end is None or start is None:
        return border
    if near is None:
        near = _point_edge(face, surface, 0.0, TopExp.FirstVertex_s(end))
    if far is None:
        far = _point_edge(face, surface, 1.0, TopExp.LastVertex_s(end))
    return near, end, far, start


def _point_edge(
    face: TopoDS_Face, surface: Geom_BSplineSurface, v: float, at: TopoDS_Vertex
) -> TopoDS_Edge:
    """Edge of no length along the side ``v`` of a spline face that ends in a point."""
    u0, u1, v0, v1 = surface.Bounds()
    line = Geom2d_Line(gp_Pnt2d(0.0, v0 + v * (v1 - v0)), gp_Dir2d(1.0, 0.0))
    edge = TopoDS_Edge()
    builder = BRep_Builder()
    builder.MakeEdge(edge)
    builder.UpdateEdge(edge, line, face, SAME_POINT)
    builder.Range(edge, u0, u1)
    builder.Degenerated(edge, True)
    builder.Add(edge, at.Oriented(_FORWARD))
    builder.Add(edge, at.Oriented(_REVERSED))
    return edge


def _surface(near: Section, far: Section, i: int) -> tuple[Geom_Surface, bool]:
    """The surface, and whether (edge, ruling) run with its parameters' hand."""
    a, b = near.loop[i], far.loop[i]
    if isinstance(a, Line) and isinstance(b, Line):
        flat = _plane(near.frame, a, far.frame, b)
        if flat is not None:
            return flat, True
    if isinstance(a, Arc) and isinstance(b, Arc):
        round_one = _turned(near.frame, a, far.frame, b)
        if round_one is not None:
            return round_one
    first, last = _spline(near.frame, a), _spline(far.frame, b)
    if first is None and last is not None:
        first = _shrunk(last, lifted(near.frame, a.start))
    elif last is None and first is not None:
        last = _shrunk(first, lifted(far.frame, b.start))
    return GeomFill.Surface_s(first, last), True


def _plane(frame_a: Frame, a: Line, frame_b: Frame, b: Line) -> Geom_Plane | None:
    """Plane through two lines, one of them perhaps a corner; normal along edge x ruling."""
    p, q = lifted(frame_a, a.start), lifted(frame_a, a.end)
    r, s = lifted(frame_b, b.end), lifted(frame_b, b.start)
    normal = cross(sub(r, p), sub(s, q))
    if norm(normal) < SAME_POINT**2:
        raise SolidError("a ruled face of no area")
    normal = unit(normal)
    if max(abs(dot(sub(corner, p), normal)) for corner in (q, r, s)) > FLAT:
        return None
    return Geom_Plane(point(p), direction(normal))


def _turned(frame_a: Frame, a: Arc, frame_b: Frame, b: Arc) -> tuple[Geom_Surface, bool] | None:
    """Cylinder or cone through two arcs of one axis, angle for angle; else None."""
    centre, other = lifted(frame_a, a.centre), lifted(frame_b, b.centre)
    along = sub(other, centre)
    rise = dot(along, frame_a.z)
    facing = dot(frame_a.z, frame_b.z)
    if facing <= 0.0 or abs(rise) < SAME_POINT or abs(a.sweep - b.sweep) > FLAT:
        return None
    towards, fellow = _radial(frame_a, a), _radial(frame_b, b)
    if (
        norm(sub(along, scale(frame_a.z, rise))) > FLAT
        or norm(cross(frame_a.z, frame_b.z)) > FLAT
        or norm(sub(towards, fellow)) > FLAT
    ):
        return None
    hand = 1.0 if a.sweep > 0.0 else -1.0
    # The seam is put opposite the arc, so that no edge lies on it.
    middle = a.begin + 0.5 * a.sweep
    away = frame_a.vector((-math.cos(middle), -math.sin(middle), 0.0))
    system = gp_Ax3(point(centre), direction(scale(frame_a.z, hand)), direction(away))
    growth = b.radius - a.radius
    with_hand = rise * hand > 0.0
    if abs(growth) < FLAT:
        return Geom_CylindricalSurface(system, a.radius), with_hand
    half_angle = math.atan2(growth, rise * hand)
    if abs(half_angle) > math.pi / 2.0:
        half_angle = math.atan(growth / (rise * hand))
    return Geom_ConicalSurface(system, half_angle, a.radius), with_hand


def _radial(frame: Frame, arc: Arc) -> Vec:
    return frame.vector((math.cos(arc.begin), math.sin(arc.begin), 0.0))


def _spline(frame: Frame, piece: Piece) -> Geom_BSplineCurve | None:
    if is_corner(piece):
        return None
    trimmed = Geom_TrimmedCurve(*curve_of(frame, piece))
    return GeomConvert.CurveToBSplineCurve_s(
        trimmed, Convert_ParameterisationType.Convert_QuasiAngular
    )


def _shrunk(curve: Geom_BSplineCurve, to: Vec) -> Geom_BSplineCurve:
    """A spline of the same parameters that is one point, the apex of a cone."""
    twin = curve.Copy()
    for index in range(1, twin.NbPoles() + 1):
        twin.SetPole(index, point(to))
    return twin
