"""Turbine manifolds: frames by hand, transitions against shapely, scrolls against the tables."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from shapely.geometry import Polygon
from turbos import HALVED, I4, I6, INLET, UP, WHOLE_PIPE, asked, spec

from geomgen.design.mating import mated
from geomgen.families import DoesNotFit, TubeSize
from geomgen.families._nozzle import nozzle
from geomgen.families._turbine import flange, own_frame
from geomgen.families.turbo import Spec, lay_out
from geomgen.geometry.distance import Span, between
from geomgen.geometry.frames import Frame, add, angle_between, cross, distance, dot, scale, sub
from geomgen.plates._windows import rectangular_windows, rounded
from geomgen.profiles.loops import Arc, Line
from geomgen.recipe.nodes import RuledWall, Tube
from geomgen.spec.obstacles import KIND_MEANINGS

# The turbine's own frame


@pytest.mark.parametrize("roll", [0, 30, -90, 180])
@pytest.mark.parametrize("way", [(0, 1, 0), (0, -1, 0), (1, 0, 0), (0.3, -0.8, 0.4)])
def test_the_own_frame_is_right_handed_and_looks_against_the_gas(way, roll) -> None:
    said = spec({"direction": way, "roll": roll}).turbine
    frame = own_frame(said, UP)
    assert frame.origin == (135, 240, 200)
    assert angle_between(frame.z, scale(way, -1.0)) < 1e-9
    assert dot(cross(frame.x, frame.y), frame.z) == pytest.approx(1.0)
    if roll == 0 and way[0] != 0:  # y as far up as it goes: across the gas, with no x to the side
        assert abs(dot(frame.x, UP)) < 1e-12
        assert dot(frame.y, UP) > 0.0


def test_roll_turns_clockwise_as_one_looks_at_the_inlet() -> None:
    """From outside, looking along the gas, a quarter turn takes what was up to the right."""
    still = own_frame(spec({"direction": [0, 0, -1]}).turbine, UP)
    turned = own_frame(spec({"direction": [0, 0, -1], "roll": 90}).turbine, UP)
    assert still.y == pytest.approx(UP)
    assert turned.y == pytest.approx(still.x)
    assert still.x == pytest.approx((1.0, 0.0, 0.0))  # to the right, looking along -z with y up


@given(st.floats(-180, 180), st.floats(-180, 180))
@settings(max_examples=8)
def test_flange_and_envelopes_turn_together(roll, own) -> None:
    """A bar through a bolt stays on the flange's bolt hole, however the turbine is clocked."""
    bar = {"name": "bar", "cylinder": {"from": [45, 37, 0], "to": [45, 37, -40], "diameter": 8}}
    said = spec({"direction": [0.6, 0.7, -0.2], "roll": roll, "envelopes": [bar]})
    layout = lay_out(said, asked(I4))
    (hole,) = [hole for hole in layout.plates[0].holes if hole.name == "bolt 1"]
    centre = layout.plates[0].frame.point((*hole.at, 0.0))
    assert distance(layout.kept[0].field.begin, centre) < 1e-6
    # The inlet's own roll comes on top for the flange alone.
    more = spec({"roll": roll}, {**INLET, "roll": own}).turbine
    both = flange(spec({"roll": roll + own}).turbine, UP)
    for a, b in zip(flange(more, UP).holes, both.holes, strict=True):
        assert a.at == pytest.approx(b.at, abs=1e-9)


def test_kinds_of_envelope_are_kinds_of_obstacle() -> None:
    field = Spec.model_fields["turbine"].annotation.model_fields["envelopes"].annotation
    kinds = field.__args__[0].model_fields["kind"].annotation.__args__
    assert set(kinds) <= set(KIND_MEANINGS)


def test_bolts_stand_in_the_turbine_with_their_nuts_on_the_tube_side() -> None:
    (face,) = lay_out(spec({"gasket": 1.5}), asked(I4)).bolted
    assert face.seat == 12
    # Four bolts on 90 by 74; ISO 4032 M10: 8.4 high.
    assert {tuple(map(abs, bolt.at)) for bolt in face.bolts} == {(45.0, 37.0, 1.5)}
    assert {bolt.at[2] for bolt in face.bolts} == {-1.5}
    assert {bolt.protrusion for bolt in face.bolts} == {1.5 + 12 + 8.4 + 5}


RING = {"kind": "vband", "od": 84, "bore": 54.76, "thickness": 16, "material": "304"}


