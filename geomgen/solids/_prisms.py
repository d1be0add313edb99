"""Plates: a flat profile of lines and arcs drawn out square to itself."""

from __future__ import annotations

import math

from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
)
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Circ, gp_Vec
from OCP.TopoDS import TopoDS, TopoDS_Shape, TopoDS_Wire

from geomgen.geometry.frames import Frame, scale
from geomgen.profiles.loops import Arc, Loop, area
from geomgen.recipe.nodes import Prism
from geomgen.solids._curves import (
    SAME_POINT,
    axes,
    corner_vertices,
    lifted,
    loop_edges,
    plane_of,
)
from geomgen.solids.errors import SolidError


def prism(node: Prism) -> TopoDS_Shape:
    """Solid of a plate.

    Raises:
        SolidError: no depth, or a loop that does not close.
    """
    if not node.depth > 0.0:
        raise SolidError(f"a plate of thickness {node.depth} mm is no solid")
    outer = wire_of(node.frame, node.profile.outer)
    maker = BRepBuilderAPI_MakeFace(plane_of(node.frame), _turned(outer, node.profile.outer, 1.0))
    for hole in node.profile.holes:
        maker.Add(_turned(wire_of(node.frame, hole), hole, -1.0))
    drawn = gp_Vec(*scale(node.frame.z, node.depth))
    return BRepPrimAPI_MakePrism(maker.Face(), drawn).Shape()


def wire_of(frame: Frame, loop: Loop) -> TopoDS_Wire:
    """Closed wire of a loop; a full circle in several arcs becomes one edge."""
    first = loop[0]
    if isinstance(first, Arc) and _is_circle(loop):
        centre = Frame(lifted(frame, first.centre), frame.x, frame.z)
        hand = 1.0 if first.sweep > 0.0 else -1.0
        system = axes(Frame(centre.origin, centre.x, scale(centre.z, hand)))
        edge = BRepBuilderAPI_MakeEdge(gp_Circ(system, first.radius)).Edge()
        return BRepBuilderAPI_MakeWire(edge).Wire()
    maker = BRepBuilderAPI_MakeWire()
    for edge in loop_edges(frame, loop, corner_vertices(frame, loop)):
        if edge is not None:
            maker.Add(edge)
    return maker.Wire()


def _is_circle(loop: Loop) -> bool:
    first = loop[0]
    return (
        isinstance(first, Arc)
        and all(
            isinstance(piece, Arc)
            and math.dist(piece.centre, first.centre) < SAME_POINT
            and abs(piece.radius - first.radius) < SAME_POINT
            for piece in loop
        )
        and abs(abs(math.fsum(p.sweep for p in loop if isinstance(p, Arc))) - 2.0 * math.pi) < 1e-9
    )


def _turned(wire: TopoDS_Wire, loop: Loop, wanted: float) -> TopoDS_Wire:
    return wire if area(loop) * wanted > 0.0 else TopoDS.Wire_s(wire.Reversed())
