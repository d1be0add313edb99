"""Flanges and rings: outlines, windows and bolts against the geometry of plane figures."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union

from geomgen.design.plating import upright
from geomgen.families import Asked, Start, TubeSize, merge
from geomgen.fasteners import FASTENERS
from geomgen.geometry.frames import Frame, scale
from geomgen.plates import NoPlate, Pipe, collector, rectangular, vband, wastegate
from geomgen.plates import round as round_plate
from geomgen.plates._bolts import TAP_DRILLS, thread_size
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import gap, inside, is_simple, loop_to_loop, point_to_loop
from geomgen.profiles.loops import Arc, Line, area, bounding_box
from geomgen.registry import plugins

HOME = Frame()
THREADS = st.sampled_from(sorted(FASTENERS))
SHEET = {"name": "it", "thickness": 10, "material": "304"}


def flange(**said):
    pipe, edge = said.pop("pipe", None), said.pop("edge_factor", 1.5)
    spec = round_plate.Spec(kind="round", **{**SHEET, **said})
    return round_plate.plate(spec, HOME, pipe, edge)


def inlet(**said):
    return rectangular.plate(rectangular.Spec(kind="rectangular", **{**SHEET, **said}), HOME)


def gate(**said):
    return wastegate.plate(wastegate.Spec(kind="wastegate", **{**SHEET, **said}), HOME)


def tubes(**said):
    return collector.plate(collector.Spec(kind="collector", **{**SHEET, **said}), HOME)


def polygon(loop, steps=200):
    return Polygon([point_at(piece, i / steps) for piece in loop for i in range(steps)])


def assert_sound(plate):
    """Closed, simple, counter-clockwise; every opening inside, apart, the same way round."""
    for loop in (plate.outer, *plate.windows):
        assert gap(loop) < 1e-9
        assert is_simple(loop)
        assert area(loop) > 0.0
    for window in plate.windows:
        assert inside(window[0].start, plate.outer)
        assert loop_to_loop(window, plate.outer) > 0.0
    for hole in plate.holes:
        assert inside(hole.at, plate.outer)
        assert all(not inside(hole.at, window) for window in plate.windows)


def assert_has_bosses(plate):
    """Bolts keep the land of washer and tool, and 1.5 times their hole, to the edge."""
    for hole in plate.holes:
        assert point_to_loop(hole.at, plate.outer) >= hole.boss - 1e-6
        assert hole.boss >= 1.5 * hole.diameter - 1e-9
        if hole.kind == "clearance":  # ISO 7089 washers lie on the plate
            assert hole.boss >= FASTENERS[hole.thread].washer_od / 2.0


def refused(make, **said):
    with pytest.raises(NoPlate) as caught:
        make(**said)
    assert caught.value.found
    assert caught.value.allowed
    assert caught.value.remedy
    return caught.value.key


def test_every_kind_names_itself_in_its_spec():
    found = plugins("geomgen.plates", "KIND")
    assert {"rectangular", "round", "vband", "wastegate", "collector"} <= set(found)
    assert {"blanking", "test", "gasket"} <= set(found)
    for kind, module in found.items():
        assert module.Spec.model_fields["kind"].annotation.__args__ == (kind,)


@given(
    count=st.integers(2, 12),
    circle=st.floats(60.0, 250.0),
    phase=st.floats(-180.0, 180.0),
    roll=st.floats(-180.0, 180.0),
    share=st.floats(0.2, 1.0),
    land=st.floats(3.0, 30.0),
    thread=THREADS,
    waist=st.sampled_from([None, 2000.0]),
)
def test_round_flanges(count, circle, phase, roll, share, land, thread, waist):
    hole = FASTENERS[thread].medium
    assume(2 * circle / 2 * math.sin(math.pi / count) > hole + 1.0)
    plate = flange(
        bolts={"count": count, "circle": circle, "phase": phase, "thread": thread},
        bore=share * (circle - hole - 2.0),
        land=land,
        roll=roll,
        waist=waist,
    )
    assert_sound(plate)
    assert_has_bosses(plate)
    for k, hole in enumerate(plate.holes):
        # clockwise from the top as seen from the tube side: x to the right, y up
        way = math.radians(phase + roll) + math.tau * k / count
        wanted = (circle / 2 * math.sin(way), circle / 2 * math.cos(way))
        assert math.dist(hole.at, wanted) < 1e-9
    assert loop_to_loop(plate.windows[0], plate.outer) >= land - 1e-6


@given(count=st.integers(3, 9), circle=st.floats(80.0, 200.0), thread=THREADS)
def test_a_hull_of_equal_bosses_grows_by_steiner(count, circle, thread):
    """Polygon + perimeter r + pi r^2 (Steiner), where the window's land does not stick out."""
    plate = flange(bolts={"count": count, "circle": circle, "thread": thread}, bore=10.0, land=1.0)
    r, rho, half = plate.holes[0].boss, circle / 2, math.pi / count
    assume(rho * math.cos(half) + r > 6.0)
    side = 2 * rho * math.sin(half)
    polygon_area = count * side * rho * math.cos(half) / 2
    wanted = polygon_area + count * side * r + math.pi * r * r
    assert area(plate.outer) == pytest.approx(wanted, rel=1e-12)
    assert sum(isinstance(piece, Arc) for piece in plate.outer) == count


