"""Ruled walls: sections joined piece by piece with straight lines, edges shared exactly."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape, TopoDS_Vertex, TopoDS_Wire

from geomgen.profiles.loops import area
from geomgen.recipe.nodes import RuledWall, Section
from geomgen.solids._curves import corner_vertices, loop_edges, plane_of
from geomgen.solids._ruled_faces import ruled_face, ruling
from geomgen.solids._sewing import closed_solid
from geomgen.solids.errors import SolidError


def ruled_wall(node: RuledWall) -> TopoDS_Shape:
    """Closed solid of a ruled wall, skin outward.

    Raises:
        SolidError: sections that do not match, or a skin that does not close.
    """
    _refuse_mismatch(node)
    faces, outer_ends = _skin(node.outer)
    inner_ends: list[list[TopoDS_Edge]] = []
    if node.inner:
        inner_faces, inner_ends = _skin(node.inner)
        faces += inner_faces
    for index in (0, -1):
        hole = (node.inner[index], inner_ends[index]) if node.inner else None
        faces.append(_end_face(node.outer[index], outer_ends[index], hole))
    return closed_solid(faces)


def _refuse_mismatch(node: RuledWall) -> None:
    if len(node.outer) < 2:
        raise SolidError("a ruled wall needs two sections or more")
    if node.inner and len(node.inner) != len(node.outer):
        raise SolidError(
            f"{len(node.inner)} inner sections do not match {len(node.outer)} outer ones"
        )
    for skin in (node.outer, node.inner):
        for near, far in pairwise(skin):
            if len(near.loop) != len(far.loop):
                raise SolidError(
                    f"sections of {len(near.loop)} and {len(far.loop)} pieces cannot be joined"
                )


def _skin(sections: Sequence[Section]) -> tuple[list[TopoDS_Face], list[list[TopoDS_Edge]]]:
    """Ruled faces through all sections, and the edges of each section."""
    corners = [corner_vertices(s.frame, s.loop) for s in sections]
    edges = [loop_edges(s.frame, s.loop, v) for s, v in zip(sections, corners, strict=True)]
    faces: list[TopoDS_Face] = []
    for k in range(len(sections) - 1):
        rulings = _rulings(corners[k], corners[k + 1])
        count = len(rulings)
        for i in range(count):
            if edges[k][i] is None and edges[k + 1][i] is None:
                continue
            border = (edges[k][i], rulings[(i + 1) % count], edges[k + 1][i], rulings[i])
            faces.append(ruled_face(sections[k], sections[k + 1], i, border))
    return faces, [[edge for edge in row if edge is not None] for row in edges]


def _rulings(
    near: Sequence[TopoDS_Vertex], far: Sequence[TopoDS_Vertex]
) -> list[TopoDS_Edge | None]:
    """The straight edge from each corner to its fellow; shared where both are shared."""
    made: list[TopoDS_Edge | None] = []
    for i, (start, end) in enumerate(zip(near, far, strict=True)):
        for j in range(i):
            if start.IsSame(near[j]) and end.IsSame(far[j]):
                made.append(made[j])
                break
        else:
            made.append(ruling(start, end))
    return made


def _end_face(
    section: Section, edges: list[TopoDS_Edge], hole: tuple[Section, list[TopoDS_Edge]] | None
) -> TopoDS_Face:
    """Flat face that closes one end: a ring when the wall is hollow."""
    maker = BRepBuilderAPI_MakeFace(plane_of(section.frame), _wire(section, edges, 1.0))
    if hole is not None:
        maker.Add(_wire(*hole, -1.0))
    return maker.Face()


def _wire(section: Section, edges: list[TopoDS_Edge], wanted: float) -> TopoDS_Wire:
    maker = BRepBuilderAPI_MakeWire()
    for edge in edges:
        maker.Add(edge)
    wire = maker.Wire()
    return wire if area(section.loop) * wanted > 0.0 else TopoDS.Wire_s(wire.Reversed())
