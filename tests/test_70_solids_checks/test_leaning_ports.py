"""Ports that lean: the tube goes through its window with its fit, and metal and gas are whole."""

import math
from types import SimpleNamespace

import pytest
from flat_demo import Cutter, wanted
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepExtrema import BRepExtrema_DistShapeShape

from geomgen.design.assembly import gas_volumes
from geomgen.design.flange import head_plates
from geomgen.design.transitions import transition
from geomgen.design.windows import TOLERANCE
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame
from geomgen.profiles.convex import hull_of_circles, offset
from geomgen.profiles.loops import Profile, area, circle, slot
from geomgen.recipe.nodes import NamedFace, Prism, RuledWall, Section
from geomgen.solids.build import build
from geomgen.solids.find import outward_plane
from geomgen.solids.measure import faces_of, is_closed, is_valid, measured, surface_kind

FACE = Frame()
WALL, FIT, PLATE, BACK, LENGTH = 1.5, 0.3, 10.0, 2.0, 45.0
OUTER, INNER = 22.5, 21.0
RECTANGLE = hull_of_circles([((x, y), 6.0) for x in (-14, 14) for y in (-10, 10)])
SHAPES = {"oval": slot(45.0, 37.0), "round": circle((0.0, 0.0), 20.7), "rectangle": RECTANGLE}


def way(degrees, heading):
    lean, towards = math.radians(degrees), math.radians(heading)
    return (
        math.sin(lean) * math.cos(towards),
        math.sin(lean) * math.sin(towards),
        math.cos(lean),
    )


def asked(loop, direction, **said):
    return wanted(ports=1, loop=loop, directions=[direction], frame=FACE, **said)


@pytest.mark.parametrize(
    ("shape", "degrees", "heading"),
    [
        ("oval", 5.0, 270.0),
        ("oval", 35.0, 61.0),
        ("round", 20.0, 200.0),
        ("rectangle", 30.0, 250.0),
        ("rectangle", 12.0, 180.0),
    ],
)
def test_the_tube_goes_through_with_its_fit_all_round(shape, degrees, heading):
    """The kernel's distance from the leaning tube's skin to the plate is half the fit."""
    direction = way(degrees, heading)
    want = asked(SHAPES[shape], direction)
    (plate,) = head_plates(want, Cutter(1.5, 1.5))
    # a plain wide plate: only the window counts here
    solid = build(Prism(FACE, Profile(circle((0.0, 0.0), 90.0), plate.windows), PLATE))
    skin = offset(SHAPES[shape], WALL)
    frame = want.ports[0].frame
    ends = (Section(frame.moved(-60.0), skin), Section(frame.moved(80.0), skin))
    tube = build(RuledWall(ends))
    apart = BRepExtrema_DistShapeShape(solid, tube).Value()
    assert FIT / 2.0 - 1e-6 <= apart <= FIT / 2.0 + TOLERANCE
    # and one that is half a fit larger all round, and the arcs' tolerance, touches it
    grown = offset(SHAPES[shape], WALL + FIT / 2.0 + TOLERANCE + 1e-3)
    larger = build(RuledWall(tuple(Section(end.frame, grown) for end in ends)))
    assert BRepExtrema_DistShapeShape(solid, larger).Value() < 1e-9


@pytest.mark.parametrize(("degrees", "heading"), [(25.0, 250.0)])
def test_a_butt_window_lets_the_port_through(degrees, heading):
    direction = way(degrees, heading)
    want = asked(SHAPES["oval"], direction, window="butt")
    (plate,) = head_plates(want, Cutter(1.5, 1.5))
    solid = build(Prism(FACE, Profile(circle((0.0, 0.0), 90.0), plate.windows), PLATE))
    frame = want.ports[0].frame
    loop = SHAPES["oval"]
    bore = build(RuledWall((Section(frame.moved(-60.0), loop), Section(frame.moved(80.0), loop))))
    assert BRepExtrema_DistShapeShape(solid, bore).Value() <= TOLERANCE
    assert abs(measured(BRepAlgoAPI_Common(solid, bore).Shape()).volume) < 1e-3


@pytest.mark.parametrize(("degrees", "set_back"), [(0.0, BACK), (12.0, PLATE), (30.0, BACK)])
def test_metal_and_gas_of_a_leaning_end_by_cavalieri(degrees, set_back):
    """Cut aslant through its middle a prism keeps area x length along its axis.

    The oval's centre is its axis, so the formed end between the set-back and its square end
    is ``ring area x (end - set_back / cos lean)`` longer than the blend alone, and the gas
    ``port area x end``.
    """
    port = asked(SHAPES["oval"], way(degrees, 250.0)).ports[0]
    made = transition(port, OUTER, INNER, PLATE, set_back, LENGTH, FACE)
    metal, gas = build(made.metal), build(made.gas)
    for solid in (metal, gas):
        assert is_valid(solid)
        assert is_closed(solid)
    straight = transition(port, OUTER, INNER, PLATE, PLATE, LENGTH)  # the blend alone
    blend = measured(build(straight.metal)).volume
    bore = measured(build(straight.gas)).volume - area(port.loop) * PLATE
    ring = area(offset(port.loop, OUTER - INNER)) - area(port.loop)
    along = set_back / math.cos(math.radians(degrees))
    assert measured(metal).volume == pytest.approx(blend + ring * (made.plate - along), rel=1e-6)
    assert measured(gas).volume == pytest.approx(bore + area(port.loop) * made.plate, rel=1e-6)


def test_a_leaning_formed_end_clears_the_plate_before_it_blends():
    port = asked(SHAPES["oval"], way(30.0, 270.0)).ports[0]
    made = transition(port, OUTER, INNER, PLATE, BACK, LENGTH, FACE)
    skin = offset(port.loop, OUTER - INNER)
    end = port.frame.moved(made.plate)
    heights = [end.point((*piece.start, 0.0))[2] for piece in skin]
    assert min(heights) > PLATE + 1.0
    assert made.face == FACE.z
    assert transition(port, OUTER, INNER, PLATE, BACK, LENGTH).face is None


def test_the_gas_of_a_leaning_port_begins_at_the_gasket_face():
    port = asked(SHAPES["oval"], way(25.0, 270.0)).ports[0]
    made = transition(port, OUTER, INNER, PLATE, BACK, LENGTH, FACE)
    path = Centreline(made.exit, (Straight(80.0),))
    section = SimpleNamespace(path=path, inner=(INNER, INNER), is_step=False)
    runner = SimpleNamespace(cylinder=1, slot=0, transition=made, tubes=(section,))
    outlet = NamedFace("OUTLET", path.end.origin, path.end.z)
    scroll = SimpleNamespace(name="", slots=(0,), links=(), gas=(), outlets=(outlet,))
    (part,) = gas_volumes("x", (runner,), (), SimpleNamespace(scrolls=(scroll,)))
    inlet = part.faces[0]
    assert inlet.normal == pytest.approx((0.0, 0.0, -1.0))
    flat = [f for f in faces_of(build(part.node)) if surface_kind(f) == "plane"]
    planes = [outward_plane(f) for f in flat]
    on_face = [p for p in planes if abs(p.height(inlet.point)) < 1e-6 and p.normal[2] < -0.999999]
    assert len(on_face) == 1
