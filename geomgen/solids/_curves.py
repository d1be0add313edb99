"""Plain points, frames and loop segments as kernel edges."""

from __future__ import annotations

import math
from collections.abc import Sequence

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeVertex
from OCP.Geom import Geom_Circle, Geom_Curve, Geom_Ellipse, Geom_Line
from OCP.gp import gp_Ax2, gp_Ax3, gp_Dir, gp_Pln, gp_Pnt, gp_Trsf
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Edge, TopoDS_Vertex

from geomgen.geometry.frames import Frame, Vec, scale, sub, unit
from geomgen.profiles.loops import Arc, EllipseArc, Line
from geomgen.solids.errors import SolidError

Piece = Line | Arc | EllipseArc

SAME_POINT = 1e-7
"""Points nearer than this are one point, the kernel's own confusion distance [mm]."""


def point(p: Vec) -> gp_Pnt:
    """Kernel point."""
    return gp_Pnt(*p)


def direction(v: Vec) -> gp_Dir:
    """Kernel direction."""
    return gp_Dir(*v)


def axes(frame: Frame) -> gp_Ax2:
    """Kernel axes: main direction is the frame's z."""
    return gp_Ax2(point(frame.origin), direction(frame.z), direction(frame.x))


def plane_of(frame: Frame) -> gp_Pln:
    """The frame's x-y plane, normal along z."""
    return gp_Pln(gp_Ax3(axes(frame)))


def location(frame: Frame) -> TopLoc_Location:
    """The rigid motion that carries the world frame into ``frame``."""
    x, y, z, o = frame.x, frame.y, frame.z, frame.origin
    motion = gp_Trsf()
    motion.SetValues(x[0], y[0], z[0], o[0], x[1], y[1], z[1], o[1], x[2], y[2], z[2], o[2])
    return TopLoc_Location(motion)


def is_corner(piece: Piece) -> bool:
    """Whether a piece is a degenerate line: a corner, not an edge."""
    return isinstance(piece, Line) and piece.length < SAME_POINT


def lifted(frame: Frame, p: tuple[float, float]) -> Vec:
    """World point of a point in the frame's x-y plane [mm]."""
    return frame.point((p[0], p[1], 0.0))


def curve_of(frame: Frame, piece: Piece) -> tuple[Geom_Curve, float, float]:
    """Exact curve of a piece in the frame's plane, with its first and last parameter."""
    if isinstance(piece, Line):
        start, end = lifted(frame, piece.start), lifted(frame, piece.end)
        return Geom_Line(point(start), direction(unit(sub(end, start)))), 0.0, piece.length
    centre = point(lifted(frame, piece.centre))
    # Parameters of a kernel conic grow with the right hand about its axis: a clockwise
    # piece is drawn about the axis turned over.
    hand = 1.0 if piece.sweep >= 0.0 else -1.0
    axis = direction(scale(frame.z, hand))
    first = hand * piece.begin
    if isinstance(piece, Arc):
        system = gp_Ax2(centre, axis, direction(frame.x))
        return Geom_Circle(system, piece.radius), first, first + abs(piece.sweep)
    major, minor, tilt = piece.major, piece.minor, piece.tilt
    if minor > major:
        major, minor, tilt = minor, major, tilt + math.pi / 2.0
        first = hand * (piece.begin - math.pi / 2.0)
    towards = frame.vector((math.cos(tilt), math.sin(tilt), 0.0))
    system = gp_Ax2(centre, axis, direction(towards))
    return Geom_Ellipse(system, major, minor), first, first + abs(piece.sweep)


def corner_vertices(frame: Frame, loop: Sequence[Piece]) -> list[TopoDS_Vertex]:
    """One vertex at the start of each piece; a degenerate line's two ends share theirs.

    Raises:
        SolidError: the loop does not close.
    """
    vertices: list[TopoDS_Vertex] = []
    for index, piece in enumerate(loop):
        before = loop[index - 1]
        gap = math.dist(before.end, piece.start)
        if gap > SAME_POINT:
            raise SolidError(f"loop is open by {gap:.3g} mm before its piece {index}")
        if index > 0 and is_corner(before):
            vertices.append(vertices[-1])
        else:
            place = point(lifted(frame, piece.start))
            vertices.append(BRepBuilderAPI_MakeVertex(place).Vertex())
    if is_corner(loop[-1]):
        last = vertices[-1]
        for index in range(len(loop)):
            vertices[index] = last
            if not is_corner(loop[index]):
                break
    return vertices


def edge_between(
    curve: Geom_Curve, first: float, last: float, start: TopoDS_Vertex, end: TopoDS_Vertex
) -> TopoDS_Edge:
    """Edge on a curve between two given vertices."""
    maker = BRepBuilderAPI_MakeEdge(curve, start, end, first, last)
    if not maker.IsDone():
        raise SolidError(f"no edge can be made: {maker.Error()}")
    return maker.Edge()


def loop_edges(
    frame: Frame, loop: Sequence[Piece], vertices: Sequence[TopoDS_Vertex]
) -> list[TopoDS_Edge | None]:
    """One edge a piece, sharing vertices; None for a corner."""
    edges: list[TopoDS_Edge | None] = []
    for index, piece in enumerate(loop):
        if is_corner(piece):
            edges.append(None)
            continue
        start, end = vertices[index], vertices[(index + 1) % len(loop)]
        edges.append(edge_between(*curve_of(frame, piece), start, end))
    return edges
