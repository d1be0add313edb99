"""Faces to one closed solid."""

from __future__ import annotations

from collections.abc import Sequence

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
from OCP.BRepLib import BRepLib
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape

from geomgen.solids.errors import SolidError
from geomgen.solids.measure import explore

SEW = 1e-5
"""Neighbouring faces lie on the same edges already; sewing has only to find it out [mm]."""


def closed_solid(faces: Sequence[TopoDS_Face]) -> TopoDS_Shape:
    """The solid inside a closed skin, normals outward.

    Raises:
        SolidError: the faces do not close.
    """
    sewing = BRepBuilderAPI_Sewing(SEW)
    for face in faces:
        sewing.Add(face)
    sewing.Perform()
    shells = list(explore(sewing.SewedShape(), TopAbs_ShapeEnum.TopAbs_SHELL))
    if len(shells) != 1 or sewing.NbFreeEdges() or sewing.NbMultipleEdges():
        raise SolidError(
            f"the skin does not close: {len(shells)} shells, {sewing.NbFreeEdges()} free edges, "
            f"{sewing.NbMultipleEdges()} edges of more than two faces"
        )
    solid = BRepBuilderAPI_MakeSolid(TopoDS.Shell_s(shells[0])).Solid()
    BRepLib.OrientClosedSolid_s(solid)
    return solid