def test_two_bolts_make_an_oval_and_three_a_triangle():
    oval = flange(bolts={"count": 2, "circle": 96, "phase": 90, "thread": "M8"}, bore=60.0)
    box = bounding_box(oval.outer)
    assert (box.width, box.height) == pytest.approx((96 + 2 * 13.5, 76))
    # bosses 13.5 (1.5 times a hole of 9), window 30 + 8: four common tangents, as shapely sees it
    shapes = [Point(x, 0).buffer(13.5, 400) for x in (-48, 48)] + [Point(0, 0).buffer(38, 400)]
    assert area(oval.outer) == pytest.approx(unary_union(shapes).convex_hull.area, rel=1e-5)
    assert sorted(type(piece).__name__ for piece in oval.outer) == ["Arc"] * 4 + ["Line"] * 4
    three = flange(bolts={"count": 3, "circle": 92, "thread": "M10"}, bore=40.0, land=5.0)
    assert [isinstance(p, Arc) for p in three.outer].count(True) == 3
    assert three.holes[0].at == pytest.approx((0.0, 46.0))  # one bolt at the top
    assert three.holes[1].at[0] > 0  # the next clockwise: to the right


def test_waisted_edges_have_hollows_of_the_radius_wanted():
    said = {"bolts": {"count": 2, "circle": 110, "phase": 90, "thread": "M8"}, "bore": 60.0}
    straight, waisted = flange(**said), flange(**said, waist=25)
    hollows = [p.radius for p in waisted.outer if isinstance(p, Arc) and p.sweep < 0]
    assert hollows == pytest.approx([25.0] * 4)
    assert area(waisted.outer) < area(straight.outer)
    assert_sound(waisted)
    assert_has_bosses(waisted)
    far = {**said, "bolts": {"count": 2, "circle": 240, "phase": 90, "thread": "M8"}}
    assert refused(flange, **far, waist=3) == ("waist",)


@given(
    bore=st.floats(40.0, 120.0),
    share=st.floats(0.02, 0.5),
    corner=st.floats(0.05, 0.9),
    turn=st.floats(-90.0, 90.0),
)
def test_divided_round_windows(bore, share, corner, turn):
    divider = share * bore
    radius = corner * (bore - divider) / 4
    plate = flange(
        bolts={"count": 4, "circle": bore + 60, "thread": "M8"},
        bore=bore,
        divider=divider,
        corner=radius,
        divider_turn=turn,
    )
    assert_sound(plate)
    left, right = plate.windows
    assert loop_to_loop(left, right) == pytest.approx(divider, abs=1e-9)
    assert {round(p.radius, 9) for p in left if isinstance(p, Arc)} == {
        round(radius, 9),
        round(bore / 2, 9),
    }
    # both edges of the bar run its own way, clockwise from upright
    for window in (left, right):
        (edge,) = (p for p in window if isinstance(p, Line))
        dx, dy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
        across = dx * math.cos(math.radians(turn)) - dy * math.sin(math.radians(turn))
        assert abs(across) < 1e-9
    # the first is the left one, as seen along the bar
    middle = bounding_box(left)
    x, y = (middle.left + middle.right) / 2, (middle.bottom + middle.top) / 2
    assert x * math.cos(math.radians(turn)) - y * math.sin(math.radians(turn)) < 0


