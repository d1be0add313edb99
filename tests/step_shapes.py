"""Shapes made with the kernel and written as STEP, for tests on what people bring along."""

from __future__ import annotations

import io
import math

from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakePolygon, BRepBuilderAPI_Transform
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeSphere,
    BRepPrimAPI_MakeTorus,
)
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Compound, TopoDS_Shape, TopoDS_Shell, TopoDS_Solid

from geomgen.solids.quiet import hush


def axis(x: float, y: float, z: float, way: tuple[float, float, float]) -> gp_Ax2:
    return gp_Ax2(gp_Pnt(x, y, z), gp_Dir(*way))


def block(low: tuple[float, float, float], size: tuple[float, float, float]) -> TopoDS_Shape:
    return BRepPrimAPI_MakeBox(gp_Pnt(*low), *size).Shape()


def casting() -> TopoDS_Shape:
    """Box, torus, cone and ball in one, with a round pocket: curved and far from convex."""
    body = block((0, 0, 0), (120, 80, 60))
    for more in (
        BRepPrimAPI_MakeTorus(axis(120, 40, 30, (1, 0.3, 0)), 28.0, 9.0).Shape(),
        BRepPrimAPI_MakeSphere(gp_Pnt(0, 0, 0), 22.0).Shape(),
        BRepPrimAPI_MakeCone(axis(40, 40, -45, (0, 0, 1)), 8.0, 26.0, 60.0).Shape(),
    ):
        body = BRepAlgoAPI_Fuse(body, more).Shape()
    pocket = BRepPrimAPI_MakeCylinder(axis(60, 40, 20, (0, 0, 1)), 24.0, 60.0).Shape()
    return BRepAlgoAPI_Cut(body, pocket).Shape()


def blended() -> TopoDS_Shape:
    """A lofted, filleted hump: free-form faces."""
    loft = BRepOffsetAPI_ThruSections(True, False, 1e-6)
    for height, reach, turn in ((0, 40, 0.0), (30, 25, 0.5), (60, 34, 1.1)):
        ring = BRepBuilderAPI_MakePolygon()
        for k in range(5):
            a = turn + 2 * math.pi * k / 5
            ring.Add(gp_Pnt(reach * math.cos(a), 0.7 * reach * math.sin(a), height))
        ring.Close()
        loft.AddWire(ring.Wire())
    loft.Build()
    body = loft.Shape()
    fillet = BRepFilletAPI_MakeFillet(body)
    edges = TopExp_Explorer(body, TopAbs_ShapeEnum.TopAbs_EDGE)
    while edges.More():
        edge = TopoDS.Edge_s(edges.Current())
        fillet.Add(4.0, edge)
        break
    fillet.Build()
    return fillet.Shape()


def gearbox() -> TopoDS_Shape:
    """A bell housing and a tapering case with a lump on it, along x."""
    case = BRepPrimAPI_MakeCylinder(axis(0, 0, 0, (1, 0, 0)), 90.0, 60.0).Shape()
    cone = BRepPrimAPI_MakeCone(axis(60, 0, 0, (1, 0, 0)), 85.0, 45.0, 220.0).Shape()
    case = BRepAlgoAPI_Fuse(case, cone).Shape()
    return BRepAlgoAPI_Fuse(case, block((80, -60, -110), (150, 120, 60))).Shape()


def turned(shape: TopoDS_Shape, angle: float, way: tuple[float, float, float]) -> TopoDS_Shape:
    move = gp_Trsf()
    move.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*way)), angle)
    return BRepBuilderAPI_Transform(shape, move, True).Shape()


def together(*shapes: TopoDS_Shape) -> TopoDS_Shape:
    whole, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(whole)
    for shape in shapes:
        builder.Add(whole, shape)
    return whole


def open_solid(shape: TopoDS_Shape, missing: int = 1, solid: bool = True) -> TopoDS_Shape:
    """A shape's skin without its first faces; as a solid all the same, or as bare shell."""
    shell, builder = TopoDS_Shell(), BRep_Builder()
    builder.MakeShell(shell)
    faces = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    for _ in range(missing):
        faces.Next()
    while faces.More():
        builder.Add(shell, faces.Current())
        faces.Next()
    if not solid:
        return shell
    whole = TopoDS_Solid()
    builder.MakeSolid(whole)
    builder.Add(whole, shell)
    return whole


def step_bytes(shape: TopoDS_Shape, unit: str = "MM") -> bytes:
    """A shape as STEP in some unit; the shape is in mm."""
    writer = STEPControl_Writer()
    hush()
    Interface_Static.SetCVal_s("write.step.unit", unit)
    try:
        writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs)
        stream = io.BytesIO()
        writer.WriteStream(stream)
    finally:
        Interface_Static.SetCVal_s("write.step.unit", "MM")
    return stream.getvalue()
