"""Room for tools and nuts at studs: who reaches what, held against the kernel's distances."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.checks import nut_start, stud_access
from geomgen.design.access import Site, nut_bar, nut_way, site_of, tool_places, tried_at
from geomgen.design.fixed import fixed_parts
from geomgen.design.model import Design, Stud
from geomgen.design.network import routing_problem
from geomgen.design.reach import nut_of, ways
from geomgen.design.resolve import resolve
from geomgen.errors import Verdict
from geomgen.fasteners import FASTENERS
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Box, Cylinder
from geomgen.geometry.frames import Frame
from geomgen.routing.problem import Body, Obstacle
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load
from geomgen.spec.tools import Open, Ring, Socket, Tool

SEAT, PLAY, BEYOND = 10.0, 1.5, 5.0
STUD = Stud("1a", "M8", (0.0, 0.0, -1.2), 28.0)
SOCKET = Socket(socket=13, extension=75)
WOBBLE = Socket(name="wobble", socket=13, extension=150, wobble=15, length=30, bar=12)
RING = Ring(ring=13, swing=60)
OPEN = Open(open=13)


def site(*tools: Tool, obstacles=(), bodies=(), studs=(STUD,)) -> Site:
    return Site(tools, studs, SEAT, PLAY, BEYOND, tuple(bodies), tuple(obstacles))


def box(low, high, name="wall") -> Obstacle:
    return Obstacle(name, Box(low, high), 10.0)


def kernel_bar(bar: Cylinder):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    way = np.subtract(bar.end, bar.begin)
    axis = gp_Ax2(gp_Pnt(*bar.begin), gp_Dir(*(way / np.linalg.norm(way))))
    return BRepPrimAPI_MakeCylinder(axis, bar.radius, float(np.linalg.norm(way))).Solid()


def kernel_box(said: Box):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.gp import gp_Pnt

    return BRepPrimAPI_MakeBox(gp_Pnt(*said.low), gp_Pnt(*said.high)).Solid()


def kernel_gap(one, two) -> float:
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape

    return float(BRepExtrema_DistShapeShape(one, two).Value())


@pytest.mark.parametrize(
    ("thread", "height", "flats"),
    [("M6", 5.2, 10.0), ("M8", 6.8, 13.0), ("M10", 8.4, 16.0), ("M12", 10.8, 18.0)],
)
def test_nuts_are_those_of_the_standard(thread, height, flats):
    """m max and s of ISO 4032 (BS EN ISO 4032:2001 table 1, as reprinted)."""
    assert FASTENERS[thread].nut_height == height
    assert FASTENERS[thread].across_flats == flats
    nut = nut_of(Stud("x", thread, (1.0, 2.0, 0.0), 30.0), SEAT, ())
    # A cylinder over the corners holds the hexagon, whose corners may be up to s / cos 30.
    assert nut.radius == pytest.approx(flats / math.sqrt(3.0))
    assert nut.at == (1.0, 2.0, SEAT)


def test_a_nut_of_another_size_is_the_tools():
    """Small hexagons are used for access: a 12 mm socket alone means 12 mm nuts."""
    assert nut_of(STUD, SEAT, (Socket(socket=12),)).radius == pytest.approx(12 / math.sqrt(3))
    both = (Socket(socket=12), Ring(ring=13))
    assert nut_of(STUD, SEAT, both).radius == pytest.approx(13 / math.sqrt(3))


def test_the_nut_goes_on_from_beyond_the_tip():
    """Tip 26.8 above the gasket face, nut 6.8, room 5: up to 38.6."""
    way = nut_way(site(SOCKET), STUD)
    assert isinstance(way, Cylinder)
    assert (way.begin, way.end) == ((0.0, 0.0, 10.0), (0.0, 0.0, pytest.approx(38.6)))
    assert way.radius == pytest.approx(15.011 / 2, abs=1e-3)


def test_every_place_holds_the_nuts_way_too():
    for tool in (SOCKET, WOBBLE, RING, OPEN):
        for place in tool_places(site(tool)):
            points = np.array([(7.4, 0.0, z) for z in np.linspace(10.1, 38.5, 40)])
            least = np.min([field.distance(points) for field in place.fields], axis=0)
            assert (least < 0.0).all(), place.tool
            assert place.within.distance(points).max() < 0.0


def test_the_straight_way_is_tried_first_and_there_are_few():
    labels = [way.label for way in ways(WOBBLE, nut_of(STUD, SEAT, (WOBBLE,)))]
    assert labels[0] == "wobble"
    assert len(labels) == len(set(labels)) == 13
    assert len(list(ways(SOCKET, nut_of(STUD, SEAT, ())))) == 1
    assert len(list(ways(OPEN, nut_of(STUD, SEAT, ())))) == 12


def test_a_wobble_extension_leans_by_no_more_than_its_cone():
    for way in ways(WOBBLE, nut_of(STUD, SEAT, (WOBBLE,))):
        socket, bar = (room.field for room in way.rooms)
        assert socket.begin == (0.0, 0.0, SEAT)
        assert socket.end == bar.begin == (0.0, 0.0, SEAT + 30.0)
        axis = np.subtract(bar.end, bar.begin)
        assert np.linalg.norm(axis) == pytest.approx(6.8 + 150.0 - 30.0)
        lean = math.degrees(math.acos(axis[2] / np.linalg.norm(axis)))
        assert min(abs(lean - d) for d in (0.0, 7.5, 15.0)) < 1e-9
        assert (socket.radius, bar.radius) == (pytest.approx(1.45 * 13 / 2), 6.0)


@pytest.mark.parametrize(
    "tool", [SOCKET, WOBBLE, RING, OPEN], ids=["socket", "wobble", "ring", "open"]
)
def test_rooms_lie_in_their_boxes_and_fill_them(tool):
    rng = np.random.default_rng(5)
    for way in ways(tool, nut_of(STUD, SEAT, ())):
        for room in way.rooms:
            low, high = np.array(room.box.low), np.array(room.box.high)
            spread = rng.uniform(low - 30.0, high + 30.0, size=(30000, 3))
            inside = spread[room.field.distance(spread) <= 0.0]
            assert (inside >= low - 1e-9).all()
            assert (inside <= high + 1e-9).all()


@settings(max_examples=8)
@given(
    st.tuples(st.floats(-60, 60), st.floats(-60, 60), st.floats(20, 130)),
    st.tuples(*[st.floats(5, 60)] * 3),
)
def test_leaning_places_are_offered_where_the_kernel_finds_them_clear(low, size):
    """Each way's two bars against the box, by the kernel's distance of solids."""
    wall = Box(low, tuple(a + b for a, b in zip(low, size, strict=True)))
    obstacle = Obstacle("wall", wall, 10.0)
    offered = {place.tool for place in tool_places(site(WOBBLE, obstacles=(obstacle,)))}
    nut = kernel_gap(kernel_bar(nut_way(site(WOBBLE), STUD)), kernel_box(wall))
    for way in ways(WOBBLE, nut_of(STUD, SEAT, (WOBBLE,))):
        gaps = [kernel_gap(kernel_bar(room.field), kernel_box(wall)) for room in way.rooms]
        least = min(*gaps, nut)
        if least >= PLAY + 0.5:
            assert way.label in offered
        if least < PLAY - 1e-6:
            assert way.label not in offered


def test_wobble_reaches_past_what_bars_the_straight_way():
    """A pipe of 20 mm radius, its middle 18 mm beside the axis and 80 mm over the joint.

    It wants 20 + 6 + 1.5 = 27.5 mm. Straight there are 18. Leaning 15 deg straight away, the
    bar has gone 80 tan 15 = 21.4 mm aside by there, 45 deg off that 15.2 mm, 7.5 deg 10.5 mm
    (less the cosine of the lean); leaning 7.5 deg off to one side gains nothing.
    """
    pipe = Obstacle("pipe", Cylinder((18.0, -300.0, 120.0), (18.0, 300.0, 120.0), 20.0), 10.0)
    assert tool_places(site(Socket(socket=13, extension=150, bar=12), obstacles=(pipe,))) == ()
    found = tool_places(site(WOBBLE, obstacles=(pipe,)))
    assert {place.tool for place in found} == {
        "wobble leaning 7.5 deg towards 180 deg",
        "wobble leaning 15 deg towards 135 deg",
        "wobble leaning 15 deg towards 180 deg",
        "wobble leaning 15 deg towards 225 deg",
    }
    shut = Obstacle("shelf", Box((-75.0, -75.0, 100.0), (75.0, 75.0, 110.0)), 10.0)
    assert tool_places(site(WOBBLE, obstacles=(shut,))) == ()
    wide = WOBBLE.model_copy(update={"wobble": 30.0})
    small = Obstacle("plate", Box((-28.0, -28.0, 118.0), (28.0, 28.0, 124.0)), 10.0)
    assert tool_places(site(WOBBLE, obstacles=(small,))) == ()
    assert tool_places(site(wide, obstacles=(small,))) != ()


def test_an_open_spanner_gets_in_from_the_side_under_what_bars_the_rest():
    """A ceiling 8 mm over the seat: 5.9 mm of spanner pass, a ring goes over the stud's tip."""
    low = box((-200.0, -200.0, SEAT + 8.0), (200.0, 200.0, 60.0), "shelf")
    short = Stud("1a", "M8", (0.0, 0.0, -1.2), 18.0)
    assert tried_at(site(OPEN, obstacles=(low,), studs=(short,)), short)[0].bar is None
    (ring,) = tried_at(site(RING, obstacles=(low,), studs=(short,)), short)
    assert ring.bar is not None
    assert ring.bar.name == "shelf"
    # It goes on over the stud's tip, at 16.8: 9.75 mm thick and 1.5 mm of play, under 18.
    assert ring.bar.lacks == pytest.approx(16.8 + 9.75 + 1.5 - 18.0, abs=0.5)


