"""Attachments: saddles laid back on the kernel's solids, steps, places, and what is refused."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lay_back import off_edges
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from pydantic import ValidationError

from geomgen.attachments import Host, HostPipe, bung, end, flex, steps, support, wastegate
from geomgen.attachments._saddles import bored, foot, hole, place, reach_along, seated, standing
from geomgen.attachments._tabs import tab
from geomgen.design.attaching import pipes
from geomgen.families import Asked, DoesNotFit, Start, TubeSize, merge
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.copes import points
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.recipe.nodes import Cut, Fuse, Tube
from geomgen.recipe.volumes import bore_volume
from geomgen.solids.build import build
from geomgen.solids.measure import area, is_closed, is_valid, solids_of, volume

UP = (0.0, 1.0, 0.0)
HOST = HostPipe(
    "outlet",
    "outlet",
    Centreline(Frame((10.0, -5.0, 30.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)), (Straight(400.0),)),
    30.15,
    27.38,
    (0, 1, 2, 3),
)


def shared(a, b):
    """Volume that two solids share, by the kernel [mm3]."""
    found = BRepAlgoAPI_Common(build(a), build(b)).Shape()
    return sum(abs(volume(s)) for s in solids_of(found))


def stood(lean, size, host=HOST, at=200.0):
    own = foot(host, place(host, at, (0.0, 0.0), "it", ("at",)), (0.3, 1.0, 0.2), lean, UP)
    return own, seated(own, size, "it", ("od",))


leans = st.floats(math.radians(25.0), math.radians(150.0))
radii = st.floats(6.0, 26.0)


@settings(max_examples=25)
@given(leans, radii)
def test_a_saddle_reaches_as_far_as_is_said(lean, radius):
    """Against the extreme points of the rim itself, walked round in fine steps."""
    own, on = stood(lean, TubeSize(radius, radius - 2.0))
    low, high = on.footprint()
    back, ahead = reach_along(HOST, radius, lean)
    assert own.station - low == pytest.approx(back - 0.2, abs=0.02)
    assert high - own.station == pytest.approx(ahead - 0.2, abs=0.02)
    assert math.degrees(angle_between(own.flow, own.frame.z)) == pytest.approx(math.degrees(lean))


@settings(max_examples=3)
@given(leans, st.floats(8.0, 24.0), st.floats(0.0, 1.2))
def test_a_branch_and_its_host_are_solids_that_share_nothing(lean, radius, turn):
    """Metal, hole and bore against the kernel's volumes; the wrap curve laid back: 0.02 mm."""
    size = TubeSize(radius, radius - 1.6)
    own, on = stood(lean, size)
    path = (Straight(own.through + 80.0), Bend(60.0, 0.1 + turn, 0.4), Straight(20.0))
    metal = standing(own, path, size.outer_radius, size.inner_radius)
    whole = Tube(HOST.path, HOST.outer_radius, HOST.inner_radius)
    host = Cut(whole, (hole(own, on).tool,))
    for node in (metal, host):
        shape = build(node)
        assert len(solids_of(shape)) == 1
        assert is_closed(shape)
        assert is_valid(shape)
    assert shared(metal, host) < 1e-3
    assert volume(build(whole)) - volume(build(host)) == pytest.approx(on.hole, rel=1e-6)
    bore = bored(own, path, size.inner_radius)
    assert bore_volume(bore) == pytest.approx(volume(build(bore)), rel=1e-6)
    gas = build(Fuse((Tube(HOST.path, HOST.inner_radius), bore)))
    assert len(solids_of(gas)) == 1
    assert is_closed(gas)
    wanted = math.pi * HOST.inner_radius**2 * HOST.path.length + bore_volume(bore)
    assert volume(gas) == pytest.approx(wanted, rel=1e-6)
    t = np.linspace(0.0, math.tau, 24, endpoint=False)
    for radius_ in (size.outer_radius, size.inner_radius):
        assert off_edges(build(metal), points(on.outer, radius_, t)) <= 0.02