def test_a_v_band_inlet_is_a_ring_that_a_clamp_wants_room_at() -> None:
    layout = lay_out(spec(inlet=RING), asked(I4))
    (face,), (ring,) = layout.bolted, layout.plates
    assert (face.bolts, face.far, ring.holes, ring.name) == ((), (), (), "turbine_ring")
    assert [piece.name for piece in layout.pieces][-1] == "inlet"
    (joint,) = mated(layout, ())
    assert (joint.ring, joint.name, joint.pipes) == (42.0, "turbine ring", ("inlet",))
    assert "flange_thickness_mm" not in dict(layout.facts)
    # A pipe that is wider than its ring is in the band's way.
    (tight,) = mated(lay_out(spec(inlet={**RING, "od": 60}), asked(I4)), ())
    assert tight.pipes == ()


@pytest.mark.parametrize(
    ("turbine", "inlet"),
    [
        ({"fasteners": "bolts"}, {}),
        ({"protrusion": 30}, {}),
        ({"flange_thickness": 14}, {}),
        ({}, {"pair": True}),
        ({}, {"bore": None}),
        ({}, {"at": "outlet"}),
        ({}, {"divider": 6}),
    ],
)
def test_what_a_v_band_inlet_has_not_is_refused(turbine, inlet) -> None:
    with pytest.raises(ValidationError):
        spec(turbine, {**RING, **inlet})


# The transition to the window


def _outline(loop, n: int = 60) -> list[tuple[float, float]]:
    points = []
    for piece in loop:
        for i in range(n):
            f = i / n
            if isinstance(piece, Arc):
                points.append(piece.at(f))
            else:
                assert isinstance(piece, Line)
                (x, y), (u, v) = piece.start, piece.end
                points.append((x + f * (u - x), y + f * (v - y)))
    return points


def _sections(wall, at: float) -> list[Polygon]:
    """Outer and inner section part of the way from the first to the last, from its rulings."""
    found = []
    for near, far in (wall.outer[-2:], wall.inner[-2:]):
        a, b = np.array(_outline(near.loop)), np.array(_outline(far.loop))
        found.append(Polygon((1.0 - at) * a + at * b))
    return found


SIDE = st.floats(30, 90)


@settings(max_examples=25)
@given(SIDE, SIDE, st.floats(1, 12), st.floats(18, 50), st.floats(0.5, 3))
def test_the_transition_never_dips(width, height, corner, radius, wall) -> None:
    window = rounded(width, height, corner)
    made = nozzle(Frame(), 12.0, window, (0.0, 0.0), TubeSize(radius + wall, radius), 60.0)
    assert made.dip < 1e-12
    assert isinstance(made.metal, RuledWall)
    for k, (_, found) in enumerate(made.stations[:-1]):
        outer, inner = _sections(made.metal, 1.0 - k / 8.0)
        assert found == pytest.approx(inner.area, rel=1e-3)
        assert outer.contains(inner)
        # What is welded keeps its wall: nowhere thinner than the tube's, but for facets.
        assert outer.exterior.distance(inner.exterior) > 0.98 * wall


@settings(max_examples=20)
@given(st.floats(40, 80), st.floats(30, 70), st.floats(5, 9), st.floats(15, 30), st.floats(1, 2.4))
def test_halves_of_a_window_stay_apart_all_the_way(width, height, bar, radius, wall) -> None:
    """Each section of one transition beside that of the other: bar less two walls, or more."""
    halves = rectangular_windows(width, height, 3.0, bar, "left-right")
    tube, at = TubeSize(radius + wall, radius), max(radius + wall + 1.5, (width + bar) / 4.0)
    made = [
        nozzle(Frame(), 12.0, half, (side * at, 0.0), tube, 60.0)
        for half, side in zip(halves, (-1.0, 1.0), strict=True)
    ]
    for f in (0.0, 0.3, 0.7, 1.0):
        one, other = (_sections(each.metal, f)[0] for each in made)
        assert one.distance(other) > min(bar - 2.0 * wall, 3.0) - 0.05


def test_its_bars_hold_it_and_stay_on_its_side_of_the_flange() -> None:
    window, tube = rounded(60, 52, 14), TubeSize(30.15, 27.38)
    made = nozzle(Frame(), 12.0, window, (0.0, 0.0), tube, 65.0)
    for f in np.linspace(0.0, 1.0, 14):
        outer, _ = _sections(made.metal, float(f))
        z = 12.0 + 65.0 * float(f)
        for x, y in list(outer.exterior.coords)[::9]:
            depth = min(
                math.dist((x, y, z), tuple(_nearest(path, (x, y, z)))) - radius
                for path, radius in made.bars
            )
            assert depth <= 1e-6
    lowest = min(min(p.origin[2] for p in path.frames) - radius for path, radius in made.bars[1:])
    assert lowest > 12.0 - 4.0  # well within the flange's thickness