@pytest.mark.parametrize(("bore", "divider", "corner"), [(72.0, 6.0, 3.0), (60.5, 5.0, 8.0)])
def test_a_half_round_has_the_area_of_an_opened_segment(bore, divider, corner):
    r, h = bore / 2, divider / 2
    plate = flange(
        bolts={"count": 4, "circle": 130, "thread": "M8"}, bore=bore, divider=divider, corner=corner
    )
    # handbook: circular segment above a chord, less corners as shapely opens it with a disc
    segment = r * r * math.acos(h / r) - h * math.sqrt(r * r - h * h)
    disc = Point(0, 0).buffer(r, 2000)
    upper = disc.intersection(Polygon([(-r, h), (r, h), (r, 2 * r), (-r, 2 * r)]))
    opened = upper.buffer(-corner, 500).buffer(corner, 500).area
    assert upper.area == pytest.approx(segment, rel=1e-5)
    for window in plate.windows:
        assert area(window) == pytest.approx(opened, rel=2e-5)
        assert area(window) < segment


@given(
    width=st.floats(30.0, 90.0),
    height=st.floats(30.0, 90.0),
    corner=st.floats(0.05, 1.0),
    divider=st.floats(3.0, 12.0),
    way=st.sampled_from([None, "left-right", "top-bottom"]),
    roll=st.floats(-180.0, 180.0),
)
def test_divided_rectangular_windows(width, height, corner, divider, way, roll):
    long = (
        width
        if (way or ("left-right" if width >= height else "top-bottom")) == ("left-right")
        else height
    )
    part = (long - divider) / 2
    radius = corner * min(part, height if long == width else width, part) / 2
    plate = inlet(
        bolts={"pitch": [width + 40, height + 40], "thread": "M10"},
        width=width,
        height=height,
        corner=radius,
        divider=divider,
        divided=way,
        roll=roll,
    )
    assert_sound(plate)
    assert_has_bosses(plate)
    first, second = plate.windows
    assert loop_to_loop(first, second) == pytest.approx(divider, abs=1e-9)
    other = width * height / long
    wanted = part * other - (4 - math.pi) * radius**2
    assert area(first) == pytest.approx(wanted, rel=1e-9)
    assert area(second) == pytest.approx(wanted, rel=1e-9)
    corners = [
        (sx * (width + 40) / 2, sy * (height + 40) / 2)
        for sx, sy in ((1, 1), (1, -1), (-1, -1), (-1, 1))
    ]
    a = math.radians(roll)  # clockwise as seen from the tube side
    for hole, (x, y) in zip(plate.holes, corners, strict=True):
        wanted_at = (x * math.cos(a) + y * math.sin(a), y * math.cos(a) - x * math.sin(a))
        assert math.dist(hole.at, wanted_at) < 1e-9


def test_the_bar_halves_the_longer_side_and_left_or_top_comes_first():
    said = {"bolts": {"pitch": [104, 96], "thread": "M8"}, "corner": 6, "divider": 5}
    left, right = inlet(width=70, height=50, **said).windows
    assert bounding_box(left).right == pytest.approx(-2.5)
    assert bounding_box(right).left == pytest.approx(2.5)
    top, foot = inlet(width=50, height=70, **said).windows
    assert bounding_box(top).bottom == pytest.approx(2.5)
    assert bounding_box(foot).top == pytest.approx(-2.5)
    assert bounding_box(left, right).width == pytest.approx(70)
    assert bounding_box(top, foot).height == pytest.approx(70)