def test_the_square_saddle_is_the_handbooks_curve():
    """z = sqrt(R^2 - r^2 sin^2 t) from the host's axis: two cylinders that cross square."""
    _, on = stood(math.pi / 2.0, TubeSize(14.0, 8.25))
    t = np.linspace(0.0, math.tau, 97)
    rise = on.depth - on.outer.heights(np.full(t.shape, 14.0), t)
    # t counts from the leg's x, which lies along the host.
    assert rise == pytest.approx(np.sqrt(30.15**2 - (14.0 * np.sin(t)) ** 2), abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"od": 60.3}, "od"),
        ({"at": 5, "lean": 90}, "at"),
        ({"at": 395}, "at"),
        ({"length": 10}, "length"),
        ({"on": "pipe"}, "on"),
        ({"bend": {"clr": 10, "toward": [0, 0, 1]}}, "bend"),
    ],
)
def test_a_branch_that_does_not_fit_is_refused(changes, key):
    said = {"kind": "wastegate", "name": "gate", "od": 42.2, "wall": 2.77, "at": 200, **changes}
    with pytest.raises(DoesNotFit) as error:
        wastegate.on_collector(wastegate.Spec.model_validate(said), host())
    assert error.value.key[0] == key


def host(*more: HostPipe, layout=None) -> Host:
    return Host(layout, (*more, HOST), UP, "304")


def test_a_gate_is_fed_by_all_that_feed_its_pipe_and_leans_as_said():
    said = {"kind": "wastegate", "name": "gate", "od": 42.2, "wall": 2.77, "lean": 35, "at": 200}
    made = wastegate.on_collector(wastegate.Spec.model_validate(said), host())
    (fitted,) = made.fitted
    assert fitted.slots == (0, 1, 2, 3)
    assert math.degrees(angle_between(fitted.axis, fitted.flow)) == pytest.approx(35.0)
    assert made.bores[0].face.name == "WG"
    assert dict(made.facts)["gate_area_ratio"] == pytest.approx((18.33 / 27.38) ** 2)


def test_two_scrolls_have_a_gate_each_on_the_sides_that_face_away():
    across = (0.0, 0.0, 1.0)
    a, b = (
        replace(HOST, name=f"pipe_{x}", part=f"pipe_{x}", scroll=x, slots=slots, toward=toward)
        for x, slots, toward in (("a", (0, 1), across), ("b", (2, 3), (0.0, 0.0, -1.0)))
    )
    said = {"kind": "wastegate", "name": "gate", "od": 42.2, "wall": 2.77, "on": "pipe", "at": 200}
    spec = wastegate.Spec.model_validate(said)
    made = wastegate.on_collector(spec, Host(None, (a, b), UP, "304"))
    assert [bore.face.name for bore in made.bores] == ["WG_A", "WG_B"]
    assert [one.slots for one in made.fitted] == [(0, 1), (2, 3)]
    assert [one.axis[2] < 0.0 for one in made.fitted] == [True, False]


@pytest.mark.parametrize("lean", [25.0, 45.0, 90.0])
def test_threads_have_their_tap_drills(lean):
    """Diameter less pitch: 16.5 for M18 x 1.5, as tables of tap drills have it."""
    assert bung.DRILLS["M18x1.5"] == 18.0 - 1.5
    assert bung.DRILLS["M8x1"] == 8.0 - 1.0
    said = {"kind": "bung", "name": "o2", "use": "oxygen", "lean": lean, "height": 60, "at": 200}
    made = bung.on_collector(bung.Spec.model_validate(said), host())
    (drilled,) = made.holes
    assert drilled.tool.outer_radius == 8.25


BENT = (Straight(60.0), Bend(60.0, 1.2), Straight(90.0), Bend(60.0, 0.8, 1.0), Straight(120.0))