def test_an_open_spanner_must_be_able_to_slide_on():
    """Walls all round, just clear of its swing: it turns there, but never comes off."""
    reach, head = 14.0 * 13, 2.1 * 13 / 2
    end = box((reach + 8.0, -200.0, 0.0), (reach + 20.0, 200.0, 80.0), "end wall")
    left = box((-100.0, 80.0, 0.0), (reach + 20.0, 90.0, 80.0), "left wall")
    right = box((-100.0, -90.0, 0.0), (reach + 20.0, -80.0, 80.0), "right wall")
    back = box((-40.0, -90.0, 0.0), (-30.0, 90.0, 80.0), "back wall")
    walls = (end, left, right, back)
    ring = Ring(ring=13, swing=30, diameter=2 * head)
    assert [p.tool for p in tool_places(site(ring, obstacles=walls))] == [
        "13 mm ring spanner pointing 0 deg"
    ]
    assert tool_places(site(OPEN, obstacles=walls)) == ()
    farther = box((reach + 2 * head + 12.0, -200.0, 0.0), (300.0, 200.0, 80.0), "end wall")
    assert len(tool_places(site(OPEN, obstacles=(farther, left, right, back)))) == 1


@pytest.mark.parametrize("tool", [RING, OPEN], ids=["ring", "open"])
@given(st.floats(-120, 120), st.floats(-120, 120), st.floats(4, 20))
def test_spanner_places_are_offered_where_a_post_is_clear_of_every_pose(tool, x, y, radius):
    """A post beside the stud, against the spanner drawn in many poses in the flat."""
    away = math.hypot(x, y)
    if away < radius + 12.0:
        return
    post = Obstacle("post", Cylinder((x, y, 0.0), (x, y, 60.0), radius), 10.0)
    offered = {place.tool for place in tool_places(site(tool, obstacles=(post,)))}
    head = (2.1 if isinstance(tool, Open) else 1.6) * 13 / 2
    handle, reach = 0.9 * 13 / 2, 14.0 * 13
    for i in range(12):
        least = math.inf
        half = math.radians(tool.swing) / 2.0
        for turn in np.linspace(-half, half, 61):
            shifts = [(0.0, 0.0)]
            if isinstance(tool, Open) and abs(abs(turn) - half) < 1e-9:
                for jaws in (turn - math.radians(15), turn + math.radians(15)):
                    away = math.radians(30 * i) + jaws
                    shifts += [
                        (t * math.cos(away), t * math.sin(away))
                        for t in np.linspace(0.0, 2 * head, 15)
                    ]
            u = (math.cos(math.radians(30 * i) + turn), math.sin(math.radians(30 * i) + turn))
            for dx, dy in shifts:
                px, py = x - dx, y - dy
                along = min(max(px * u[0] + py * u[1], 0.0), reach)
                gap = math.hypot(px - along * u[0], py - along * u[1]) - handle
                least = min(least, gap - radius, math.hypot(px, py) - head - radius)
        label = f"{next(iter(tool_labels(tool)))} pointing {30 * i} deg"
        if least >= PLAY + 1.5:
            assert label in offered, (label, least)
        if least < PLAY - 0.8:
            assert label not in offered, (label, least)


