"""Where an edge runs on its face, found again more finely than a STEP reader finds it.

A file holds curves in space and surfaces; the reader works out each curve's trace on its
surfaces through some two dozen points. Of an ellipse on a cylinder that leaves the trace, and
with it every volume, off by some 1e-4 mm, though the geometry in the file is exact.
"""

from __future__ import annotations

import math

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.GeomProjLib import GeomProjLib
from OCP.gp import gp_Vec2d
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape

from geomgen.solids.measure import Kind, explore, faces_of, surface_kind

_FINE = 1e-9
"""How near a trace is to its curve [mm]."""

_TOLERANCE = 1e-7

_COPES = (GeomAbs_CurveType.GeomAbs_Ellipse, GeomAbs_CurveType.GeomAbs_BSplineCurve)


def retraced(shape: TopoDS_Shape) -> TopoDS_Shape:
    """A copy of a shape whose copes, edges across cylinders, are traced on them finely."""
    copy = BRepBuilderAPI_Copy(shape).Shape()
    for face in faces_of(copy):
        if surface_kind(face) == "cylinder":
            for edge in explore(face, Kind.TopAbs_EDGE):
                _retrace(TopoDS.Edge_s(edge), face)
    return copy


def _retrace(edge: TopoDS_Edge, face: TopoDS_Face) -> None:
    if BRepAdaptor_Curve(edge).GetType() not in _COPES:
        return
    begin, end = BRep_Tool.Range_s(edge)
    curve = BRep_Tool.Curve_s(edge, begin, end)
    old = BRep_Tool.CurveOnSurface_s(edge, face, begin, end)
    new = GeomProjLib.Curve2d_s(curve, begin, end, BRep_Tool.Surface_s(face), _FINE)
    if old is None or new is None:
        return
    # Round a cylinder a trace may lie a whole turn away.
    middle = 0.5 * (begin + end)
    turns = round((old.Value(middle).X() - new.Value(middle).X()) / math.tau)
    if turns:
        new.Translate(gp_Vec2d(math.tau * turns, 0.0))
    BRep_Builder().UpdateEdge(edge, new, face, _TOLERANCE)
