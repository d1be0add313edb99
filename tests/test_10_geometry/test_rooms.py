"""Room for tools: bounds on clearances against the kernel, an open spanner's sweep by poses."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.geometry.fields import Box, Cylinder, HalfSpace, Swing
from geomgen.geometry.frames import Frame
from geomgen.geometry.rooms import Room, around, ball, bar_box, clearance
from geomgen.geometry.spanner import OpenEnd

coordinate = st.floats(-40.0, 40.0)
point = st.tuples(coordinate, coordinate, coordinate)
bars = st.builds(Cylinder, point, point, st.floats(3.0, 15.0)).filter(
    lambda bar: math.dist(bar.begin, bar.end) > 5.0
)


def room_of(bar: Cylinder) -> Room:
    return Room(bar, bar_box(bar.begin, bar.end, bar.radius))


def kernel_bar(bar: Cylinder):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    way = np.subtract(bar.end, bar.begin)
    axis = gp_Ax2(gp_Pnt(*bar.begin), gp_Dir(*(way / np.linalg.norm(way))))
    return BRepPrimAPI_MakeCylinder(axis, bar.radius, float(np.linalg.norm(way))).Solid()


def kernel_distance(one, two) -> float:
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape

    found = BRepExtrema_DistShapeShape(one, two)
    assert found.IsDone()
    return float(found.Value())


@settings(max_examples=25)
@given(bars, bars)
def test_clearance_of_two_bars_is_the_kernels(one, two):
    """BRepExtrema of two solid cylinders; overlapping solids are 0 apart to the kernel."""
    apart = kernel_distance(kernel_bar(one), kernel_bar(two))
    lower, upper = clearance(room_of(one), two, math.inf, 0.5)
    assert lower <= apart + 1e-6
    if apart > 1e-6:
        assert upper >= apart - 1e-6
        assert upper - lower <= 0.5 + 1e-6
    else:
        assert lower <= 0.0


@settings(max_examples=25)
@given(bars, st.tuples(point, st.tuples(*[st.floats(5.0, 60.0)] * 3)))
def test_clearance_of_a_bar_from_a_box_is_the_kernels(bar, said):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.gp import gp_Pnt

    low, size = said
    box = Box(low, tuple(a + b for a, b in zip(low, size, strict=True)))
    solid = BRepPrimAPI_MakeBox(gp_Pnt(*box.low), gp_Pnt(*box.high)).Solid()
    apart = kernel_distance(kernel_bar(bar), solid)
    lower, upper = clearance(room_of(bar), box, math.inf, 0.5)
    assert lower <= apart + 1e-6
    assert upper >= apart - 1e-6 or apart <= 1e-9  # in one another, to the kernel


@given(bars, bars, st.floats(0.5, 30.0))
def test_enough_is_enough(one, two, enough):
    """Asked only whether there is enough, the answer agrees with the full one."""
    lower, upper = clearance(room_of(one), two, math.inf, 0.25)
    short, certain = clearance(room_of(one), two, enough, 0.25)
    if lower >= enough + 0.25:
        assert short >= enough
    if upper < enough - 0.25:
        assert short < enough
        assert certain < enough


def test_depth_inside_a_half_space_is_the_deepest_points():
    """A bar of 10 mm across, standing 7 mm deep in a wall, by hand."""
    bar = Cylinder((0.0, 0.0, -7.0), (0.0, 0.0, 30.0), 5.0)
    wall = HalfSpace((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    lower, upper = clearance(room_of(bar), wall, 1.0, 0.2)
    assert lower <= -7.0 <= upper <= -6.8


@given(bars, st.integers(0, 2**32 - 1))
def test_a_bars_box_holds_it_and_touches_it(bar, seed):
    box = bar_box(bar.begin, bar.end, bar.radius)
    rng = np.random.default_rng(seed)
    axis = np.subtract(bar.end, bar.begin)
    axis = axis / np.linalg.norm(axis)
    side = rng.normal(size=(4000, 3))
    side -= np.outer(side @ axis, axis)
    rim = bar.radius * side / np.linalg.norm(side, axis=1)[:, None]
    points = np.concatenate([rim + bar.begin, rim + bar.end])
    assert (points >= np.array(box.low) - 1e-9).all()
    assert (points <= np.array(box.high) + 1e-9).all()
    assert points.min(axis=0) == pytest.approx(np.array(box.low), abs=0.2)
    assert points.max(axis=0) == pytest.approx(np.array(box.high), abs=0.2)


def test_a_ball_and_a_box_hold_their_boxes():
    one, two = Box((0.0, 0.0, 0.0), (2.0, 4.0, 4.0)), Box((-1.0, 1.0, 1.0), (1.0, 2.0, 9.0))
    assert around(one, two) == Box((-1.0, 0.0, 0.0), (2.0, 4.0, 9.0))
    assert ball(one) == ((1.0, 2.0, 2.0), pytest.approx(3.0))


SPANNER = OpenEnd(
    frame=Frame((3.0, -2.0, 5.0), (math.cos(0.4), math.sin(0.4), 0.0)),
    reach=120.0,
    half_angle=math.radians(15.0),
    half_width=6.0,
    half_thickness=3.0,
    head=14.0,
    slide=28.0,
    offset=math.radians(15.0),
)


def poses(spanner: OpenEnd) -> list[tuple[float, np.ndarray]]:
    """Heading of the handle and shift of the spanner, all through swing and sliding."""
    found = [(a, np.zeros(2)) for a in np.linspace(-spanner.half_angle, spanner.half_angle, 121)]
    for end in (-spanner.half_angle, spanner.half_angle):
        for jaws in (end - spanner.offset, end + spanner.offset):
            way = np.array([math.cos(jaws), math.sin(jaws)])
            found += [(end, t * way) for t in np.linspace(0.0, spanner.slide, 57)]
    return found


def flat_distance_by_poses(spanner: OpenEnd, flat: np.ndarray) -> np.ndarray:
    """Distance from the spanner's outline, the nearest of all its poses."""
    best = np.full(len(flat), np.inf)
    for heading, shift in poses(spanner):
        moved = flat - shift
        way = np.array([math.cos(heading), math.sin(heading)])
        along = np.clip(moved @ way, 0.0, spanner.reach)
        handle = np.linalg.norm(moved - along[:, None] * way, axis=1) - spanner.half_width
        head = np.linalg.norm(moved, axis=1) - spanner.head
        best = np.minimum(best, np.minimum(handle, head))
    return best


