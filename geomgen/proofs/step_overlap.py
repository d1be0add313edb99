"""No two parts in the written STEP are in the same place.

What: for every pair whose bounds meet, a flat face of one that has the other wholly in
front of it, or skins that do not meet; failing both, the volume that the two share.
Why: overlapping parts cannot be cut and assembled, and a false placement shows here.
Limit: 0.001 mm3; faces may touch.
Source: project's own bar.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Section
from OCP.TopoDS import TopoDS_Compound, TopoDS_Face, TopoDS_Shape
from OCP.TopTools import TopTools_ListOfShape

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.geometry.frames import Plane, scale
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import ReadStep, on_assembly
from geomgen.solids.extent import Extent, extent_of
from geomgen.solids.find import outward_plane
from geomgen.solids.measure import (
    Box,
    Kind,
    corners_of,
    explore,
    faces_of,
    rough_bounds,
    surface_kind,
    volume,
)

NAME = "step-overlap"

COMMON = 1e-3
"""Volume that two parts may share [mm3]."""

_MOVE = (
    "do not make anything from these files: where the spec says where these two stand, move them "
    "apart; where it does not, build again, and report it if it comes back"
)

TOUCH = 1e-6
"""Depth to which bounds may overlap and still only touch [mm]."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """A finding for every pair that overlaps, or one for all."""
    return on_assembly(NAME, _prove, design, files)


def _prove(step: ReadStep) -> list[Finding]:
    bodies = [_Body(part.name, part.shape) for part in step.parts]
    found: list[Finding] = []
    near = 0
    for a, b in combinations(bodies, 2):
        if not _meet(a.box, b.box):
            continue
        near += 1
        if _apart(a, b) or _apart(b, a) or _beside(a, b):
            continue
        shared = _common(a.shape, b.shape)
        if shared > COMMON:
            bad = finding(
                NAME,
                f"{a.name} / {b.name}",
                False,
                f"the two share {shared:.4g} mm3",
                value=shared,
                limit=COMMON,
                unit="mm3",
            )
            found.append(replace(bad, remedy=_MOVE))
    if not found:
        pairs = len(bodies) * (len(bodies) - 1) // 2
        said = f"{pairs} pairs, {near} of them near each other, none overlapping"
        found.append(finding(NAME, "assembly", True, said, value=0.0, limit=COMMON, unit="mm3"))
    return found


@dataclass(frozen=True)
class _Body:
    """A part with what is asked of it again and again."""

    name: str
    shape: TopoDS_Shape

    @cached_property
    def box(self) -> Box:
        return rough_bounds(self.shape)

    @cached_property
    def extent(self) -> Extent:
        return extent_of(self.shape)

    @cached_property
    def faces(self) -> list[tuple[TopoDS_Face, Box]]:
        return [(face, rough_bounds(face)) for face in faces_of(self.shape)]

    @cached_property
    def whole(self) -> bool:
        """Whether the skin is one connected piece."""
        return len(list(explore(self.shape, Kind.TopAbs_SHELL))) == 1

    @cached_property
    def fronts(self) -> list[Plane]:
        """Planes of flat faces that have the whole part behind them."""
        planes = [outward_plane(f) for f in faces_of(self.shape) if surface_kind(f) == "plane"]
        return [plane for plane in planes if self.behind(plane)]

    def behind(self, plane: Plane) -> bool:
        """Whether the whole part is behind a plane."""
        return self.extent.heights(plane)[1] < TOUCH


def _meet(a: Box, b: Box, depth: float = TOUCH) -> bool:
    """Whether two boxes reach into each other by more than a depth [mm]."""
    return all(a.low[k] < b.high[k] - depth and b.low[k] < a.high[k] - depth for k in range(3))


def _apart(a: _Body, b: _Body) -> bool:
    """Whether all of ``b`` is in front of a flat face that has all of ``a`` behind it."""
    return any(b.behind(Plane(p.point, scale(p.normal, -1.0))) for p in a.fronts)


def _beside(a: _Body, b: _Body) -> bool:
    """Whether two skins do not cross, and each has a corner outside the other's bounds.

    A connected skin that does not cross another lies on one side of it, so one corner
    outside says that all of it is outside. A face wholly in front of a plane that has all
    of the other body behind it can touch that body, never cross its skin: such faces are
    left out. What is left must not even touch.
    """
    if not (a.whole and b.whole and _sticks_out(a, b.box) and _sticks_out(b, a.box)):
        return False
    near = [_faces_near(a, b), _faces_near(b, a)]
    if not all(near):
        return True
    section = BRepAlgoAPI_Section(_compound(near[0]), _compound(near[1]), False)
    section.Build()
    return section.IsDone() and not any(True for _ in explore(section.Shape(), Kind.TopAbs_VERTEX))


def _sticks_out(body: _Body, box: Box) -> bool:
    return any(
        not box.low[k] - TOUCH < p[k] < box.high[k] + TOUCH
        for p in corners_of(body.shape)
        for k in range(3)
    )


def _faces_near(body: _Body, other: _Body) -> list[TopoDS_Face]:
    """Faces of a body that might cross the other's skin."""
    return [
        face
        for face, box in body.faces
        if _meet(box, other.box, -TOUCH) and not _in_front(face, other.fronts)
    ]


def _in_front(face: TopoDS_Face, fronts: list[Plane]) -> bool:
    extent = extent_of(face)
    return any(extent.heights(plane)[0] > -TOUCH for plane in fronts)


def _compound(faces: list[TopoDS_Face]) -> TopoDS_Compound:
    compound = TopoDS_Compound()
    builder = BRep_Builder()
    builder.MakeCompound(compound)
    for face in faces:
        builder.Add(compound, face)
    return compound


def _common(a: TopoDS_Shape, b: TopoDS_Shape) -> float:
    """Volume that two parts share [mm3]."""
    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(a)
    tools.Append(b)
    common = BRepAlgoAPI_Common()
    common.SetArguments(arguments)
    common.SetTools(tools)
    common.Build()
    return abs(volume(common.Shape()))
