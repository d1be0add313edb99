"""Closed solids out of anybody's STEP file, as triangles with a bound on what they are off.

The kernel's mesher is asked for a deflection; what it made is then measured. Over each
triangle the surface is evaluated on a grid in its parameters and held against the flat
triangle. Between the grid's points a surface strays from its own linear interpolation by
no more than an eighth of its second derivatives times the squares of the grid's steps. For
planes, cylinders, cones, spheres and tori those derivatives are known in closed form; for
free-form faces they are taken at the grid's points and doubled, which is measured, not
proven. Edges are held against their chords in the same way.

How far the surface is from the triangles is measured across them, how far the triangles
are from the surface along them too, point by point of the grid: a cruder bound.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Pnt, gp_Vec
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Poly import Poly_Triangulation
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape

from geomgen.geometry.frames import Frame
from geomgen.geometry.solid_field import Body, Solid
from geomgen.geometry.solid_file import DEFLECTION, TURN, key_of
from geomgen.geometry.triangle_tree import to_triangles
from geomgen.geometry.triangles import NotClosed, Skin
from geomgen.solids.errors import SolidError
from geomgen.solids.measure import (
    Kind,
    explore,
    faces_of,
    is_closed,
    is_valid,
    solids_of,
    surface_kind,
)
from geomgen.solids.quiet import hush

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_SOLIDS = 40
MOST_TRIANGLES = 200_000

_FINER = (1.0, 0.5, 0.25)
_COARSER = (2.0, 4.0, 8.0)
"""Deflections tried, over the one wanted: finer when what was made strays too far or leaves
a hole, coarser when there is nothing of use yet."""

_GOOD = 2.0 * DEFLECTION

_FINE = 4
_LATTICE = np.array(
    [(i, j, _FINE - i - j) for i in range(_FINE + 1) for j in range(_FINE + 1 - i)], dtype=float
)
_SHARES = _LATTICE / _FINE
_CHORD = 8
_SPARE = 1.05
_SAME = 1e-6


@dataclass(frozen=True)
class _Off:
    """How far the solid stands out of its triangles, and they out of it [mm]."""

    outside: float
    within: float


def solid_from_step(step: bytes) -> Solid:
    """The union of all solids in a STEP file, measured, in the file's own frame in mm.

    Raises:
        SolidError: it cannot be read, or holds anything but closed, valid solids.
    """
    hush()
    shape = _read(step)
    solids = solids_of(shape)
    _refuse(shape, solids)
    found: list[Body] = []
    off: list[_Off] = []
    for solid in solids:
        skin, less = _skin(solid)
        try:
            found.append(Body.of(skin))
        except NotClosed as error:
            raise SolidError(f"a solid cannot be used: {error}") from None
        off.append(less)
    return Solid(
        key_of(step),
        Frame(),
        tuple(found),
        max(less.outside for less in off),
        max(less.within for less in off),
    )


def _read(step: bytes) -> TopoDS_Shape:
    # This reader opens no other file, whatever the text refers to.
    reader = STEPControl_Reader()
    try:
        status = reader.ReadStream("solid.step", io.BytesIO(step))
        if status != IFSelect_ReturnStatus.IFSelect_RetDone:
            raise SolidError("the CAD kernel cannot read it as STEP")
        reader.TransferRoots()
        shape = reader.OneShape()
    except SolidError:
        raise
    except Exception as error:
        # The kernel's failures have no base but this.
        raise SolidError(f"the CAD kernel stops on it: {type(error).__name__}") from None
    if shape is None or shape.IsNull():
        raise SolidError("it holds no shape")
    return shape


def _refuse(shape: TopoDS_Shape, solids: list[TopoDS_Shape]) -> None:
    loose = TopExp_Explorer(shape, Kind.TopAbs_FACE, Kind.TopAbs_SOLID)
    if loose.More():
        raise SolidError("it holds faces that bound no solid")
    if not solids:
        raise SolidError("it holds no solid")
    if len(solids) > MOST_SOLIDS:
        raise SolidError(f"it holds {len(solids)} solids, more than {MOST_SOLIDS}")
    for number, solid in enumerate(solids, 1):
        which = "its solid" if len(solids) == 1 else f"solid {number} of {len(solids)}"
        if not is_closed(solid):
            raise SolidError(f"{which} is not closed")
        if not is_valid(solid):
            raise SolidError(f"{which} is not valid by the CAD kernel's own check")


def _skin(solid: TopoDS_Shape) -> tuple[Skin, _Off]:
    """Closed triangles round a solid: the first that stray little, else those that stray least."""
    best: tuple[Skin, _Off] | None = None
    why = ""
    for factor in (*_FINER, *_COARSER):
        if best is not None and (best[1].outside <= _GOOD or factor in _COARSER):
            break
        try:
            found = _attempt(solid, factor * DEFLECTION)
        except NotClosed as error:
            why = str(error)
            continue
        if best is None or found[1].outside < best[1].outside:
            best = found
    if best is None:
        raise SolidError(f"a solid cannot be made into triangles: {why}")
    return best


def _attempt(solid: TopoDS_Shape, deflection: float) -> tuple[Skin, _Off]:
    faces = _meshed(solid, deflection)
    starts = np.cumsum([0, *(len(face.points) for face in faces)])
    skin = Skin.of(
        np.concatenate([face.points for face in faces]),
        np.concatenate([f.corners + n for f, n in zip(faces, starts[:-1], strict=True)]),
    )
    spare = _tolerance(solid) + 1e-3
    return skin, _Off(
        _SPARE * max(face.off.outside for face in faces) + spare,
        _SPARE * max(face.off.within for face in faces) + spare,
    )


@dataclass(frozen=True)
class _Net:
    """Triangles of one face, counter-clockwise seen from outside, and what they are off."""

    points: Floats
    corners: Ints
    off: _Off


def _meshed(solid: TopoDS_Shape, deflection: float) -> list[_Net]:
    BRepTools.Clean_s(solid)
    BRepMesh_IncrementalMesh(solid, deflection, False, TURN, False)
    try:
        faces = faces_of(solid)
        nets = [BRep_Tool.Triangulation_s(face, TopLoc_Location()) for face in faces]
        if sum(net.NbTriangles() for net in nets if net is not None) > MOST_TRIANGLES:
            raise NotClosed(f"it needs more than {MOST_TRIANGLES} of them")
        return [_net(face) for face in faces]
    finally:
        BRepTools.Clean_s(solid)


def _net(face: TopoDS_Face) -> _Net:
    place = TopLoc_Location()
    net = BRep_Tool.Triangulation_s(face, place)
    if net is None or not net.NbTriangles():
        raise NotClosed("a face has no triangles")
    count = range(1, net.NbNodes() + 1)
    points = np.array([(p.X(), p.Y(), p.Z()) for p in map(net.Node, count)], dtype=np.float64)
    if not place.IsIdentity():
        move = place.Transformation()
        matrix = np.array([[move.Value(r, c) for c in range(1, 5)] for r in range(1, 4)])
        points = points @ matrix[:, :3].T + matrix[:, 3]
    corners = [net.Triangle(k).Get() for k in range(1, net.NbTriangles() + 1)]
    triangles = np.array(corners, dtype=np.int64) - 1
    edges = max(_edges_off(face, net, place, points), default=0.0)
    off = _surface_off(face, net, points, triangles)
    off = _Off(max(off.outside, edges), max(off.within, edges))
    if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        triangles = triangles[:, ::-1]
    return _Net(points, triangles, off)


def _surface_off(
    face: TopoDS_Face, net: Poly_Triangulation, points: Floats, triangles: Ints
) -> _Off:
    """How far a face and its triangles are apart at most, edges left out."""
    kind = surface_kind(face)
    if kind == "plane" or not net.HasUVNodes():
        return _Off(0.0, 0.0)
    surface = BRepAdaptor_Surface(face)
    places = (net.UVNode(k) for k in range(1, net.NbNodes() + 1))
    uv = np.array([(p.X(), p.Y()) for p in places], dtype=np.float64)
    # Two corners in one place: at a pole, covered by the triangles beside it.
    sides = points[triangles] - points[triangles[:, [1, 2, 0]]]
    triangles = triangles[((sides**2).sum(axis=2) > _SAME**2).all(axis=1)]
    if not len(triangles):
        return _Off(0.0, 0.0)
    flat = points[triangles]
    corners = _beside_poles(surface, uv[triangles], flat)
    grid = np.einsum("gk,mkc->mgc", _SHARES, corners)
    true, second = _evaluated(surface, grid, kind not in _SECOND)
    if kind in _SECOND:
        second = _closed_form(surface, kind, corners)
    skew = np.linalg.norm(true - np.einsum("gk,mkc->mgc", _SHARES, flat), axis=2).max(axis=1)
    held = np.repeat(flat, len(_SHARES), axis=0)
    away = to_triangles(true.reshape(-1, 3), held).reshape(len(flat), -1).max(axis=1)
    wide = corners.max(axis=1) - corners.min(axis=1)
    u, v = wide[:, 0] / _FINE, wide[:, 1] / _FINE
    rest = (second[:, 0] * u * u + 2.0 * second[:, 1] * u * v + second[:, 2] * v * v) / 8.0
    return _Off(float((away + rest).max()), float((skew + rest).max()))


def _beside_poles(surface: BRepAdaptor_Surface, corners: Floats, flat: Floats) -> Floats:
    """Parameters (m, 3, 2) of triangles, with one that a pole leaves free between the others."""
    corners = corners.copy()
    for axis in (0, 1):
        for k in range(3):
            moved = corners[:, k].copy()
            moved[:, axis] = 0.5 * (corners[:, k - 1, axis] + corners[:, k - 2, axis])
            there, _ = _evaluated(surface, moved[:, None], False)
            same = ((there[:, 0] - flat[:, k]) ** 2).sum(axis=1) <= _SAME**2
            corners[same, k] = moved[same]
    return corners


_SECOND = ("cylinder", "cone", "sphere", "torus")


def _closed_form(surface: BRepAdaptor_Surface, kind: str, corners: Floats) -> Floats:
    """Bounds (m, 3) of the second derivatives uu, uv, vv over each triangle [mm]."""
    second = np.zeros((len(corners), 3))
    if kind == "cylinder":
        second[:, 0] = surface.Cylinder().Radius()
    elif kind == "cone":
        cone = surface.Cone()
        slope = abs(np.sin(cone.SemiAngle()))
        radii = np.abs(cone.RefRadius() + corners[:, :, 1] * np.sin(cone.SemiAngle()))
        second[:, 0], second[:, 1] = radii.max(axis=1), slope
    elif kind == "sphere":
        second[:] = surface.Sphere().Radius()
    else:
        torus = surface.Torus()
        second[:] = torus.MinorRadius()
        second[:, 0] += torus.MajorRadius()
    return second


def _evaluated(surface: BRepAdaptor_Surface, grid: Floats, derive: bool) -> tuple[Floats, Floats]:
    """Points (m, g, 3) of a surface at parameters (m, g, 2); sizes (m, 3) of derivatives."""
    flat = grid.reshape(-1, 2).tolist()
    if not derive:
        found = [(p.X(), p.Y(), p.Z()) for p in (surface.Value(u, v) for u, v in flat)]
        return np.array(found).reshape(*grid.shape[:2], 3), np.zeros((len(grid), 3))
    points, sizes = [], []
    for u, v in flat:
        p, du, dv, duu, dvv, duv = (gp_Pnt(), *(gp_Vec() for _ in range(5)))
        surface.D2(u, v, p, du, dv, duu, dvv, duv)
        points.append((p.X(), p.Y(), p.Z()))
        sizes.append((duu.Magnitude(), duv.Magnitude(), dvv.Magnitude()))
    derivatives = np.array(sizes).reshape(*grid.shape[:2], 3).max(axis=1)
    return np.array(points).reshape(*grid.shape[:2], 3), 2.0 * derivatives


def _edges_off(
    face: TopoDS_Face, net: Poly_Triangulation, place: TopLoc_Location, points: Floats
) -> Iterator[float]:
    """How far each edge of a face is from its chords at most."""
    for found in explore(face, Kind.TopAbs_EDGE):
        edge = TopoDS.Edge_s(found)
        if BRep_Tool.Degenerated_s(edge):
            continue
        chain = BRep_Tool.PolygonOnTriangulation_s(edge, net, place)
        if chain is None or not chain.HasParameters():
            raise NotClosed("an edge has no triangles")
        nodes = np.array([chain.Node(k) for k in range(1, chain.NbNodes() + 1)]) - 1
        at = chain.Parameters()
        times = np.array([at.Value(k) for k in range(at.Lower(), at.Upper() + 1)])
        yield _chord_off(edge, times, points[nodes])


def _chord_off(edge: TopoDS_Edge, times: Floats, ends: Floats) -> float:
    share = np.arange(1, _CHORD) / _CHORD
    between = times[:-1, None] + share * np.diff(times)[:, None]
    curve = BRepAdaptor_Curve(edge)
    true = np.array([(p.X(), p.Y(), p.Z()) for p in map(curve.Value, between.ravel().tolist())])
    a = np.repeat(ends[:-1], _CHORD - 1, axis=0)
    way = np.repeat(ends[1:], _CHORD - 1, axis=0) - a
    along = ((true - a) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-300)
    foot = a + along.clip(0.0, 1.0)[:, None] * way
    return float(np.sqrt(((true - foot) ** 2).sum(axis=1)).max(initial=0.0))


def _tolerance(solid: TopoDS_Shape) -> float:
    """What the solid's own edges and corners may be off [mm]."""
    edges = (BRep_Tool.Tolerance_s(TopoDS.Edge_s(e)) for e in explore(solid, Kind.TopAbs_EDGE))
    corners = (
        BRep_Tool.Tolerance_s(TopoDS.Vertex_s(v)) for v in explore(solid, Kind.TopAbs_VERTEX)
    )
    return max(max(edges, default=0.0), max(corners, default=0.0))
