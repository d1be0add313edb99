"""Ruled walls, trims and fuses against closed forms and a plane-geometry library."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS
from sample_header import (
    AZIMUTHS,
    BLEND,
    COLLECTOR,
    ID,
    MERGE,
    OD,
    PLATE,
    TRIM_AT,
    WALL,
    blend,
    blend_loops,
    gas_nodes,
    lobe_loop,
    loft,
    outlet_loop,
    runner_path,
    sample_design,
    stub,
    stub_planes,
)
from shapely.geometry import Polygon

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Plane, unit
from geomgen.profiles.loops import Arc, EllipseArc, Line, Profile, area, circle
from geomgen.recipe.nodes import Fuse, Placed, Prism, RuledWall, Section, Trim, Tube
from geomgen.solids._curves import location
from geomgen.solids.build import build
from geomgen.solids.errors import SolidError
from geomgen.solids.extent import extent_of
from geomgen.solids.measure import (
    bounds,
    explore,
    faces_of,
    is_closed,
    is_valid,
    solids_of,
    surface_kind,
    surface_kinds,
    volume,
)


def sound(solid):
    return len(solids_of(solid)) == 1 and is_closed(solid) and is_valid(solid) and volume(solid) > 0


def along(piece, count=500):
    f = np.arange(count) / count
    if isinstance(piece, Line):
        return np.outer(1 - f, piece.start) + np.outer(f, piece.end)
    return np.array([piece.at(t) for t in f])


def prismatoid(near, far, height):
    """h/6 (A0 + 4 Am + A1), exact for ruled sides; the middle section measured by shapely."""
    middle = [0.5 * (along(a) + along(b)) for a, b in zip(near, far, strict=True)]
    half_way = Polygon(np.concatenate(middle)).area
    return height / 6 * (area(near) + 4 * half_way + area(far))


@pytest.mark.parametrize("grow", [0.0, WALL])
def test_oval_to_round_is_a_prismatoid(grow):
    """Prismatoid formula (Simpson's rule, exact for ruled solids), a textbook result."""
    near, far = blend_loops(grow)
    wall = RuledWall((Section(Frame(), near), Section(Frame((0.0, 0.0, BLEND)), far)))
    solid = build(wall)
    assert sound(solid)
    assert volume(solid) == pytest.approx(prismatoid(near, far, BLEND), rel=1e-5)


def test_hollow_transition_is_outside_less_inside():
    solid = build(blend(2.0, hollow=True))
    skins = []
    for grow in (WALL, 0.0):
        near, far = blend_loops(grow)
        skins.append(area(near) * (PLATE - 2.0) + prismatoid(near, far, BLEND))
    assert sound(solid)
    assert volume(solid) == pytest.approx(skins[0] - skins[1], rel=1e-4)
    assert surface_kinds(solid) == {"plane", "cylinder", "bspline"}


def test_lobed_section_to_round_is_a_prismatoid():
    solid = build(loft(hollow=False))
    near, far = lobe_loop(ID / 2), outlet_loop(30.25)
    assert sound(solid)
    assert volume(solid) == pytest.approx(prismatoid(near, far, 90.0), rel=1e-5)
    assert sound(build(loft(hollow=True)))


@settings(max_examples=25, deadline=None)
@given(st.floats(5.0, 40.0), st.floats(5.0, 40.0), st.floats(10.0, 90.0))
def test_round_to_round_is_an_exact_frustum(r, s, height):
    """Frustum: pi h / 3 (r2 + r s + s2)."""
    wall = RuledWall(
        (
            Section(Frame(), circle((0.0, 0.0), r)),
            Section(Frame((0.0, 0.0, height)), circle((0.0, 0.0), s)),
        )
    )
    solid = build(wall)
    assert sound(solid)
    assert surface_kinds(solid) <= {"plane", "cone", "cylinder"}
    assert volume(solid) == pytest.approx(math.pi * height / 3 * (r * r + r * s + s * s), rel=1e-9)


def test_oblique_cone_has_the_volume_of_a_right_one():
    """Cavalieri: shifting the sections changes no volume."""
    wall = RuledWall(
        (
            Section(Frame(), circle((0.0, 0.0), 20.0)),
            Section(Frame((7.0, -4.0, 50.0)), circle((0.0, 0.0), 30.0)),
        )
    )
    solid = build(wall)
    assert sound(solid)
    wanted = math.pi * 50.0 / 3 * (400.0 + 600.0 + 900.0)
    assert volume(solid) == pytest.approx(wanted, rel=1e-8)


def d_port(grow):
    """D with sharp corners to round: the corners spread out to arcs."""
    w = 18.0 + 2.2 * grow
    port = (
        Line((-w, -10 - grow), (w, -10 - grow)),
        Line((w, -10 - grow), (w, -10 - grow)),
        Arc((0.0, -10 - grow), w, 0.0, math.pi),
        Line((-w, -10 - grow), (-w, -10 - grow)),
    )
    turns = [-math.pi / 2 - 0.4, -math.pi / 2 + 0.4, -0.1, math.pi + 0.1, 1.5 * math.pi - 0.4]
    end = tuple(Arc((0.0, 0.0), 20.0 + grow, a, b - a) for a, b in pairwise(turns))
    return port, end


def test_sharp_corners_spread_to_arcs():
    outer, inner = d_port(1.5), d_port(0.0)
    frames = (Frame(), Frame((0.0, 2.0, 50.0)))
    skins = [
        tuple(Section(f, loop) for f, loop in zip(frames, loops, strict=True))
        for loops in (outer, inner)
    ]
    solid = build(RuledWall(*skins))
    assert sound(solid)
    wanted = prismatoid(*outer, 50.0) - prismatoid(*inner, 50.0)
    assert volume(solid) == pytest.approx(wanted, rel=1e-4)


def test_wall_may_run_either_way_and_either_hand():
    near, far = blend_loops(0.0)
    up = RuledWall((Section(Frame(), near), Section(Frame((0.0, 0.0, 40.0)), far)))
    down = RuledWall((Section(Frame((0.0, 0.0, 40.0)), far), Section(Frame(), near)))
    mirror = Frame.facing((0.0, 0.0, 0.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0))
    back = RuledWall((Section(mirror, near), Section(mirror.moved(-40.0), far)))
    for wall in (down, back):
        assert sound(build(wall))
        assert volume(build(wall)) == pytest.approx(volume(build(up)), rel=1e-9)


def test_sections_that_do_not_match_are_refused():
    near, far = blend_loops(0.0)
    with pytest.raises(SolidError, match="cannot be joined"):
        build(RuledWall((Section(Frame(), near), Section(Frame((0.0, 0.0, 9.0)), far[:3]))))
    with pytest.raises(SolidError, match="two sections"):
        build(RuledWall((Section(Frame(), near),)))
    hollow = (Section(Frame(), near), Section(Frame((0.0, 0.0, 9.0)), far))
    with pytest.raises(SolidError, match="do not match"):
        build(RuledWall(hollow, hollow[:1]))


def rod(length=200.0, radius=20.0, inner=0.0):
    return Tube(Centreline(Frame((0.0, 0.0, -length / 2)), (Straight(length),)), radius, inner)


@settings(max_examples=20, deadline=None)
@given(st.floats(5.0, 70.0), st.floats(0.0, 2 * math.pi), st.floats(-10.0, 10.0))
def test_slanting_cut_of_a_rod(degrees, azimuth, height):
    """A plane cuts a cylinder in an ellipse of semi-axes r / cos and r; the volume behind it
    is that of the rod up to where the plane crosses the axis (both textbook results)."""
    lean = math.radians(degrees)
    normal = (
        math.sin(lean) * math.cos(azimuth),
        math.sin(lean) * math.sin(azimuth),
        math.cos(lean),
    )
    cut = build(Trim(rod(400.0), (Plane((0.0, 0.0, height), normal),)))
    assert sound(cut)
    assert volume(cut) == pytest.approx(math.pi * 400.0 * (200.0 + height), rel=1e-7)
    ovals = []
    for edge in explore(cut, TopAbs_ShapeEnum.TopAbs_EDGE):
        curve = BRepAdaptor_Curve(TopoDS.Edge_s(edge))
        if curve.GetType() == GeomAbs_CurveType.GeomAbs_Ellipse:
            ovals.append((curve.Ellipse().MajorRadius(), curve.Ellipse().MinorRadius()))
    assert ovals
    for major, minor in ovals:
        assert major == pytest.approx(20.0 / math.cos(lean), rel=1e-7)
        assert minor == pytest.approx(20.0, rel=1e-9)


@pytest.mark.parametrize("degrees", [10.0, 45.0, 70.0])
def test_hoof_of_a_cylinder(degrees):
    """Archimedes' hoof: a plane through a diameter of the base leaves 2/3 r3 tan."""
    lean = math.radians(degrees)
    planes = (
        Plane((0.0, 0.0, 0.0), (0.0, 0.0, -1.0)),
        Plane((0.0, 0.0, 0.0), (-math.sin(lean), 0.0, math.cos(lean))),
    )
    hoof = build(Trim(rod(400.0), planes))
    assert sound(hoof)
    assert volume(hoof) == pytest.approx(2 / 3 * 20.0**3 * math.tan(lean), rel=1e-6)


def test_hoof_with_planes_through_one_point_in_any_order():
    planes = stub_planes(0)
    one = build(stub(0, 21.0, 22.5))
    other = build(Trim(stub(0, 21.0, 22.5).node, planes[::-1]))
    assert volume(one) == pytest.approx(volume(other), rel=1e-7)


@pytest.mark.parametrize("k", range(4))
def test_merge_stub_is_one_closed_solid_behind_its_planes(k):
    solid = build(stub(k, ID / 2, OD / 2))
    assert sound(solid)
    assert surface_kinds(solid) == {"plane", "cylinder"}
    for plane in stub_planes(k):
        assert extent_of(solid).heights(plane)[1] == pytest.approx(0.0, abs=1e-6)


def test_coped_bores_add_up_to_the_layers_between_them():
    """Beyond the lowest point of every end face, the four bores fill the lobed section: the
    volume of one layer is that section's area integrated by Simpson's rule (quadratic)."""
    low, high = 60.0, TRIM_AT
    layer = Plane(COLLECTOR.moved(low).origin, tuple(-c for c in COLLECTOR.z))
    total = sum(volume(build(Trim(stub(k, 0.0, ID / 2), (layer,)))) for k in range(len(AZIMUTHS)))
    stations = np.linspace(low, high, 41)
    areas = [_lobed_area(z) for z in stations]
    step = stations[1] - stations[0]
    simpson = step / 3 * (areas[0] + 4 * sum(areas[1:-1:2]) + 2 * sum(areas[2:-1:2]) + areas[-1])
    assert total == pytest.approx(simpson, rel=1e-5)


def _lobed_area(z):
    """Area of four ellipses' union, each cut to its quarter, by shapely."""
    reach = 34.0 - z * math.tan(MERGE)
    a, b = ID / 2 / math.cos(MERGE), ID / 2
    t = np.linspace(0, 2 * math.pi, 4000, endpoint=False)
    oval = Polygon(np.column_stack((reach + a * np.cos(t), b * np.sin(t))))
    quarter = Polygon([(0, 0), (200, -200), (200, 200)])
    return 4 * oval.intersection(quarter).area


def test_a_trim_that_leaves_nothing_or_two_pieces_is_refused():
    with pytest.raises(SolidError, match="leave"):
        build(Trim(rod(), (Plane((0.0, 0.0, -300.0), (0.0, 0.0, 1.0)),)))
    corners = [(0, 0), (30, 0), (30, 30), (20, 30), (20, 10), (10, 10), (10, 30), (0, 30)]
    u_shape = tuple(Line(a, b) for a, b in pairwise([*corners, corners[0]]))
    across = Plane((0.0, 20.0, 0.0), (0.0, -1.0, 0.0))
    with pytest.raises(SolidError, match="2 solids"):
        build(Trim(Prism(Frame(), Profile(u_shape), 5.0), (across,)))


def test_a_trim_plane_that_misses_changes_nothing():
    far = Plane((0.0, 0.0, 500.0), unit((0.1, 0.2, 1.0)))
    assert volume(build(Trim(rod(), (far,)))) == pytest.approx(volume(build(rod())), rel=1e-9)


def test_gas_volume_is_one_solid_of_all_its_bores():
    gas = build(sample_design().gases[0].node)
    pieces = [build(node) for node in gas_nodes()]
    assert sound(gas)
    assert volume(gas) == pytest.approx(sum(volume(piece) for piece in pieces), rel=1e-8)
    flats = [face for face in faces_of(gas) if surface_kind(face) == "plane"]
    # four inlets, two flanks and two triangles on each transition, the outlet
    assert len(flats) == 4 + 4 * (2 + 2) + 1


def test_rod_standing_on_a_larger_face_is_fused_too():
    """The joint's sides differ in area, so sewing will not do."""
    square = (
        Line((-30.0, -30.0), (30.0, -30.0)),
        Line((30.0, -30.0), (30.0, 30.0)),
        Line((30.0, 30.0), (-30.0, 30.0)),
        Line((-30.0, 30.0), (-30.0, -30.0)),
    )
    block = Prism(Frame(), Profile(square), 20.0)
    standing = Tube(Centreline(Frame((0.0, 0.0, 20.0)), (Straight(50.0),)), 10.0)
    solid = build(Fuse((block, standing)))
    assert sound(solid)
    assert volume(solid) == pytest.approx(60.0 * 60.0 * 20.0 + math.pi * 100.0 * 50.0, rel=1e-9)


def test_solids_that_do_not_touch_cannot_be_fused():
    lone = Placed(rod(), Frame((500.0, 0.0, 0.0)))
    with pytest.raises(SolidError, match="2 solids"):
        build(Fuse((rod(), lone)))


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["tube", "stub", "loft", "blend"]),
    st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.1),
)
def test_extent_in_closed_form_agrees_with_the_kernels_bounds(which, direction):
    """The kernel's optimal bounds, turned so that its z is the plane's normal."""
    node = {
        "tube": Tube(runner_path(1), 22.5, 21.0),
        "stub": stub(1, 21.0, 22.5),
        "loft": loft(hollow=True),
        "blend": blend(2.0, hollow=True),
    }[which]
    plane = Plane((10.0, -20.0, 30.0), unit(direction))
    low, high = extent_of(build(node)).heights(plane)
    frame = Frame.facing(plane.point, plane.normal)
    box = bounds(build(node).Moved(location(frame).Inverted()))
    assert low == pytest.approx(box.low[2], abs=2e-3)
    assert high == pytest.approx(box.high[2], abs=2e-3)


def test_ellipse_with_the_longer_axis_second_is_the_same_curve():
    tall = EllipseArc((0.0, 0.0), 10.0, 20.0, 0.3, 0.0, 2 * math.pi / 2)
    rest = EllipseArc((0.0, 0.0), 10.0, 20.0, 0.3, math.pi, math.pi)
    wide = EllipseArc((0.0, 0.0), 20.0, 10.0, 0.3 + math.pi / 2, -math.pi / 2, math.pi)
    rest_wide = EllipseArc((0.0, 0.0), 20.0, 10.0, 0.3 + math.pi / 2, math.pi / 2, math.pi)
    solids = []
    for loop in ((tall, rest), (wide, rest_wide)):
        near, far = Section(Frame(), loop), Section(Frame((0.0, 0.0, 30.0)), loop)
        solids.append(build(RuledWall((near, far))))
    for solid in solids:
        assert sound(solid)
        assert volume(solid) == pytest.approx(math.pi * 200.0 * 30.0, rel=1e-6)