@pytest.mark.parametrize("swing", [10.0, 30.0, 60.0, 120.0])
def test_an_open_spanner_sweeps_what_its_poses_do(swing):
    spanner = OpenEnd(
        **{
            **{name: getattr(SPANNER, name) for name in SPANNER.__dataclass_fields__},
            "half_angle": math.radians(swing / 2.0),
        }
    )
    rng = np.random.default_rng(7)
    flat = rng.uniform(-180.0, 180.0, size=(3000, 2))
    x, y = np.array(spanner.frame.x), np.array(spanner.frame.y)
    points = np.array(spanner.frame.origin) + flat[:, :1] * x + flat[:, 1:] * y
    swept = spanner.distance(points)
    truth = flat_distance_by_poses(spanner, flat)
    outside = truth > 0.0
    # Poses are up to half a degree apart: at the handle's end that is half a millimetre.
    assert swept[outside] == pytest.approx(truth[outside], abs=0.6)
    assert (swept[outside] <= truth[outside] + 1e-9).all()
    assert (swept[truth < -0.6] <= 0.0).all()


def test_an_open_spanner_is_as_thick_as_it_is():
    above = np.array([SPANNER.frame.point((60.0, 0.0, 3.0 + 4.0))])
    assert SPANNER.distance(above)[0] == pytest.approx(4.0)


def test_an_open_spanner_needs_more_room_than_a_ring_that_swings_alike():
    ring = Swing(SPANNER.frame, 120.0, SPANNER.half_angle, 6.0, 3.0, 14.0)
    rng = np.random.default_rng(3)
    points = rng.uniform(-160.0, 160.0, size=(2000, 3))
    assert (SPANNER.distance(points) <= ring.distance(points) + 1e-9).all()


@given(st.integers(0, 2**32 - 1))
def test_a_field_changes_no_faster_than_one_moves(seed):
    rng = np.random.default_rng(seed)
    a = rng.uniform(-160.0, 160.0, size=(200, 3))
    b = a + rng.normal(size=(200, 3)) * 3.0
    moved = np.linalg.norm(a - b, axis=1)
    assert (np.abs(SPANNER.distance(a) - SPANNER.distance(b)) <= moved + 1e-9).all()