def tool_labels(tool):
    from geomgen.design.reach import tool_name

    yield tool_name(tool)


def test_the_neighbours_nut_and_the_collector_bar_too():
    near = Stud("1b", "M8", (20.0, 0.0, -1.2), 28.0)
    (tried,) = tried_at(site(SOCKET, studs=(STUD, near)), STUD)
    # Socket 9.4 and nut 7.5 and play 1.5 on 20 mm: clear by 1.6.
    assert tried.bar is None
    nearer = Stud("1b", "M8", (17.0, 0.0, -1.2), 28.0)
    (tried,) = tried_at(site(SOCKET, studs=(STUD, nearer)), STUD)
    assert tried.bar is not None
    assert tried.bar.name == "stud 1b"
    assert tried.bar.lacks == pytest.approx(9.425 + 7.506 + 1.5 - 17.0, abs=0.5)
    cone = Body("cone", Centreline(Frame((0.0, -200.0, 80.0)), (Straight(1.0),)), 5.0)
    across = Frame.facing((-200.0, 5.0, 80.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    outlet = Body("outlet", Centreline(across, (Straight(400.0),)), 31.75)
    (tried,) = tried_at(site(SOCKET, bodies=(cone, outlet)), STUD)
    assert tried.bar is not None
    assert tried.bar.name == "outlet"
    (tried,) = tried_at(site(OPEN, bodies=(cone, outlet)), STUD)
    assert tried.bar is None


def test_what_stands_over_the_tip_bars_the_nut_by_name():
    """A shelf 8 mm over the tip: nut 6.8, room 5, play 1.5 want 13.3; it lacks 5.3."""
    shelf = box((-50.0, -50.0, 34.8), (50.0, 50.0, 60.0), "shelf")
    bar = nut_bar(site(OPEN, obstacles=(shelf,)), STUD)
    assert bar is not None
    assert bar.name == "shelf"
    assert bar.lacks == pytest.approx(5.3, abs=0.5)
    assert tool_places(site(OPEN, obstacles=(shelf,))) == ()
    assert tried_at(site(OPEN, obstacles=(shelf,)), STUD)[0].bar is None


def test_without_tools_the_nut_must_still_go_on():
    (place,) = tool_places(site())
    assert place.tool == "nut by hand"
    assert place.fields == (nut_way(site(), STUD),)


def with_tools(design: Design, *tools: Tool) -> Design:
    said = replace(design, tools=tools)
    places = tool_places(site_of(said))
    return replace(said, problem=replace(design.problem, places=places))


def with_bar_over(design: Design, height: float) -> Design:
    """Runner 1 made a straight tube that crosses over stud 1a, ``height`` from z = 0."""
    x, y, _ = design.studs[0].at
    start = Frame.facing((x - 250.0, y, height), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    runner = replace(design.runners[0], path=Centreline(start, (Straight(300.0),)))
    return replace(design, runners=(runner, *design.runners[1:]))


def by_stud(found):
    return {finding.subject: finding for finding in found}


def test_a_nut_under_a_runner_that_only_a_spanner_reaches(demo_design):
    """A tube over the stud, its underside 55 mm up: the nut goes on, no straight socket does."""
    low = with_bar_over(demo_design, 55.0 + 22.5)
    both = by_stud(stud_access.run(with_tools(low, SOCKET, OPEN)))["stud 1a"]
    assert both.verdict is Verdict.PASS
    assert both.message.startswith("13 mm open-ended spanner pointing")
    alone = by_stud(stud_access.run(with_tools(low, SOCKET)))["stud 1a"]
    assert alone.verdict is Verdict.FAIL
    assert "13 mm socket, 75 mm long lacks" in alone.message
    assert alone.message.endswith("beside runner 1")
    assert by_stud(nut_start.run(with_tools(low, OPEN)))["stud 1a"].verdict is Verdict.PASS


def test_a_nut_that_cannot_be_started_though_a_spanner_fits(demo_design):
    """Underside 4 mm over the tip (26.8): spanners work below, the nut needs 11.8 and play."""
    low = with_tools(with_bar_over(demo_design, 30.8 + 22.5), SOCKET, OPEN)
    assert by_stud(stud_access.run(low))["stud 1a"].verdict is Verdict.PASS
    started = by_stud(nut_start.run(low))
    nut = started["stud 1a"]
    assert nut.verdict is Verdict.FAIL
    assert "the nut cannot be started: runner 1 stands" in nut.message
    assert nut.value == pytest.approx(4.0 - 11.8 - 1.5, abs=0.3)
    assert nut.remedy
    assert [s for s, f in started.items() if f.verdict is Verdict.FAIL] == ["stud 1a"]


def test_room_left_is_the_kernels_distance(demo_design):
    """The straight runner over the stud against the nut's way, as two solids."""
    low = with_bar_over(demo_design, 45.0 + 22.5)
    stud = demo_design.studs[0]
    start = low.runners[0].path.start.origin
    tube = Cylinder(start, (start[0] + 300.0, start[1], start[2]), 22.5)
    gap = kernel_gap(kernel_bar(tube), kernel_bar(nut_way(site_of(low), stud)))
    found = by_stud(nut_start.run(low))["stud 1a"]
    assert found.value == pytest.approx(gap - 1.5, abs=0.21)


def test_every_failing_stud_says_what_each_tool_lacks(demo_design):
    low = with_tools(with_bar_over(demo_design, 22.5 + 11.0), SOCKET, RING, OPEN)
    found = by_stud(stud_access.run(low))["stud 1a"]
    assert found.verdict is Verdict.FAIL
    for tool in ("13 mm socket, 75 mm long", "13 mm ring spanner", "13 mm open-ended spanner"):
        assert f"{tool} lacks" in found.message


@pytest.fixture(scope="module")
def spec(demo_file) -> HeaderSpec:
    return load(demo_file.read_bytes(), demo_file.name).required()


def test_a_stud_that_no_layout_helps_is_left_to_the_checks(spec):
    """A bracket on stud 2b's tip: the router is not asked for what no runner can mend."""
    said = spec.model_dump(by_alias=True)
    bracket = {
        "name": "bracket",
        "kind": "head",
        "box": {"from": [100, -50, 30], "to": [140, -20, 45]},
        "gap": 0,
    }
    said["obstacles"] = [*said["obstacles"], bracket]
    changed = HeaderSpec.model_validate(said)
    fixed = fixed_parts(changed)
    problem = routing_problem(changed, fixed)
    assert "2b" not in problem.studs
    assert len(problem.studs) == 7
    assert {place.stud for place in problem.places} == set(problem.studs)


def test_a_bracket_on_the_tip_fails_both_checks_by_name(demo_design):
    x, y, _ = demo_design.studs[3].at
    bracket = Obstacle("bracket", Box((x - 20, y - 15, 30.0), (x + 20, y + 15, 45.0)), 0.0)
    problem = replace(demo_design.problem, obstacles=(*demo_design.problem.obstacles, bracket))
    spoilt = replace(
        demo_design, problem=problem, obstacles=(*demo_design.obstacles, ("bracket", "head"))
    )
    spoilt = with_tools(spoilt, SOCKET, OPEN)
    nut = by_stud(nut_start.run(spoilt))["stud 2b"]
    assert nut.verdict is Verdict.FAIL
    assert "bracket stands" in nut.message
    access = by_stud(stud_access.run(spoilt))["stud 2b"]
    assert access.verdict is Verdict.FAIL
    assert "13 mm socket, 75 mm long lacks" in access.message
    assert "open-ended spanner has room where the nut has none" in access.message


@pytest.fixture(scope="module")
def in_elbows(demo_file) -> Design:
    """The demo in weld elbows and their pipe, with a wobble extension and an open spanner."""
    text = demo_file.read_text(encoding="utf-8")
    for old, new in (
        ("tube: {od: 45, wall: 1.5", "tube: {od: 48.3, wall: 2.77"),
        ("{clr: 67.5, angle: 180, leg: 100}", "{kind: elbow, nps: 1-1/2}"),
        ("socket: 13, extension: 75}", "socket: 13, extension: 150, wobble: 12, bar: 12}"),
        ("{name: ring spanner, ring: 13, swing: 60}", "{name: open spanner, open: 13}"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    return resolve(load(text, "elbows.yaml").required()).design


def test_a_header_of_elbows_is_laid_out_and_its_nuts_reached(in_elbows):
    for runner in in_elbows.runners:
        assert {bend.radius for bend in runner.path.bends} == {57.15}
        assert max(bend.angle for bend in runner.path.bends) <= math.radians(90.0) + 1e-9
    for check in (stud_access, nut_start):
        assert {finding.verdict for finding in check.run(in_elbows)} == {Verdict.PASS}


def test_reported_tools_have_their_room_by_dense_sampling(in_elbows):
    """A point every half millimetre of every runner, against the place that is reported."""
    points = {
        runner.cylinder: points_at(runner.path, np.arange(0.0, runner.path.length, 0.5))
        for runner in in_elbows.runners
    }
    places = {(place.stud, place.tool): place for place in in_elbows.problem.places}
    for finding in stud_access.run(in_elbows):
        stud, tool = finding.subject.removeprefix("stud "), finding.message.split(", at least")[0]
        least = min(
            float(field.distance(rows).min()) - 24.15 - 1.5
            for rows in points.values()
            for field in places[stud, tool].fields
        )
        assert least >= 0.0
        assert finding.value <= least + 0.25