def test_an_undivided_window_is_one_rounded_rectangle():
    plate = inlet(bolts={"pitch": [92, 58], "thread": "M10"}, width=62, height=46, corner=8)
    (window,) = plate.windows
    assert area(window) == pytest.approx(62 * 46 - (4 - math.pi) * 64, rel=1e-13)
    # hugging: the window's corners grown by the land, and the bosses, as shapely hulls them
    shapes = [Point(x, y).buffer(16.5, 400) for x in (-46, 46) for y in (-29, 29)]
    shapes.append(polygon(window).buffer(8.0, 400))
    assert area(plate.outer) == pytest.approx(unary_union(shapes).convex_hull.area, rel=1e-5)
    square = inlet(
        bolts={"pitch": [92, 58], "thread": "M10"},
        width=62,
        height=46,
        corner=8,
        outside=[130, 96],
        outside_radius=0,
    )
    assert area(square.outer) == pytest.approx(130 * 96, rel=1e-13)
    assert [type(p) for p in square.outer] == [Line] * 4


def test_a_turn_by_roll_keeps_shape_and_goes_clockwise():
    said = {"bolts": {"places": [[0, 50], [-40, -30], [40, -30]], "thread": "M8"}, "bore": 40}
    plain, turned = flange(**said), flange(**said, roll=90)
    assert turned.holes[0].at == pytest.approx((50.0, 0.0))  # from the top to the right
    assert area(turned.outer) == pytest.approx(area(plain.outer), rel=1e-12)
    box, before = bounding_box(turned.outer), bounding_box(plain.outer)
    assert (box.right, box.bottom) == pytest.approx((before.top, -before.right))


def test_holes_are_those_of_iso_273_and_taps_leave_their_thread():
    for thread, fastener in FASTENERS.items():
        bolts = {"count": 4, "circle": 120, "thread": thread}
        assert flange(bolts=bolts, bore=40).holes[0].diameter == fastener.medium
        fine = flange(bolts={**bolts, "hole_class": "fine"}, bore=40)
        assert fine.holes[0].diameter == fastener.fine
        tapped = flange(bolts={**bolts, "hole": "tapped"}, bore=40).holes[0]
        assert (tapped.kind, tapped.diameter) == ("tapped", TAP_DRILLS[thread])
    # ISO 261 coarse pitches; ISO 228-1: G 1/8 has 28, G 1/4 19 threads to the inch; from memory.
    # Drills come in tenths: diameter less pitch to the nearest one.
    pitches = {"M6": 1.0, "M8": 1.25, "M10": 1.5, "M12": 1.75, "M10x1": 1.0}
    pitches |= {"G1/8": 25.4 / 28, "G1/4": 25.4 / 19}
    assert set(pitches) == set(TAP_DRILLS)
    for thread, pitch in pitches.items():
        assert abs(TAP_DRILLS[thread] - (thread_size(thread) - pitch)) <= 0.0501


@given(
    od=st.floats(60.0, 130.0),
    share=st.floats(0.3, 0.9),
    thickness=st.floats(6.0, 20.0),
    height=st.floats(0.1, 0.9),
)
def test_a_v_band_is_a_ring_with_a_mate_face_to_face(od, share, thickness, height):
    spec = vband.Spec(
        kind="vband",
        **{**SHEET, "thickness": thickness},
        od=od,
        bore=share * od,
        spigot={"diameter": 0.95 * od, "height": height * thickness},
        pair=True,
        stand={"at": [10, 20, 30], "tube_side": [0, 1, 0]},
    )
    ring = vband.plate(spec, Frame((10.0, 20.0, 30.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)))
    metal = area(ring.outer) - area(ring.windows[0])
    assert metal == pytest.approx(math.pi / 4 * od**2 * (1 - share**2), rel=1e-12)
    assert ring.facing == pytest.approx(height * thickness)  # the spigot is turned from it
    assert any("Turned part" in note for note in ring.notes)
    other = vband.mate(spec, ring)
    assert (ring.loose, other.loose) == (False, True)
    assert other.frame.origin == ring.frame.origin
    assert other.frame.z == scale(ring.frame.z, -1.0)
    assert other.name == "it_mate"
    assert any("Recess" in note for note in other.notes)


