"""No two parts in the written STEP are in the same place.

What: for every pair whose bounds meet, a flat face of one that has the other wholly in
front of it; failing that, the volume that the two have in common.
Why: overlapping parts cannot be cut and assembled, and a false placement shows here.
Limit: 0.001 mm3; faces may touch.
Source: project's own bar.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.TopoDS import TopoDS_Shape
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
    faces_of,
    rough_bounds,
    surface_kind,
    volume,
)

NAME = "step-overlap"

COMMON = 1e-3
"""Volume that two parts may share [mm3]."""

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
        if _apart(a, b) or _apart(b, a):
            continue
        shared = _common(a.shape, b.shape)
        if shared > COMMON:
            found.append(
                finding(
                    NAME,
                    f"{a.name} / {b.name}",
                    False,
                    f"the two share {shared:.4g} mm3",
                    value=shared,
                    limit=COMMON,
                    unit="mm3",
                )
            )
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
    def fronts(self) -> list[Plane]:
        """Planes of flat faces that have the whole part behind them."""
        planes = [outward_plane(f) for f in faces_of(self.shape) if surface_kind(f) == "plane"]
        return [plane for plane in planes if self.behind(plane)]

    def behind(self, plane: Plane) -> bool:
        """Whether the whole part is behind a plane."""
        return self.extent.heights(plane)[1] < TOUCH


def _meet(a: Box, b: Box) -> bool:
    return all(a.low[k] < b.high[k] - TOUCH and b.low[k] < a.high[k] - TOUCH for k in range(3))


def _apart(a: _Body, b: _Body) -> bool:
    """Whether all of ``b`` is in front of a flat face that has all of ``a`` behind it."""
    return any(b.behind(Plane(p.point, scale(p.normal, -1.0))) for p in a.fronts)


def _common(a: TopoDS_Shape, b: TopoDS_Shape) -> float:
    """Volume that two parts share [mm3]."""
    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(a)
    tools.Append(b)
    common = BRepAlgoAPI_Common()
    common.SetArguments(arguments)
    common.SetTools(tools)
    common.SetRunParallel(True)
    common.Build()
    return abs(volume(common.Shape()))
