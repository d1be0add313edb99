"""Cutting by planes, and making one of solids that touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from OCP.BOPAlgo import BOPAlgo_GlueEnum
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape
from OCP.TopTools import TopTools_ListOfShape

from geomgen.geometry.frames import Plane, Vec, add, dot, norm
from geomgen.solids._polyhedron import block_behind
from geomgen.solids._sewing import closed_solid
from geomgen.solids.errors import SolidError
from geomgen.solids.find import outward_plane
from geomgen.solids.measure import Box, area, bounds, faces_of, solids_of, surface_kind

TOUCH = 1e-5
"""Flat faces nearer than this lie on each other [mm]."""

PARALLEL = 1e-8
"""Angle below which two planes are parallel [rad]."""

SAME_AREA = 1e-7
"""Relative difference below which the two sides of a joint are the same area."""


def trimmed(shape: TopoDS_Shape, planes: tuple[Plane, ...]) -> TopoDS_Shape:
    """What is left of a solid behind every plane.

    Raises:
        SolidError: nothing, or more than one piece, is left.
    """
    common = BRepAlgoAPI_Common(shape, block_behind(bounds(shape), planes))
    return _single(common.Shape(), "trim")


def cut(shape: TopoDS_Shape, tools: Sequence[TopoDS_Shape]) -> TopoDS_Shape:
    """What is left of a solid without what any of the tools fills.

    Raises:
        SolidError: nothing, or more than one piece, is left.
    """
    arguments, takers = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(shape)
    for tool in tools:
        takers.Append(tool)
    maker = BRepAlgoAPI_Cut()
    maker.SetArguments(arguments)
    maker.SetTools(takers)
    maker.Build()
    return _single(maker.Shape(), "cut")


def fused(shapes: Sequence[TopoDS_Shape]) -> TopoDS_Shape:
    """One solid of solids that touch on flat faces; those faces vanish.

    Where each joint has the same faces' area on both sides, the faces are left out and
    the rest is sewn: some 20 times as fast as a boolean, and edges stay as they were.
    Anything else goes through a general fuse.
    """
    if len(shapes) == 1:
        return shapes[0]
    skins = [faces_of(shape) for shape in shapes]
    gone = _inner_faces(skins)
    if gone is not None:
        left = [
            face
            for i, skin in enumerate(skins)
            for j, face in enumerate(skin)
            if (i, j) not in gone
        ]
        try:
            return closed_solid(left)
        except SolidError:
            # Joints whose outlines differ cannot be sewn; the boolean below splits them.
            pass
    return _glued(shapes)


def _glued(shapes: Sequence[TopoDS_Shape]) -> TopoDS_Shape:
    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(shapes[0])
    for shape in shapes[1:]:
        tools.Append(shape)
    fuse = BRepAlgoAPI_Fuse()
    fuse.SetArguments(arguments)
    fuse.SetTools(tools)
    fuse.SetGlue(BOPAlgo_GlueEnum.BOPAlgo_GlueShift)
    fuse.Build()
    return _single(fuse.Shape(), "fuse")


def _single(shape: TopoDS_Shape, what: str) -> TopoDS_Shape:
    solids = solids_of(shape)
    if len(solids) != 1:
        raise SolidError(f"{what} leaves {len(solids)} solids instead of one")
    return solids[0]


@dataclass(frozen=True)
class _Flat:
    """A flat face of one of the solids to be joined."""

    key: tuple[int, int]
    normal: Vec
    height: float
    area: float
    box: Box


def _inner_faces(skins: Sequence[Sequence[TopoDS_Face]]) -> set[tuple[int, int]] | None:
    """Flat faces that lie on each other; None where a joint's two sides differ in area."""
    flats = [
        _flat(face, (i, j))
        for i, skin in enumerate(skins)
        for j, face in enumerate(skin)
        if surface_kind(face) == "plane"
    ]
    joint = list(range(len(flats)))
    for x, y in combinations(range(len(flats)), 2):
        if _on_each_other(flats[x], flats[y]):
            a, b = _root(joint, x), _root(joint, y)
            joint[max(a, b)] = min(a, b)
    groups: dict[int, list[int]] = {}
    for x in range(len(flats)):
        groups.setdefault(_root(joint, x), []).append(x)
    gone: set[tuple[int, int]] = set()
    for members in groups.values():
        if len(members) < 2:
            continue
        first = flats[members[0]].normal
        balance = total = 0.0
        for x in members:
            same_side = norm(add(flats[x].normal, first)) > 1.0
            balance += flats[x].area if same_side else -flats[x].area
            total += flats[x].area
        if abs(balance) > SAME_AREA * total:
            return None
        gone.update(flats[x].key for x in members)
    return gone


def _root(parents: list[int], x: int) -> int:
    while parents[x] != x:
        x = parents[x]
    return x


def _flat(face: TopoDS_Face, key: tuple[int, int]) -> _Flat:
    plane = outward_plane(face)
    height = dot(plane.point, plane.normal)
    return _Flat(key, plane.normal, height, area(face), bounds(face))


def _on_each_other(a: _Flat, b: _Flat) -> bool:
    return (
        a.key[0] != b.key[0]
        and norm(add(a.normal, b.normal)) < PARALLEL
        and abs(a.height + b.height) < TOUCH
        and all(
            a.box.low[k] < b.box.high[k] + TOUCH and b.box.low[k] < a.box.high[k] + TOUCH
            for k in range(3)
        )
    )