def test_a_v_band_without_a_pair_has_no_mate():
    spec = vband.Spec(kind="vband", **SHEET, od=90, bore=60)
    assert vband.mate(spec, vband.plate(spec, HOME)) is None


def test_a_wastegate_flange_takes_its_bolts_where_they_are_given():
    places = [[28, 24], [-28, 24], [0, -38]]
    plate = gate(bolts={"places": places, "thread": "M8", "hole": "tapped"}, seat=38)
    assert [list(hole.at) for hole in plate.holes] == places
    assert area(plate.windows[0]) == pytest.approx(math.pi * 19**2)
    assert_sound(plate)
    assert_has_bosses(plate)


PIPE = Pipe(63.5, 60.5)


def test_a_round_flange_fits_the_tube_that_ends_in_it():
    bolts = {"count": 3, "circle": 92, "thread": "M10"}
    socket = flange(bolts=bolts, pipe=PIPE)
    assert bounding_box(socket.windows[0]).width == pytest.approx(63.8)
    assert (socket.window_style, socket.window_fit) == ("round-socket", pytest.approx(0.3))
    butt = flange(bolts=bolts, pipe=PIPE, window="butt")
    assert bounding_box(butt.windows[0]).width == pytest.approx(60.5)
    assert (butt.window_style, butt.window_fit) == ("butt", 0.0)
    loose = flange(bolts=bolts, bore=61)
    assert (loose.window_style, loose.loose) == ("butt", True)


@given(
    tube=st.floats(25.0, 60.0),
    count=st.integers(2, 8),
    more=st.floats(2.0, 30.0),
    array=st.sampled_from(["circle", "in-line"]),
    roll=st.floats(-180.0, 180.0),
)
def test_collector_plates_keep_the_pitch(tube, count, more, array, roll):
    pitch = tube + 0.3 + more
    plate = tubes(tube=tube, count=count, pitch=pitch, array=array, roll=roll)
    assert_sound(plate)
    boxes = [bounding_box(window) for window in plate.windows]
    middles = [((b.left + b.right) / 2, (b.bottom + b.top) / 2) for b in boxes]
    for a, b in pairwise(middles):
        assert math.dist(a, b) == pytest.approx(pitch, rel=1e-9)
    for a, b in pairwise(plate.windows):
        assert loop_to_loop(a, b) == pytest.approx(more, abs=1e-6)
    assert loop_to_loop(plate.windows[0], plate.outer) == pytest.approx(8.0, abs=1e-6)


@pytest.mark.parametrize(("count", "array"), [(3, "circle"), (4, "square"), (4, "diamond")])
@pytest.mark.parametrize("roll", [0.0, 25.0])
def test_places_go_round_as_the_merge_family_counts_them(count, array, roll):
    """Two ways to the same clocking: seen from the tube side, and looking along the gas."""
    up, way = (0.0, 1.0, 0.0), (0.6, -0.48, 0.64)
    layout = merge.lay_out(
        merge.Spec(
            family="merge",
            at=[300, -300, 200],
            direction=list(way),
            roll=roll,
            merge_angle=10,
            **({} if array == "circle" else {"array": array}),
            outlet={"od": 63.5, "wall": 1.5},
        ),
        Asked(
            TubeSize(22.5, 21.0),
            tuple(Start(k + 1, Frame((90.0 * k, 0.0, 0.0))) for k in range(count)),
            tuple(range(1, count + 1)),
            up,
        ),
    )
    at = (300.0, -300.0, 200.0)
    frame = upright(at, scale(way, -1.0), up)
    plate = tubes(tube=45, count=count, pitch=60, array=array, roll=roll)
    for window, slot in zip(plate.windows, layout.slots, strict=True):
        box = bounding_box(window)
        here = math.atan2((box.bottom + box.top) / 2, (box.left + box.right) / 2)
        x, y, z = frame.local(slot.origin)
        assert abs(z) < 1e-9
        assert abs(math.remainder(here - math.atan2(y, x), math.tau)) < 1e-9


