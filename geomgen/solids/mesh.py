"""Triangles of a kernel shape, for pictures: never a measure of anything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepLib import BRepLib_ToolTriangulatedShape
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

from geomgen.solids.errors import SolidError
from geomgen.solids.measure import faces_of


@dataclass(frozen=True)
class Mesh:
    """Triangles of a shape's skin.

    Attributes:
        points: (n, 3) [mm].
        normals: (n, 3) outward, of the true surface at each point.
        triangles: (m, 3) indices of points, counter-clockwise seen from outside.
        faces: (m,) which face of the shape each triangle lies in.
    """

    points: NDArray[np.float64]
    normals: NDArray[np.float64]
    triangles: NDArray[np.int64]
    faces: NDArray[np.int64]


def mesh(shape: TopoDS_Shape, deflection: float, turn: float = 0.35) -> Mesh:
    """Triangles that stay within ``deflection`` of a shape's skin.

    The shape is left without triangles, as it was: nothing that is written or measured
    later may depend on whether a picture was drawn.

    Args:
        shape: a solid.
        deflection: farthest a triangle may lie from the surface [mm].
        turn: largest angle between neighbouring triangles [rad].

    Raises:
        SolidError: a face that the kernel cannot mesh.
    """
    BRepMesh_IncrementalMesh(shape, deflection, False, turn, False)
    pieces = [_face(face) for face in faces_of(shape)]
    BRepTools.Clean_s(shape)
    counts = [len(points) for points, _, _ in pieces]
    starts = np.cumsum([0, *counts[:-1]])
    return Mesh(
        np.concatenate([points for points, _, _ in pieces]),
        np.concatenate([normals for _, normals, _ in pieces]),
        np.concatenate([tri + start for (_, _, tri), start in zip(pieces, starts, strict=True)]),
        np.repeat(np.arange(len(pieces)), [len(tri) for _, _, tri in pieces]),
    )


def _face(
    face: TopoDS_Face,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    place = TopLoc_Location()
    net = BRep_Tool.Triangulation_s(face, place)
    if net is None:
        raise SolidError("a face has no triangles")
    BRepLib_ToolTriangulatedShape.ComputeNormals_s(face, net)
    count = range(1, net.NbNodes() + 1)
    points = np.array([(p.X(), p.Y(), p.Z()) for p in map(net.Node, count)], dtype=np.float64)
    normals = np.array([(d.X(), d.Y(), d.Z()) for d in map(net.Normal, count)], dtype=np.float64)
    corners = [net.Triangle(k).Get() for k in range(1, net.NbTriangles() + 1)]
    triangles = np.array(corners, dtype=np.int64) - 1
    if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        # Both follow the surface; the solid lies on its other side.
        triangles, normals = triangles[:, ::-1], -normals
    if not place.IsIdentity():
        move = place.Transformation()
        matrix = np.array([[move.Value(r, c) for c in range(1, 5)] for r in range(1, 4)])
        points = points @ matrix[:, :3].T + matrix[:, 3]
        normals = normals @ matrix[:, :3].T
    return points, normals, triangles