def runner(number: int, before: float, pieces=BENT) -> HostPipe:
    start = Frame((92.0 * number, 0.0, before), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    name = f"tube_{number}"
    return HostPipe(
        f"runner {number}", name, Centreline(start, pieces), 22.5, 21.0, (number,), before=before
    )


def egt(**more):
    return bung.Spec.model_validate(
        {"kind": "bung", "name": "egt", "use": "egt", "on": "runners", **more}
    )


@settings(max_examples=20)
@given(st.floats(40.0, 400.0), st.floats(45.0, 70.0), st.floats(45.0, 70.0))
def test_probes_of_all_runners_stand_at_one_distance_on_straights(at, one, two):
    two_runners = Host(None, (runner(1, one), runner(2, two)), UP, "304")
    made = bung.on_tubes(egt(at=at), two_runners)
    places = [dict(f.facts)["at_mm"] for f in made.fitted]
    assert places[0] == pytest.approx(places[1], abs=1e-9)
    for fitted, before in zip(made.fitted, (one, two), strict=True):
        # The foot's rim stays on one straight: the tube's stations of straights are known.
        s = places[0] - before
        straights = [(0.0, 60.0), (132.0, 222.0), (270.0, 390.0)]
        assert any(a + 7.0 <= s <= b - 7.0 for a, b in straights), (s, fitted)


def test_no_common_straight_is_refused():
    never = Host(None, (runner(1, 50.0), runner(2, 50.0, (Bend(60.0, 1.5), Straight(3.0)))), UP, "")
    with pytest.raises(DoesNotFit, match="straight"):
        bung.on_tubes(egt(at=75), never)
    with pytest.raises(DoesNotFit, match="runner 7"):
        bung.on_tubes(egt(on="runner 7"), never)


# Steps

sizes = st.lists(st.floats(30.0, 50.0), min_size=2, max_size=3, unique_by=lambda x: round(x, 1))


def stepped(ods, tos, expander=20.0):
    rows = [{"od": od, "wall": 1.5, "to": to} for od, to in zip(ods, tos, strict=True)]
    return steps.Spec.model_validate({"kind": "steps", "sizes": rows, "expander": expander})


@given(st.floats(100.0, 300.0), st.floats(30.0, 250.0), st.floats(5.0, 50.0), st.floats(40.0, 70.0))
def test_steps_keep_the_length_and_stand_in_straights(first, more, long, before):
    assume(more >= long)
    spec = stepped((40.0, 43.0), (first, first + more), long)
    path, last = runner(1, before).path, TubeSize(22.5, 21.0)
    try:
        made = steps.sections(spec, last, path, before, "runner 1")
    except DoesNotFit:
        # The last straight ends before them both find room.
        assert first + more > 300.0 or long > 40.0
        return
    assert math.fsum(one.path.length for one in made) == pytest.approx(path.length, abs=1e-9)
    assert sum(one.is_step for one in made) == 2
    assert (made[0].start, made[-1].end) == (TubeSize(20.0, 18.5), last)
    for one, two in pairwise(made):
        assert distance(one.path.end.origin, two.path.start.origin) < 1e-9
        assert angle_between(one.path.end.z, two.path.start.z) < 1e-9
        assert one.end == two.start
    assert distance(made[-1].path.end.origin, path.end.origin) < 1e-9
    at = before
    for one in (m for m in made if m.is_step):
        assert all(isinstance(piece, Straight) for piece in one.path.pieces)
        assert one.path.length == pytest.approx(long)
    for one in made:
        if one.is_step:
            wanted = first if one.start.outer_radius == 20.0 else first + more
            assert at + long / 2.0 - wanted == pytest.approx(one.moved, abs=1e-9)
        at += one.path.length


@pytest.mark.parametrize(
    ("ods", "tos", "why"),
    [
        ((43.0, 40.0), (200.0, 400.0), "wider"),
        ((40.0, 43.0), (200.0, 210.0), "at least 20 mm"),
        ((2.0,), (200.0,), "less than half"),
    ],
)
def test_sizes_that_contradict_each_other_are_refused(ods, tos, why):
    with pytest.raises(ValidationError, match=why):
        stepped(ods, tos)


def test_the_last_size_is_the_widest():
    with pytest.raises(DoesNotFit, match=r"narrower than runners\.tube"):
        steps.first_size(stepped((46.0,), (200.0,)), TubeSize(22.5, 21.0))
    assert steps.first_size(stepped((40.0,), (200.0,)), TubeSize(22.5, 21.0)) == TubeSize(20, 18.5)


def test_no_straight_for_an_expander_is_refused():
    path = Centreline(Frame(), (Straight(8.0), Bend(60.0, 1.5), Straight(9.0)))
    with pytest.raises(DoesNotFit, match=r"longest straight has 9\.0 mm"):
        steps.sections(stepped((40.0,), (50.0,)), TubeSize(22.5, 21.0), path, 40.0, "runner 1")


BENT = (Straight(60.0), Bend(60.0, 1.0), Straight(45.0), Bend(60.0, 1.0), Straight(70.0))


@pytest.mark.parametrize(
    ("wanted", "keeps", "stands"),
    [
        (70.0, steps.Keeps(), 50.0),
        (70.0, steps.Keeps(bend=8.0), 42.0),
        (5.0, steps.Keeps(bend=8.0), 10.0),  # nothing to keep from where the tube begins
        (120.0, steps.Keeps(bend=8.0), 138.0),
        (142.5, steps.Keeps(bend=12.5), 142.5),
        (142.5, steps.Keeps(bend=13.0), 37.0),  # no room beside it between the bends
        (142.5, steps.Keeps(bend=61.0), 142.5),  # nowhere at all
        (294.0, steps.Keeps(bend=8.0), 285.0),
        (294.0, steps.Keeps(end=30.0), 255.0),
    ],
)
def test_what_an_expander_keeps_beside_itself(wanted, keeps, stands):
    path = Centreline(Frame(), BENT)
    spec, last = stepped((40.0,), (wanted + 50.0,)), TubeSize(22.5, 21.0)
    made = steps.sections(spec, last, path, 50.0, "runner 1", keeps)
    (one,) = (m for m in made if m.is_step)
    before = math.fsum(m.path.length for m in made[: made.index(one)])
    assert before + 10.0 == pytest.approx(stands, abs=1e-9)
    assert one.moved == pytest.approx(stands - wanted, abs=1e-9)


# Ends, supports, flex


def segment(radius: float, half: float) -> float:
    """Area under a circle's top between -half and half: tables of integrals."""
    root = math.sqrt(radius**2 - half**2)
    return half * root + radius**2 * math.asin(half / radius)


def test_a_tab_stands_on_its_pipe_and_holds_what_it_should():
    wide, high, thick, bore = 14.0, 12.0, 3.0, 6.0
    node = tab(Frame(), (1.0, 0.0, 0.0), 30.0, (wide, high, thick, bore))
    flat = wide * (30.0 + high) + math.pi * (wide / 2.0) ** 2 / 2.0 - math.pi * bore**2 / 4.0
    wanted = flat * thick - wide * segment(30.0, thick / 2.0)
    assert volume(build(node)) == pytest.approx(wanted, rel=1e-9)
    pipe = Tube(Centreline(Frame((0.0, 0.0, -50.0)), (Straight(100.0),)), 30.0, 28.0)
    assert shared(node, pipe) < 1e-6


def test_a_doubler_is_a_piece_of_a_wider_tube_and_the_bracket_stands_on_it():
    said = {"kind": "support", "name": "hanger", "at": 200, "doubler_arc": 100}
    made = support.on_collector(support.Spec.model_validate(said), host())
    pad, bracket = (piece.node for piece in made.pieces)
    outer, inner = HOST.outer_radius + 2.0, HOST.outer_radius
    wanted = math.radians(100.0) / 2.0 * (outer**2 - inner**2) * 60.0
    assert volume(build(pad)) == pytest.approx(wanted, rel=1e-9)
    pipe = Tube(HOST.path, HOST.outer_radius, HOST.inner_radius)
    assert max(shared(pad, pipe), shared(bracket, pipe), shared(pad, bracket)) < 1e-6
    hole_ = tuple(dict(made.facts)[f"hanger_{axis}_mm"] for axis in "xyz")
    # 30.15 + 2 of doubler + 35 of height, straight up from the pipe's middle
    assert distance(hole_, (210.0, -5.0 + 67.15, 30.0)) < 1e-9


def laid_out():
    tube = TubeSize(22.5, 21.0)
    starts = tuple(Start(i + 1, Frame((92.0 * i, 0.0, 55.0))) for i in range(4))
    spec = merge.Spec.model_validate(
        {
            "family": "merge",
            "at": [138, -330, 240],
            "direction": [0, -1, 0],
            "outlet": {"od": 63.5, "wall": 1.5, "length": 120},
        }
    )
    return merge.lay_out(spec, Asked(tube, starts, (1, 3, 4, 2), UP))


def test_the_outlet_of_a_merge_is_a_pipe_that_all_runners_feed():
    (outlet,) = pipes(laid_out())
    assert (outlet.name, outlet.slots, outlet.last) == ("outlet", (0, 1, 2, 3), True)
    assert outlet.bore in laid_out().scrolls[0].gas


def test_a_slip_end_wants_a_straight_for_its_overlap_and_its_tabs():
    layout = laid_out()
    own = Host(layout, pipes(layout), UP, "304")
    made = end.on_collector(
        end.Spec.model_validate({"kind": "end", "form": "slip", "slip": {"tabs": 3}}), own
    )
    assert [piece.name for piece in made.pieces] == ["tab_1", "tab_2", "tab_3"]
    assert dict(made.facts) == {
        "slip_end_overlap_mm": 40.0,
        "slip_end_clearance_mm": 0.3,
        "slip_end_bore_mm": 63.8,
    }
    outlet = next(piece.node for piece in layout.pieces if piece.name == "outlet")
    for piece in made.pieces:
        assert shared(piece.node, outlet) < 1e-6
    with pytest.raises(DoesNotFit, match="straight"):
        end.on_collector(
            end.Spec.model_validate({"kind": "end", "form": "slip", "slip": {"overlap": 110}}), own
        )


@pytest.mark.parametrize(
    "said", [{"form": "vband"}, {"form": "plain", "slip": {}}, {"form": "flat", "slip": {}}]
)
def test_an_end_wants_what_belongs_to_it(said):
    with pytest.raises(ValidationError, match="goes with"):
        end.Spec.model_validate({"kind": "end", **said})


def test_a_flex_joint_takes_the_outlet_along():
    layout = laid_out()
    own = Host(layout, pipes(layout), UP, "304")
    spec = flex.Spec.model_validate({"kind": "flex", "length": 90, "od": 82, "tail": 60})
    made = flex.on_collector(spec, own)
    assert made.tail is not None
    assert distance(made.tail.paths[0].start.origin, layout.outlet.origin) < 1e-9
    assert distance(made.tail.paths[-1].end.origin, layout.outlet.origin) == pytest.approx(150.0)
    with pytest.raises(DoesNotFit, match="more than the pipe"):
        flex.on_collector(flex.Spec.model_validate({"kind": "flex", "od": 60}), own)


def skin(*nodes) -> float:
    whole = build(Fuse(nodes))
    assert len(solids_of(whole)) == 1
    return area(whole)


WHOLE = Tube(HOST.path, HOST.outer_radius, HOST.inner_radius)


def drilled(made):
    return Cut(WHOLE, tuple(one.tool for one in made.holes))


@pytest.mark.parametrize("lean", [40.0, 90.0])
def test_a_branch_adds_what_the_kernel_measures(lean):
    said = {"kind": "wastegate", "name": "g", "od": 42.2, "wall": 2.77, "lean": lean, "at": 200}
    made = wastegate.on_collector(wastegate.Spec.model_validate({**said, "length": 60}), host())
    (piece,), (bore,), (cut,) = made.pieces, made.bores, made.holes
    assert made.added.metal == pytest.approx(volume(build(piece.node)), rel=1e-7)
    assert made.added.gas == pytest.approx(volume(build(bore.node)), rel=1e-7)
    assert cut.volume == pytest.approx(
        volume(build(WHOLE)) - volume(build(drilled(made))), rel=1e-6
    )
    rim = math.pi * (21.1**2 - 18.33**2)
    more = skin(drilled(made), piece.node) - area(build(WHOLE))
    assert made.added.outside + made.added.wall + rim == pytest.approx(more, rel=1e-4)
    gas = Tube(HOST.path, HOST.inner_radius)
    mouth = math.pi * 18.33**2
    more = skin(gas, bore.node) - area(build(gas))
    assert made.added.wall + mouth == pytest.approx(more, rel=1e-4)


def test_a_boss_adds_what_the_kernel_measures():
    said = {"kind": "bung", "name": "o2", "use": "oxygen", "lean": 70, "at": 200, "height": 25}
    made = bung.on_collector(bung.Spec.model_validate(said), host())
    (piece,) = made.pieces
    assert made.added.metal == pytest.approx(volume(build(piece.node)), rel=1e-7)
    assert (made.added.gas, made.added.wall) == (0.0, 0.0)
    open_ = wastegate.Spec.model_validate(
        {"kind": "wastegate", "name": "g", "od": 28, "wall": 5.75, "lean": 70, "at": 200,
         "length": 25}
    )  # fmt: skip
    inside = wastegate.on_collector(open_, host()).added.wall
    more = skin(drilled(made), piece.node) - area(build(WHOLE))
    assert made.added.outside + inside == pytest.approx(more, rel=1e-4)


def test_a_bracket_point_adds_what_the_kernel_measures():
    said = {"kind": "support", "name": "hanger", "at": 200, "doubler_arc": 100}
    made = support.on_collector(support.Spec.model_validate(said), host())
    pad, bracket = (piece.node for piece in made.pieces)
    metal = volume(build(pad)) + volume(build(bracket))
    assert made.added.metal == pytest.approx(metal, rel=1e-8)
    both = area(build(pad)) + area(build(bracket))
    # Each foot covers as much as it is: the pad's on the pipe, the bracket's on the pad.
    outer, arc = HOST.outer_radius + 2.0, math.radians(100.0)
    feet = 2.0 * HOST.outer_radius * arc * 60.0
    feet += 2.0 * 30.0 * 2.0 * outer * math.asin(2.0 / outer)
    assert made.added.outside == pytest.approx(both - feet, rel=1e-8)


def test_a_flex_joint_adds_two_plain_tubes():
    layout = laid_out()
    spec = flex.Spec.model_validate({"kind": "flex", "length": 90, "od": 82, "tail": 60})
    made = flex.on_collector(spec, Host(layout, pipes(layout), UP, "304"))
    metal = sum(volume(build(piece.node)) for piece in made.pieces)
    assert made.added.metal == pytest.approx(metal, rel=1e-9)
    whole = build(Fuse(tuple(piece.node for piece in made.pieces)))
    rims = math.pi * (31.75**2 - 30.25**2) + math.pi * (31.75**2 - 30.25**2)
    assert made.added.outside + made.added.wall + rims == pytest.approx(area(whole), rel=1e-9)


lengths = st.one_of(st.floats(0.01, 60.0), st.floats(0.01, 2000.0), st.sampled_from([1e-9, 1e9]))
ways = st.tuples(*[st.sampled_from([-1.0, 0.0, 0.3, 1.0])] * 3).filter(any)
SAID = {
    wastegate: {
        "fixed": {"kind": "wastegate", "name": "g"},
        "lengths": ("od", "wall", "at", "length"),
        "more": {"lean": st.floats(25.0, 155.0), "toward": ways},
    },
    bung: {
        "fixed": {"kind": "bung", "name": "b", "use": "egt"},
        "lengths": ("od", "height", "at"),
        "more": {"lean": st.floats(25.0, 155.0), "toward": ways},
    },
    support: {
        "fixed": {"kind": "support", "name": "s"},
        "lengths": (
            "at",
            "doubler_length",
            "doubler_thickness",
            "bracket_width",
            "bracket_height",
            "bracket_thickness",
            "bolt_hole",
        ),
        "more": {"doubler_arc": st.floats(20.0, 170.0), "toward": ways},
    },
    flex: {"fixed": {"kind": "flex"}, "lengths": ("length", "free", "od", "tail"), "more": {}},
    end: {
        "fixed": {"kind": "end", "form": "slip"},
        "lengths": (),
        "more": {
            "slip": st.fixed_dictionaries(
                dict.fromkeys(
                    ["overlap", "tab_width", "tab_height", "tab_thickness", "tab_hole", "behind"],
                    lengths,
                )
            ),
            "clocking": st.floats(-1e6, 1e6),
        },
    },
}


@settings(max_examples=120)
@given(st.sampled_from(list(SAID)), st.data())
def test_no_numbers_are_too_wild(module, data):
    """Whatever is said is laid out or refused by its key, and nothing else."""
    rows = SAID[module]
    said = dict(rows["fixed"])
    said |= {key: data.draw(lengths) for key in rows["lengths"]}
    said |= {key: data.draw(how) for key, how in rows["more"].items()}
    own = replace(HOST, last=True)
    try:
        made = module.on_collector(module.Spec.model_validate(said), Host(None, (own,), UP, "304"))
    except (DoesNotFit, ValidationError):
        return
    assert made.added.metal >= 0.0
    for bar in made.bars:
        assert bar.radius > 0.0
        assert math.isfinite(bar.path.length)
    for one in made.fitted:
        assert math.isclose(sum(x * x for x in one.axis), 1.0)