ROUND = {"bolts": {"count": 3, "circle": 92, "thread": "M10"}, "bore": 60.0}
BOX = {"bolts": {"pitch": [92, 58], "thread": "M10"}, "width": 62, "height": 46, "corner": 8}


@pytest.mark.parametrize(
    ("make", "said", "key"),
    [
        (flange, {**ROUND, "bore": None}, ("bore",)),
        (flange, {**ROUND, "bore": 85}, ("bolts",)),
        (flange, {**ROUND, "od": 100}, ("od",)),
        (flange, {**ROUND, "od": 58}, ("od",)),
        (flange, {**ROUND, "divider": 60}, ("divider",)),
        (flange, {**ROUND, "divider": 6, "corner": 14}, ("corner",)),
        (flange, {**ROUND, "bolts": {"count": 24, "circle": 72, "thread": "M12"}}, ("bolts",)),
        (flange, {**ROUND, "bore": 63, "window": "socket", "pipe": PIPE}, ("bore",)),
        (flange, {**ROUND, "bore": 70, "window": "socket", "pipe": PIPE}, ("bore",)),
        (flange, {**ROUND, "bore": 58, "window": "butt", "pipe": PIPE}, ("bore",)),
        (flange, {**ROUND, "bore": 64, "window": "butt", "pipe": PIPE}, ("bore",)),
        (inlet, {**BOX, "corner": 24}, ("corner",)),
        (inlet, {**BOX, "divider": 62}, ("divider",)),
        # A bar too wide for the corners beside it is blamed while a usual one would leave room.
        (inlet, {**BOX, "divider": 30, "corner": 9}, ("divider",)),
        (inlet, {**BOX, "divider": 61}, ("divider",)),
        (inlet, {**BOX, "divider": 6, "corner": 15}, ("corner",)),
        (flange, {**ROUND, "divider": 54}, ("divider",)),
        (inlet, {**BOX, "outside": [100, 90]}, ("outside",)),
        (inlet, {**BOX, "outside": [130, 96], "outside_radius": 50}, ("outside_radius",)),
        (inlet, {**BOX, "bolts": {"pitch": [60, 40], "thread": "M10"}}, ("bolts",)),
        (gate, {"bolts": {"places": [[20, 0]], "thread": "M8"}, "seat": 38}, ("bolts",)),
        (tubes, {"tube": 45, "count": 4, "pitch": 40}, ("pitch",)),
        (tubes, {"tube": 45, "count": 4, "pitch": 50, "od": 90}, ("od",)),
    ],
)
def test_impossible_plates_are_refused_with_their_key(make, said, key):
    assert refused(make, **said) == key


def test_a_round_tube_suits_no_other_window():
    with pytest.raises(NoPlate) as caught:
        rectangular.plate(rectangular.Spec(kind="rectangular", **SHEET, **BOX), HOME, PIPE)
    assert caught.value.key == ("at",)
    spec = collector.Spec(kind="collector", **SHEET, tube=45, count=4, pitch=50)
    with pytest.raises(NoPlate):
        collector.plate(spec, HOME, PIPE)


WILD = st.one_of(st.floats(0.001, 2000.0), st.sampled_from([0.001, 1.0, 50.0, 2000.0]))


@settings(max_examples=30)
@given(
    bore=WILD,
    land=WILD,
    circle=WILD,
    count=st.integers(1, 48),
    divider=st.none() | WILD,
    corner=WILD,
    waist=st.none() | WILD,
    roll=st.floats(-360.0, 360.0),
)
def test_whatever_the_numbers_there_is_a_sound_plate_or_a_reason(
    bore, land, circle, count, divider, corner, waist, roll
):
    plate, key = None, "bore"
    try:
        plate = flange(
            bolts={"count": count, "circle": circle, "thread": "M8"},
            bore=bore,
            land=land,
            divider=divider,
            corner=corner,
            waist=waist,
            roll=roll,
        )
    except NoPlate as reason:
        (key,) = reason.key
    assert key in ("bore", "bolts", "divider", "corner", "waist")
    if plate is not None:
        assert_sound(plate)
        assert_has_bosses(plate)
