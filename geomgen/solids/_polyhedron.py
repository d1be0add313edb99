"""A convex block behind some planes, as the tool that a trim keeps the inside of."""

from __future__ import annotations

import math

from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeVertex,
    BRepBuilderAPI_MakeWire,
)
from OCP.TopoDS import TopoDS_Edge, TopoDS_Shape, TopoDS_Vertex

from geomgen.geometry.frames import Frame, Plane, Vec, add, scale, sub
from geomgen.solids._curves import plane_of, point
from geomgen.solids._sewing import closed_solid
from geomgen.solids.errors import SolidError
from geomgen.solids.measure import Box

ON_PLANE = 1e-9
"""Corners nearer than this to a cutting plane lie on it [mm]."""

Facet = tuple[Vec, list[Vec]]
"""Outward normal, and corners in order."""


def block_behind(box: Box, planes: tuple[Plane, ...]) -> TopoDS_Shape:
    """The part of a generously grown box behind every plane.

    Raises:
        SolidError: nothing of the box lies there.
    """
    facets = _grown(box)
    for plane in planes:
        facets = _clipped(facets, plane)
    if len(facets) < 4:
        raise SolidError("the trim planes leave nothing")
    vertices: dict[Vec, TopoDS_Vertex] = {}
    edges: dict[frozenset[Vec], TopoDS_Edge] = {}
    faces = []
    for normal, corners in facets:
        maker = BRepBuilderAPI_MakeWire()
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            key = frozenset((a, b))
            if key not in edges:
                ends = [vertices.setdefault(p, _vertex(p)) for p in (a, b)]
                edges[key] = BRepBuilderAPI_MakeEdge(ends[0], ends[1]).Edge()
            maker.Add(edges[key])
        frame = Frame.facing(corners[0], normal)
        faces.append(BRepBuilderAPI_MakeFace(plane_of(frame), maker.Wire(), True).Face())
    return closed_solid(faces)


def _vertex(p: Vec) -> TopoDS_Vertex:
    return BRepBuilderAPI_MakeVertex(point(p)).Vertex()


def _grown(box: Box) -> list[Facet]:
    """Six facets well outside a box; odd margins keep them off the shape's own planes."""
    reach = max(box.size)
    low = tuple(v - 0.37 * reach - 1.3 for v in box.low)
    high = tuple(v + 0.41 * reach + 1.7 for v in box.high)
    bounds = (low, high)
    facets: list[Facet] = []
    for axis in range(3):
        for side in (0, 1):
            corners = []
            for u, v in ((0, 0), (1, 0), (1, 1), (0, 1)):
                p = [0.0, 0.0, 0.0]
                p[axis] = bounds[side][axis]
                p[(axis + 1) % 3] = bounds[u][(axis + 1) % 3]
                p[(axis + 2) % 3] = bounds[v][(axis + 2) % 3]
                corners.append((p[0], p[1], p[2]))
            normal = [0.0, 0.0, 0.0]
            normal[axis] = 1.0 if side else -1.0
            facets.append(((normal[0], normal[1], normal[2]), corners))
    return facets


def _clipped(facets: list[Facet], plane: Plane) -> list[Facet]:
    """Facets behind the plane, and the cap that closes them (Sutherland and Hodgman)."""
    kept: list[Facet] = []
    section: dict[Vec, None] = {}
    cuts = False
    for normal, corners in facets:
        heights = [plane.height(p) for p in corners]
        cuts = cuts or max(heights) > ON_PLANE
        remaining: list[Vec] = []
        for k, (p, h) in enumerate(zip(corners, heights, strict=True)):
            q, g = corners[(k + 1) % len(corners)], heights[(k + 1) % len(corners)]
            if h <= ON_PLANE:
                remaining.append(p)
            if min(h, g) < -ON_PLANE and max(h, g) > ON_PLANE:
                remaining.append(_crossing(p, h, q, g))
        section.update(dict.fromkeys(p for p in remaining if abs(plane.height(p)) <= ON_PLANE))
        if len(remaining) >= 3 and min(plane.height(p) for p in remaining) < -ON_PLANE:
            kept.append((normal, remaining))
    if not cuts:
        return facets
    if len(section) >= 3 and kept:
        kept.append((plane.normal, _round_the(plane, list(section))))
    return kept


def _crossing(p: Vec, h: float, q: Vec, g: float) -> Vec:
    """Where an edge goes through height zero; the same floats from either end."""
    if (q, g) < (p, h):
        p, h, q, g = q, g, p, h
    return add(p, scale(sub(q, p), h / (h - g)))


def _round_the(plane: Plane, corners: list[Vec]) -> list[Vec]:
    middle = scale(add(add(corners[0], corners[1]), corners[2]), 1.0 / 3.0)
    frame = Frame.facing(middle, plane.normal)

    def angle(p: Vec) -> float:
        x, y, _ = frame.local(p)
        return math.atan2(y, x)

    return sorted(corners, key=angle)