def _nearest(path, point):
    """The nearest point of a bar's axis: a straight, or rings about z."""
    start = path.start
    if len(path.pieces) == 1:
        t = min(max(dot(sub(point, start.origin), start.z), 0.0), path.length)
        return add(start.origin, scale(start.z, t))
    ring, turn = math.hypot(*start.origin[:2]), math.atan2(point[1], point[0])
    return (ring * math.cos(turn), ring * math.sin(turn), start.origin[2])


# Scrolls


def test_one_inlet_is_one_gas_volume() -> None:
    layout = lay_out(spec(), asked(I4))
    (scroll,) = layout.scrolls
    assert scroll.slots == (0, 1, 2, 3)
    assert [face.name for face in scroll.outlets] == ["OUTLET"]
    assert layout.rings == ()
    assert layout.takes == ()
    # The gas ends on the gasket face, in the middle of the inlet, going in.
    assert layout.outlet.origin == pytest.approx((135, 240, 200))
    assert layout.outlet.z == pytest.approx(UP)


@pytest.mark.parametrize(
    ("order", "groups"), [(I4, ((1, 4), (2, 3))), (I6, ((1, 2, 3), (4, 5, 6)))]
)
def test_a_divided_inlet_groups_by_the_firing_order(order, groups) -> None:
    """Groups: the public tables of firing orders, 360 and 240 degrees inside each."""
    layout = lay_out(spec(inlet=HALVED), asked(order))
    half = len(order) // 2
    assert layout.rings == (tuple(range(half)), tuple(range(half, 2 * half)))
    for group, ring, scroll in zip(groups, layout.rings, layout.scrolls, strict=True):
        assert {c for c, slots in layout.takes if slots == ring} == set(group)
        assert scroll.slots == ring
    assert [s.outlets[0].name for s in layout.scrolls] == ["OUTLET_A", "OUTLET_B"]
    assert layout.ends[0] == layout.ends[-1]


def test_the_groups_can_be_said() -> None:
    layout = lay_out(spec(inlet=HALVED, groups=[[3, 2], [1, 4]]), asked(I4))
    assert dict(layout.takes) == {2: (0, 1), 3: (0, 1), 1: (2, 3), 4: (2, 3)}


def test_the_first_scroll_is_left_as_one_looks_at_the_inlet() -> None:
    layout = lay_out(spec({"direction": [0, 0, -1]}, HALVED), asked(I4))
    a, b = (scroll.outlets[0].point for scroll in layout.scrolls)
    assert a[0] < 135 < b[0]
    assert a[1:] == pytest.approx((240, 200))


def test_scrolls_are_mirror_images() -> None:
    layout = lay_out(spec(inlet=HALVED), asked(I6))
    mirrored = {tuple(round(v, 6) for v in (270 - x, y, z)) for x, y, z in _origins(layout, 3, 6)}
    assert mirrored == {tuple(round(v, 6) for v in p) for p in _origins(layout, 0, 3)}


def _origins(layout, begin: int, end: int):
    return [slot.origin for slot in layout.slots[begin:end]]


def test_bars_of_two_scrolls_keep_apart() -> None:
    layout = lay_out(spec(inlet=HALVED), asked(I6))
    bars = [bar for bar in layout.envelopes if "inlet" not in bar.name]
    of_a = [bar for bar in bars if (bar.slot is None and 0 in bar.takes) or bar.slot in (0, 1, 2)]
    of_b = [bar for bar in bars if bar not in of_a]
    assert len(of_a) == len(of_b) == 5
    for a in of_a:
        for b in of_b:
            near = between(Span.whole(a.path), Span.whole(b.path), 0.2, 30.0)
            assert near.lower > a.radius + b.radius


# Merge, pipe and transition follow on from one another


