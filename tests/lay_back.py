"""How far points are from the nearest edge of a solid: unrolled copes laid back on it."""

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.gp import gp_Pnt
from OCP.TopoDS import TopoDS_Compound, TopoDS_Shape

from geomgen.solids.measure import Kind, explore


def off_edges(shape: TopoDS_Shape, where: np.ndarray) -> float:
    """Farthest of some points (n, 3) from a solid's nearest edges [mm]."""
    edges, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(edges)
    for edge in explore(shape, Kind.TopAbs_EDGE):
        builder.Add(edges, edge)
    worst = 0.0
    for p in where:
        vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*map(float, p))).Vertex()
        worst = max(worst, BRepExtrema_DistShapeShape(vertex, edges).Value())
    return worst
