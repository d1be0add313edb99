"""Tubes: one sweep of a ring (or disc) along straights and bends, exact by construction."""

from __future__ import annotations

import math

from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeVertex,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipe
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.Geom import Geom_Circle, Geom_Line
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Trsf, gp_Vec
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Shape, TopoDS_Vertex, TopoDS_Wire

from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight, advance
from geomgen.geometry.frames import Frame, add, scale
from geomgen.recipe.nodes import Tube
from geomgen.solids._booleans import fused
from geomgen.solids._curves import axes, direction, edge_between, plane_of, point
from geomgen.solids.errors import SolidError
from geomgen.solids.measure import surface_kinds, volume
from geomgen.solids.paths import merged

SLIVER = 1e-3
"""Pieces no longer than this are too short for the sweep as it is [mm]."""

ENLARGED = 1000.0
"""How many times larger a path with slivers is swept."""

EXACT = 1e-9
"""Relative volume error above which a sweep is refused. A kinked path or a tilted
profile sweeps to a shape that looks valid; only its volume and surfaces give it away."""


def tube(node: Tube) -> TopoDS_Shape:
    """Solid of a tube.

    The volume is held against area times length (Pappus of Alexandria: the centroid of
    the section stays on the centreline) and the surfaces against plane, cylinder, torus.

    Raises:
        SolidError: the path or radii make no tube.
    """
    if not 0.0 <= node.inner_radius < node.outer_radius:
        raise SolidError(f"no tube of radii {node.outer_radius} and {node.inner_radius} mm")
    radii = (node.outer_radius, node.inner_radius)
    pieces = merged(node.centreline.pieces)
    if not pieces:
        raise SolidError("a tube needs a centreline with some length")
    for piece in pieces:
        if isinstance(piece, Bend) and piece.radius <= node.outer_radius:
            raise SolidError(
                f"bend of CLR {piece.radius} mm is too tight for a tube of radius "
                f"{node.outer_radius} mm: its inside would fold"
            )
    shape = _swept(Tube(Centreline(node.centreline.start, pieces), *radii))
    area = math.pi * (node.outer_radius**2 - node.inner_radius**2)
    wanted = area * math.fsum(piece.length for piece in pieces)
    off = abs(volume(shape) - wanted) / wanted
    strange = surface_kinds(shape) - {"plane", "cylinder", "torus"}
    if off > EXACT or strange:
        raise SolidError(f"sweep is not exact: volume off by {off:.2g}, surfaces {sorted(strange)}")
    return shape


def _swept(node: Tube) -> TopoDS_Shape:
    if min(piece.length for piece in node.centreline.pieces) > SLIVER:
        ring = _ring(node, node.centreline.start)
        return BRepOffsetAPI_MakePipe(_spine(node.centreline), ring).Shape()
    # The sweep loses pieces shorter than 1e-4, and its surfaces with them: such a path is
    # built large, piece by piece, then shrunk.
    shape = fused(_pieces(_enlarged(node)))
    shrink = gp_Trsf()
    shrink.SetScale(point(node.centreline.start.origin), 1.0 / ENLARGED)
    return BRepBuilderAPI_Transform(shape, shrink, True).Shape()


def _enlarged(node: Tube) -> Tube:
    """The tube ``ENLARGED`` times as large about its start."""
    pieces = tuple(
        Straight(piece.length * ENLARGED)
        if isinstance(piece, Straight)
        else Bend(piece.radius * ENLARGED, piece.angle, piece.roll)
        for piece in node.centreline.pieces
    )
    path = Centreline(node.centreline.start, pieces)
    return Tube(path, node.outer_radius * ENLARGED, node.inner_radius * ENLARGED)


def _pieces(node: Tube) -> list[TopoDS_Shape]:
    """Each straight drawn out and each bend turned by itself."""
    solids = []
    frame = node.centreline.start
    for piece in node.centreline.pieces:
        if isinstance(piece, Straight):
            along = gp_Vec(*scale(frame.z, piece.length))
            solids.append(BRepPrimAPI_MakePrism(_ring(node, frame), along).Shape())
        else:
            turned = frame.rolled(piece.roll)
            centre = add(turned.origin, scale(turned.x, piece.radius))
            axis = gp_Ax1(point(centre), direction(turned.y))
            solids.append(BRepPrimAPI_MakeRevol(_ring(node, turned), axis, piece.angle).Shape())
        frame = advance(frame, piece)
    return solids


def _spine(path: Centreline) -> TopoDS_Wire:
    maker = BRepBuilderAPI_MakeWire()
    frame = path.start
    before = BRepBuilderAPI_MakeVertex(point(frame.origin)).Vertex()
    for piece in path.pieces:
        following = advance(frame, piece)
        after = BRepBuilderAPI_MakeVertex(point(following.origin)).Vertex()
        maker.Add(_spine_edge(frame, piece, before, after))
        frame, before = following, after
    return maker.Wire()


def _spine_edge(
    frame: Frame, piece: Piece, before: TopoDS_Vertex, after: TopoDS_Vertex
) -> TopoDS_Edge:
    if isinstance(piece, Straight):
        line = Geom_Line(point(frame.origin), direction(frame.z))
        return edge_between(line, 0.0, piece.length, before, after)
    turned = frame.rolled(piece.roll)
    centre = add(turned.origin, scale(turned.x, piece.radius))
    system = gp_Ax2(point(centre), direction(turned.y), direction(scale(turned.x, -1.0)))
    return edge_between(Geom_Circle(system, piece.radius), 0.0, piece.angle, before, after)


def _ring(node: Tube, at: Frame) -> TopoDS_Shape:
    system = axes(at)
    wires = [
        BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(gp_Circ(system, radius)).Edge()).Wire()
        for radius in (node.outer_radius, node.inner_radius)
        if radius > 0.0
    ]
    maker = BRepBuilderAPI_MakeFace(plane_of(at), wires[0])
    for wire in wires[1:]:
        maker.Add(TopoDS.Wire_s(wire.Reversed()))
    return maker.Face()