@pytest.mark.parametrize(
    "said",
    [
        spec(),
        spec(pipe={**WHOLE_PIPE, "lead": 5, "bend": {"clr": 76.2, "gas": [1, 0.2, 0.1]}}),
        spec(inlet=HALVED),
        spec({"direction": [0.5, -0.5, 0.7], "roll": 40}, HALVED),
    ],
)
def test_the_pipe_runs_from_merge_to_transition(said) -> None:
    layout = lay_out(said, asked(I4))
    for k, branch in enumerate(layout.branches):
        scroll = layout.scrolls[k]
        pipe = next(node for node in scroll.gas if isinstance(node, Tube))
        assert pipe.centreline == branch.path
        (mouth,) = scroll.outlets
        # Along the flange's axis, its thickness and the transition's length before the face.
        flange_z = layout.plates[0].frame.z
        assert dot(sub(branch.path.end.origin, mouth.point), flange_z) == pytest.approx(82.0)
        assert angle_between(branch.path.end.z, mouth.normal) < 1e-9
        # Each slot's tube leans by the merge angle to the gas in the pipe's start.
        for slot in branch.slots:
            lean = angle_between(layout.slots[slot].z, branch.path.start.z)
            assert math.degrees(lean) == pytest.approx(14.0)
        assert branch.inner_radius == pytest.approx(branch.outer_radius - said.pipe.wall)
    if said.pipe.bend is not None and said.pipe.bend.gas is not None:
        assert angle_between(layout.branches[0].path.start.z, (1, 0.2, 0.1)) < 1e-9


def test_areas_run_from_slot_to_window_without_a_dip() -> None:
    rows = lay_out(spec(), asked(I4)).areas
    assert rows[-1].what == "outlet end"
    # 60 by 52 with corners of 14: width times height less what the corners lack.
    assert rows[-1].area == pytest.approx(60 * 52 - (4 - math.pi) * 14**2)
    assert all(a.station <= b.station for a, b in pairwise(rows))
    behind = [row.area for row in rows if row.what in ("throat", "cone", "outlet", "pipe", "inlet")]
    assert min(behind) >= 0.99 * behind[0]


def test_drain_and_support_stand_where_the_turbine_stands() -> None:
    """The gas goes down -y here, so the turbine's z is the head's y, and x the head's x."""
    said = spec(
        {
            "direction": [0, -1, 0],
            "drain": {"direction": [0, 0, -1]},
            "support": {"mass": 10, "centre": [30, 40, -50], "at": [0, 0, -20]},
        }
    )
    facts = dict(lay_out(said, asked(I4)).facts)
    assert facts["drain_from_vertical_deg"] == pytest.approx(0.0, abs=1e-9)
    assert [facts[f"support_{c}_mm"] for c in "xyz"] == pytest.approx([135, 220, 200])
    # Centre of mass 50 mm off the bracket's plumb line: 3-4-5.
    assert facts["turbo_moment_at_support_nm"] == pytest.approx(10 * 9.80665 * 0.050)


@pytest.mark.parametrize(
    ("said", "order", "key"),
    [
        (spec(groups=[[1, 4], [2, 3]]), I4, "groups"),
        (spec(inlet=HALVED, groups=[[1, 4], [2, 2]]), I4, "groups"),
        (spec(inlet=HALVED, groups=[[1, 4, 2], [3]]), I4, "groups"),
        (spec(inlet=HALVED), (1, 3, 2), "family"),
        (spec(inlet={**HALVED, "divider": 4}), I4, "divider"),
        (spec(inlet=HALVED, pipe={"od": 45, "wall": 2}), I6, "bend"),
        (spec(pipe={"od": 60.3, "wall": 31}), I4, "wall"),
        (spec(pipe={**WHOLE_PIPE, "bend": {"clr": 29, "gas": [1, 0, 0]}}), I4, "clr"),
        (spec(pipe={**WHOLE_PIPE, "bend": {"clr": 76, "gas": [0, -1, 0]}}), I4, "gas"),
        (spec(pipe={"od": 200, "wall": 2}), I4, "od"),
        (spec(inlet={**INLET, "corner": 40}), I4, "corner"),
        (
            spec({"envelopes": [{"name": "a", "box": {"from": [0, 0, 0], "to": [1, 1, 1]}}] * 2}),
            I4,
            "name",
        ),
    ],
)
def test_what_leaves_no_manifold_is_refused(said, order, key) -> None:
    with pytest.raises(DoesNotFit) as error:
        lay_out(said, asked(order))
    assert error.value.key[-1] == key


@pytest.mark.parametrize(
    "turbine",
    [
        {"inlet": {**INLET, "at": "outlet"}},
        {"inlet": {"kind": "round", "thickness": 12, "material": "304", "bolts": INLET["bolts"]}},
        {"envelopes": [{"name": "a"}]},
        {"envelopes": [{"name": "a", "box": {"from": [1, 0, 0], "to": [0, 1, 1]}}]},
        {"drain": {"direction": [0, 0, 0]}},
    ],
)
def test_what_says_too_little_or_too_much_is_refused(turbine) -> None:
    with pytest.raises(ValidationError):
        spec(turbine)
