"""Tubes and plates against areas, lengths and theorems that are not ours."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
)
from OCP.gp import gp_Circ, gp_Pnt

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, Plane, distance
from geomgen.profiles.loops import Arc, Line, Profile, circle, profile_area, slot
from geomgen.recipe.nodes import Placed, Prism, Tube
from geomgen.solids import _tubes
from geomgen.solids.build import build
from geomgen.solids.errors import SolidError
from geomgen.solids.extent import extent_of
from geomgen.solids.measure import (
    area,
    bounds,
    faces_of,
    is_closed,
    is_valid,
    measured,
    solids_of,
    surface_kinds,
    volume,
)

angles = st.floats(math.radians(3), math.radians(175))
rolls = st.floats(-math.pi, math.pi)
straights = st.floats(0.0, 200.0)


@st.composite
def paths(draw):
    pieces = [Straight(draw(straights))]
    for _ in range(draw(st.integers(1, 5))):
        pieces.append(Bend(draw(st.sampled_from([48.0, 67.5, 95.0])), draw(angles), draw(rolls)))
        pieces.append(Straight(draw(straights)))
    origin = draw(st.tuples(*[st.floats(-500, 500)] * 3))
    z = draw(st.sampled_from([(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.6, -0.64, 0.48)]))
    return Centreline(Frame.facing(origin, z), tuple(pieces))


@settings(max_examples=30, deadline=None)
@given(paths(), st.sampled_from([0.0, 21.0]))
def test_swept_volume_is_area_times_length(path, inner):
    """Pappus of Alexandria's second theorem."""
    solid = build(Tube(path, 22.5, inner))
    wanted = math.pi * (22.5**2 - inner**2) * path.length
    assert volume(solid) == pytest.approx(wanted, rel=1e-9)
    assert surface_kinds(solid) <= {"plane", "cylinder", "torus"}
    assert is_closed(solid)
    assert is_valid(solid)
    assert len(solids_of(solid)) == 1


@pytest.mark.parametrize("sliver", [1e-8, 1e-6, 1e-5, 1e-4, 5e-4])
def test_slivers_of_straights_do_no_harm(sliver):
    """The kernel's sweep loses pieces below 1e-4 mm; a router may well leave some."""
    pieces = (Straight(sliver), Bend(67.5, 1.0), Straight(sliver), Bend(67.5, 0.7, 1.0))
    path = Centreline(Frame((5.0, 6.0, 7.0)), (*pieces, Straight(sliver)))
    solid = build(Tube(path, 22.5, 21.0))
    wanted = math.pi * (22.5**2 - 21.0**2) * path.length
    assert volume(solid) == pytest.approx(wanted, rel=1e-8)
    assert is_closed(solid)
    assert extent_of(solid).heights(Plane(path.end.origin, path.end.z))[1] < 1e-6


def test_bend_of_handbook_size():
    """OD 42.2 x 1.65, CLR 63.3, 90 degrees: 20 900.0951 mm3 by Pappus and by another kernel run."""
    path = Centreline(Frame(), (Bend(63.3, math.pi / 2),))
    assert volume(build(Tube(path, 21.1, 19.45))) == pytest.approx(20900.0951, abs=1e-4)


def test_mass_of_a_metre_of_tube():
    """45 x 1.5 in 304 (7.9 kg/dm3): 1.6194 kg/m by pi (OD - t) t rho."""
    path = Centreline(Frame(), (Straight(1000.0),))
    assert volume(build(Tube(path, 22.5, 21.0))) * 7.9e-6 == pytest.approx(1.6194, rel=1e-4)


def test_a_section_beside_the_path_is_refused(monkeypatch):
    """Such a sweep is valid to the kernel; only its volume gives it away."""

    def shifted(node, _):
        moved = Frame((6.0, 2.0, 3.0))
        face = BRepBuilderAPI_MakeFace(
            BRepBuilderAPI_MakeWire(
                BRepBuilderAPI_MakeEdge(gp_Circ(_tubes.axes(moved), node.outer_radius)).Edge()
            ).Wire()
        )
        return face.Face()

    monkeypatch.setattr(_tubes, "_ring", shifted)
    path = Centreline(Frame((1.0, 2.0, 3.0)), (Straight(80.0), Bend(67.5, 1.0), Straight(50.0)))
    with pytest.raises(SolidError, match="not exact"):
        _tubes.tube(Tube(path, 22.5))


def test_a_kinked_path_is_refused(monkeypatch):
    def kinked(_):
        points = [(0.0, 0.0, 0.0), (0.0, 0.0, 100.0), (2.0, 0.0, 200.0)]
        maker = BRepBuilderAPI_MakeWire()
        for a, b in pairwise(points):
            maker.Add(BRepBuilderAPI_MakeEdge(gp_Pnt(*a), gp_Pnt(*b)).Edge())
        return maker.Wire()

    monkeypatch.setattr(_tubes, "_spine", kinked)
    path = Centreline(Frame(), (Straight(200.0),))
    with pytest.raises(SolidError, match="not exact"):
        _tubes.tube(Tube(path, 22.5, 21.0))


