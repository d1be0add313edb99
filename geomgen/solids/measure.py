"""What a kernel shape is: volume, area, box, validity, surfaces, solids."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape

from geomgen.geometry.frames import Vec

Kind = TopAbs_ShapeEnum

_SURFACES = {
    GeomAbs_SurfaceType.GeomAbs_Plane: "plane",
    GeomAbs_SurfaceType.GeomAbs_Cylinder: "cylinder",
    GeomAbs_SurfaceType.GeomAbs_Cone: "cone",
    GeomAbs_SurfaceType.GeomAbs_Sphere: "sphere",
    GeomAbs_SurfaceType.GeomAbs_Torus: "torus",
    GeomAbs_SurfaceType.GeomAbs_BSplineSurface: "bspline",
    GeomAbs_SurfaceType.GeomAbs_BezierSurface: "bezier",
    GeomAbs_SurfaceType.GeomAbs_SurfaceOfRevolution: "revolution",
    GeomAbs_SurfaceType.GeomAbs_SurfaceOfExtrusion: "extrusion",
}


@dataclass(frozen=True)
class Box:
    """Bounds along the axes [mm]."""

    low: Vec
    high: Vec

    @property
    def size(self) -> Vec:
        """Extents [mm]."""
        a, b = self.low, self.high
        return (b[0] - a[0], b[1] - a[1], b[2] - a[2])


@dataclass(frozen=True)
class Measure:
    """Volume [mm3] and its centre [mm]."""

    volume: float
    centre: Vec


FINE = 1e-7
"""Relative error to which free-form shapes are integrated."""


def _volume_properties(shape: TopoDS_Shape) -> GProp_GProps:
    props = GProp_GProps()
    if "bspline" in surface_kinds(shape) or _has_free_edges(shape):
        # Adaptive: both faster and nearer the truth than the fixed scheme on splines, and
        # where splines bound a face: of a saddle the fixed scheme is off by some 3e-5.
        BRepGProp.VolumeProperties_s(shape, props, FINE, False, False)
    else:
        BRepGProp.VolumeProperties_s(shape, props)
    return props


def _has_free_edges(shape: TopoDS_Shape) -> bool:
    """Whether some edge is a spline: of two cylinders that cross, for one."""
    spline = GeomAbs_CurveType.GeomAbs_BSplineCurve
    return any(
        BRepAdaptor_Curve(TopoDS.Edge_s(edge)).GetType() == spline
        for edge in explore(shape, Kind.TopAbs_EDGE)
    )


def volume(shape: TopoDS_Shape) -> float:
    """Signed volume [mm3]; negative when the skin is inside out."""
    return float(_volume_properties(shape).Mass())


def area(shape: TopoDS_Shape) -> float:
    """Area of all faces [mm2]."""
    props = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, props)
    return float(props.Mass())


def measured(shape: TopoDS_Shape) -> Measure:
    """Volume and centre of a shape."""
    props = _volume_properties(shape)
    p = props.CentreOfMass()
    return Measure(float(props.Mass()), (p.X(), p.Y(), p.Z()))


def is_valid(shape: TopoDS_Shape) -> bool:
    """The kernel's own check of topology and geometry; necessary, never sufficient."""
    return bool(BRepCheck_Analyzer(shape).IsValid())


def is_closed(shape: TopoDS_Shape) -> bool:
    """Whether every shell is watertight: each edge bounds exactly two faces."""
    shells = list(explore(shape, Kind.TopAbs_SHELL))
    return bool(shells) and all(BRep_Tool.IsClosed_s(shell) for shell in shells)


def explore(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> Iterator[TopoDS_Shape]:
    """Sub-shapes of a kind, in the kernel's order."""
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


def solids_of(shape: TopoDS_Shape) -> list[TopoDS_Shape]:
    """The solids in a shape."""
    return [TopoDS.Solid_s(solid) for solid in explore(shape, Kind.TopAbs_SOLID)]


def faces_of(shape: TopoDS_Shape) -> list[TopoDS_Face]:
    """The faces of a shape."""
    return [TopoDS.Face_s(face) for face in explore(shape, Kind.TopAbs_FACE)]


def surface_kind(face: TopoDS_Face) -> str:
    """``plane``, ``cylinder``, ``cone``, ``torus``, ``bspline``, ..."""
    return _SURFACES.get(BRepAdaptor_Surface(face).GetType(), "other")


def surface_kinds(shape: TopoDS_Shape) -> set[str]:
    """Kinds of surface among a shape's faces."""
    return {surface_kind(face) for face in faces_of(shape)}


def bounds(shape: TopoDS_Shape) -> Box:
    """Bounds that hold the whole shape; close, never too small [mm]."""
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    low, high = box.CornerMin(), box.CornerMax()
    return Box((low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z()))


def rough_bounds(shape: TopoDS_Shape) -> Box:
    """Bounds that hold the whole shape, found fast; perhaps too large, never too small [mm]."""
    box = Bnd_Box()
    BRepBndLib.Add_s(shape, box, False)
    low, high = box.CornerMin(), box.CornerMax()
    return Box((low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z()))


def corners_of(shape: TopoDS_Shape) -> list[Vec]:
    """Where the vertices are [mm]."""
    points = (BRep_Tool.Pnt_s(TopoDS.Vertex_s(v)) for v in explore(shape, Kind.TopAbs_VERTEX))
    return [(p.X(), p.Y(), p.Z()) for p in points]
