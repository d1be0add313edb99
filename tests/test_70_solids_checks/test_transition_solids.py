"""Transitions as solids: valid, closed, and cut open at planes to measure roof and area."""

import math
import sys
from pathlib import Path

import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS
from shapely import polygonize, unary_union
from shapely.geometry import LineString

from geomgen.design.model import Port
from geomgen.design.transitions import transition
from geomgen.geometry.frames import Frame
from geomgen.profiles.loops import area, bounding_box
from geomgen.profiles.matching import blend_area
from geomgen.solids.build import build
from geomgen.solids.measure import explore, is_closed, is_valid, solids_of, volume

sys.path.append(str(Path(__file__).parents[1] / "test_60_design"))

from test_transitions import INNER, OUTER, SHAPES

PLATE, LENGTH = 10.0, 45.0


def plane(z):
    return gp_Pln(gp_Pnt(0.0, 0.0, z), gp_Dir(0.0, 0.0, 1.0))


def section(solid, z):
    """The solid's section as the kernel cuts it: curves sampled, joined and closed by shapely."""
    cut = BRepAlgoAPI_Section(solid, plane(z)).Shape()
    lines = []
    for edge in explore(cut, TopAbs_ShapeEnum.TopAbs_EDGE):
        curve = BRepAdaptor_Curve(TopoDS.Edge_s(edge))
        low, high = curve.FirstParameter(), curve.LastParameter()
        points = [curve.Value(low + (high - low) * i / 80) for i in range(81)]
        lines.append([(round(p.X(), 5), round(p.Y(), 5)) for p in points])
    return unary_union(polygonize([unary_union([LineString(line) for line in lines])]).geoms)


@pytest.mark.parametrize("shape", SHAPES)
def test_metal_and_gas_are_sound_and_the_roof_runs_straight(shape):
    loop = SHAPES[shape]
    blend = transition(Port(1, Frame(), loop, shape), OUTER, INNER, PLATE, 2.0, LENGTH)
    gas, metal = build(blend.gas), build(blend.metal)
    for solid in (gas, metal):
        assert len(solids_of(solid)) == 1
        assert is_closed(solid)
        assert is_valid(solid)
    near, far = blend.bore
    # prismatoid formula (Simpson's rule, exact for ruled solids), a textbook result
    ruled = LENGTH / 6 * (area(near) + 4 * blend_area(near, far, 0.5) + area(far))
    assert volume(gas) == pytest.approx(area(loop) * PLATE + ruled, rel=1e-5)
    top = bounding_box(loop).top
    low = min(area(loop), math.pi * INNER**2)
    for t in (0.3, 0.8):
        inside = section(gas, PLATE + t * LENGTH)
        assert inside.area == pytest.approx(blend_area(near, far, t), rel=5e-4)
        assert inside.area >= low * (1 - 5e-4)
        assert inside.bounds[3] == pytest.approx(top, abs=3e-3)
    outside = section(metal, PLATE + 0.3 * LENGTH)
    assert outside.bounds[3] == pytest.approx(top + OUTER - INNER, abs=3e-3)