def test_empty_pieces_and_split_straights_change_nothing():
    bends = (Bend(67.5, 1.2, 0.4), Bend(67.5, 0.7, -1.1))
    plain = Centreline(
        Frame(), (Straight(40.0), bends[0], Straight(30.0), bends[1], Straight(20.0))
    )
    fussy = Centreline(
        Frame(),
        (
            Straight(0.0),
            Straight(15.0),
            Straight(25.0),
            Bend(67.5, 0.0, 0.3),
            Bend(67.5, 1.2, 0.1),
            Straight(30.0),
            Straight(0.0),
            bends[1],
            Straight(20.0),
        ),
    )
    one, other = build(Tube(plain, 22.5, 21.0)), build(Tube(fussy, 22.5, 21.0))
    assert len(faces_of(one)) == len(faces_of(other)) == 2 * 5 + 2
    assert measured(other).volume == pytest.approx(measured(one).volume, rel=1e-12)
    assert distance(measured(other).centre, measured(one).centre) < 1e-9


@pytest.mark.parametrize(
    ("pieces", "outer", "inner", "says"),
    [
        ((), 22.5, 21.0, "some length"),
        ((Straight(-1.0),), 22.5, 21.0, "negative"),
        ((Straight(10.0),), 21.0, 22.5, "no tube"),
        ((Bend(22.0, 1.0),), 22.5, 21.0, "too tight"),
    ],
)
def test_impossible_tubes_are_refused(pieces, outer, inner, says):
    with pytest.raises(SolidError, match=says):
        build(Tube(Centreline(Frame(), pieces), outer, inner))


def test_equal_nodes_share_one_shape_and_placed_nodes_their_geometry():
    def node():
        return Tube(Centreline(Frame(), (Straight(10.0), Bend(67.5, 1.0))), 22.5, 21.0)

    assert build(node()) is build(node())
    at = Frame.facing((10.0, 20.0, 30.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    placed = build(Placed(node(), at))
    assert placed.IsPartner(build(node()))
    assert distance(measured(placed).centre, at.point(measured(build(node())).centre)) < 1e-9


def plate():
    outer = (
        Line((-60.0, -40.0), (60.0, -40.0)),
        Arc((60.0, 0.0), 40.0, -math.pi / 2, math.pi),
        Line((60.0, 40.0), (-60.0, 40.0)),
        Arc((-60.0, 0.0), 40.0, math.pi / 2, math.pi),
    )
    clockwise = tuple(Arc((60.0, 0.0), 4.5, -a, -math.pi) for a in (0.0, math.pi))
    return Profile(outer, (slot(48.0, 40.0), clockwise, circle((-60.0, 0.0), 4.5)))


def test_plate_volume_is_profile_area_times_thickness():
    """Area by Green's theorem; the same by hand: stadium less stadium less two circles."""
    solid = build(Prism(Frame(), plate(), 10.0))
    by_hand = 120 * 80 + math.pi * 40**2 - (8 * 40 + math.pi * 20**2) - 2 * math.pi * 4.5**2
    assert volume(solid) == pytest.approx(by_hand * 10.0, rel=1e-12)
    assert profile_area(plate()) == pytest.approx(by_hand, rel=1e-12)
    assert is_valid(solid)
    assert is_closed(solid)


def test_a_round_hole_is_one_cylinder_face():
    kinds = faces_of(build(Prism(Frame(), plate(), 10.0)))
    # 4 sides of the outline, 4 of the window, one each hole, two flats
    assert len(kinds) == 4 + 4 + 2 + 2
    assert surface_kinds(build(Prism(Frame(), plate(), 10.0))) == {"plane", "cylinder"}


def test_a_plate_lies_where_its_frame_is():
    frame = Frame.facing((0.0, 0.0, 5.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    box = bounds(build(Prism(frame, plate(), 10.0)))
    assert box.low == pytest.approx((-40.0, -100.0, 5.0), abs=1e-6)
    assert box.high == pytest.approx((40.0, 100.0, 15.0), abs=1e-6)


def test_open_loop_and_no_thickness_are_refused():
    gaping = Profile((Line((0.0, 0.0), (9.0, 0.0)), Line((9.0, 0.0), (0.0, 9.0))))
    with pytest.raises(SolidError, match="open"):
        build(Prism(Frame(), gaping, 10.0))
    with pytest.raises(SolidError, match="no solid"):
        build(Prism(Frame(), plate(), 0.0))


def test_area_of_a_tube_of_both_skins_and_ends():
    solid = build(Tube(Centreline(Frame(), (Straight(100.0),)), 10.0, 8.0))
    wanted = 2 * math.pi * 18.0 * 100.0 + 2 * math.pi * (100.0 - 64.0)
    assert area(solid) == pytest.approx(wanted, rel=1e-12)
