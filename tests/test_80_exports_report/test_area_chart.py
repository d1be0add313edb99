"""The way of each cylinder's gas, and its chart: closed forms at both ends, and the drawing."""

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.cli import pipeline
from geomgen.design.gas_ways import way, ways
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.report import area_chart
from geomgen.report._area_words import alike, numbers
from geomgen.report._svg import hexed, spread, ticks

SVG = "{http://www.w3.org/2000/svg}"


def oval(width: float, height: float) -> float:
    """Two halves of a circle and what is between."""
    return disc(height) + (width - height) * height


def disc(across: float) -> float:
    return math.pi / 4.0 * across**2


# Areas of port and outlet by hand, from sizes in the specs: od less two walls.
ENDS = {
    "brackenhall-20-stepped": (oval(45.0, 37.0), disc(70.0 - 2 * 1.5)),
    "larkfield-18-pairs": (disc(39.0), disc(63.5 - 2 * 1.5)),
    "ashcombe-28-threes": (disc(35.0), disc(70.0 - 2 * 1.5)),
    "dunmore-16-log": (oval(40.0, 31.0), disc(48.3 - 2 * 2.77)),
}

LAST = {"brackenhall-20-stepped": "flange face"}
"""Station at which gas leaves, where the outlet does not end open."""


@pytest.fixture(scope="module")
def demos(demo_file):
    """Some demos from their locks, by name."""
    return {
        name: pipeline.decide(pipeline.load(demo_file.with_name(f"{name}.yaml"))).design
        for name in ENDS
    }


@pytest.fixture(params=sorted(ENDS))
def demo(request, demos):
    return request.param, demos[request.param]


def only(rows, what):
    (row,) = (row for row in rows if row.what == what)
    return row


def test_ways_run_forward_from_port_to_outlet(demo):
    name, design = demo
    port, outlet = ENDS[name]
    for one in ways(design):
        assert not one.missing
        assert all(a.station <= b.station + 1e-9 for a, b in pairwise(one.rows))
        for a, b in pairwise(one.rows):  # at one place only where the bore steps, or joins
            if b.station - a.station < 1e-9:
                assert "before " in a.what + b.what or b.what == "first join"
        assert (one.rows[0].station, one.rows[0].what) == (0.0, "port")
        assert one.rows[0].area == pytest.approx(port, rel=1e-9)
        assert one.rows[-1].what == LAST.get(name, "outlet end")
        assert one.rows[-1].area == pytest.approx(outlet, rel=1e-9)


def test_each_way_has_its_own_runners_lengths(demo):
    """Its slot is where its parts end; what lies behind is as long as the pipe's own axis."""
    _, design = demo
    pipe = next(path for name, path, _ in design.collector.envelopes if name == "outlet")
    for runner in design.runners:
        rows = way(design, runner).rows
        slots = [row for row in rows if row.what in ("slot", "pair slot", "three slot")]
        tube = math.fsum(section.path.length for section in runner.tubes)
        begun = runner.transition.areas[-1].station
        assert slots[0].station == pytest.approx(begun + tube, abs=1e-6)
        if design.collector.family != "log":
            behind = only(rows, "outlet end").station - only(rows, "outlet").station
            assert behind == pytest.approx(pipe.length, abs=1e-6)


def test_steps_of_the_bore_are_where_the_tubes_are(demos):
    design = demos["brackenhall-20-stepped"]
    for runner, one in zip(design.runners, ways(design), strict=True):
        steps = [row.area for row in one.rows if row.what in ("step", "behind step")]
        # 45, 48 and 51 mm tubes of 1.5 mm wall
        assert steps == pytest.approx([disc(42), disc(45), disc(45), disc(48)])
        assert one.cylinder == runner.cylinder


def test_along_a_log_ways_differ_by_the_ports_pitch(demos):
    design = demos["dunmore-16-log"]
    end = {one.cylinder: one.rows[-1].station for one in ways(design)}
    x = {port.cylinder: port.frame.origin[0] for port in design.ports}
    assert end[1] - end[2] == pytest.approx(x[2] - x[1], abs=1e-6)
    assert end[4] - end[3] == pytest.approx(x[4] - x[3], abs=1e-6)
    rows = next(iter(ways(design))).rows
    assert only(rows, "before log").station == only(rows, "log").station
    assert only(rows, "before log").area < only(rows, "log").area


@pytest.mark.parametrize(
    ("name", "word"), [("larkfield-18-pairs", "pair"), ("ashcombe-28-threes", "three")]
)
def test_the_last_merge_stands_where_the_secondary_ends(demos, name, word):
    design = demos[name]
    for one in ways(design):
        (tube,) = (s for s in design.secondaries if one.cylinder in s.cylinders)
        joined = only(one.rows, "first join").station - only(one.rows, f"{word} first join").station
        assert joined == pytest.approx(tube.account.total, abs=1e-6)
        run = only(one.rows, "slot").station - only(one.rows, f"{word} secondary").station
        assert run == pytest.approx(tube.path.length, abs=1e-6)


def texts(root):
    return list(root.iter(f"{SVG}text"))


def test_the_drawing_says_what_the_ways_say(demo):
    """Measured in the drawing: scales by the words at the ticks, ends by the lines."""
    _, design = demo
    ((name, data),) = area_chart.pictures(design).items()
    assert name == "area_chart.svg"
    assert area_chart.pictures(design)[name] == data
    root = ET.fromstring(data)
    words = [node for node in texts(root) if re.fullmatch(r"\d+", node.text)]
    up = [(float(w.get("y")) - 4, float(w.text)) for w in words if w.get("x") == "170"]
    low = max(float(w.get("y")) for w in words if w.get("text-anchor") == "middle")
    across = [(float(w.get("x")), float(w.text)) for w in words if float(w.get("y")) == low]
    (y0, a0), (y1, a1) = up[0], up[-1]
    (x0, s0), (x1, s1) = across[0], across[-1]
    for one in ways(design):
        lines = [
            node.get("d")
            for node in root.iter(f"{SVG}path")
            if node.get("stroke") == hexed(one.cylinder) and float(node.get("d").split()[1]) > y1
        ]
        points = [
            (s0 + (x - x0) * (s1 - s0) / (x1 - x0), a0 + (y - y0) * (a1 - a0) / (y1 - y0))
            for line in lines
            for x, y in [tuple(map(float, p.split())) for p in re.split(r"[ML]", line)[1:]]
        ]
        for row in one.rows:
            close = min(max(abs(s - row.station) / s1, abs(a - row.area) / a1) for s, a in points)
            assert close < 1e-4


def test_names_stand_apart_and_on_the_sheet(demo):
    name, design = demo
    root = ET.fromstring(area_chart.picture(design))
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    names = [n for n in texts(root) if "rotate(-58" in (n.get("transform") or "")]
    said = [n.text for n in names]
    assert said[0] == "port"
    assert said[-1] == LAST.get(name, "outlet end")
    at = [float(n.get("x")) for n in names]
    assert all(b - a > 11.5 / math.sin(math.radians(58.0)) for a, b in pairwise(at))
    for node in texts(root):
        x, y, size = (float(node.get(k)) for k in ("x", "y", "font-size"))
        # a sans letter is about 0.55 of its size wide: common practice, no source
        reach = 0.55 * size * len(node.text)
        assert (x - reach if node.get("text-anchor") == "end" else x) >= 0
        assert (x + reach if node.get("text-anchor") is None else x) <= width
        assert size <= y <= height


def test_equal_runners_are_said_to_be_alike(demo_design, demo):
    assert "cylinders 1-4 alike" in area_chart.picture(demo_design)
    name, design = demo
    assert len(alike(ways(design))) == (2 if name == "dunmore-16-log" else 1)
    found = area_chart.picture(design)
    for runner in design.runners:  # each has its line, alike or not
        assert found.count(f'stroke="{hexed(runner.cylinder)}" stroke-width') >= 1


def test_a_step_at_another_place_is_not_alike(demos):
    design = demos["brackenhall-20-stepped"]
    before = {r.cylinder: r.sections[0].path.pieces[-1] for r in design.runners}
    moved = max(design.runners, key=lambda r: before[r.cylinder].length)
    assert isinstance(before[moved.cylinder], Straight)
    low, step, behind, *rest = moved.sections
    by = before[moved.cylinder].length / 2.0
    low = replace(low, path=Centreline(low.path.start, (*low.path.pieces[:-1], Straight(by))))
    step = replace(step, path=Centreline(step.path.start.moved(-by), step.path.pieces))
    longer = Centreline(behind.path.start.moved(-by), (Straight(by), *behind.path.pieces))
    sections = (low, step, replace(behind, path=longer), *rest)
    others = tuple(r for r in design.runners if r is not moved)
    odd = replace(design, runners=(replace(moved, sections=sections), *others))
    groups = {one.cylinders for one in alike(ways(odd))}
    assert groups == {(moved.cylinder,), tuple(r.cylinder for r in others)}
    assert area_chart.picture(odd) != area_chart.picture(design)


def test_a_merge_of_another_number_stops_at_its_join(demo_design):
    groups = ((1, 2, 3), (4,))
    odd = replace(
        demo_design, collector=replace(demo_design.collector, cylinders=(1, 2, 3, 4), groups=groups)
    )
    last = ways(odd)[-1]
    assert last.rows[-1].what == "first join"
    assert "merge of 3" in last.missing
    assert [one.missing for one in ways(odd)[:3]] == [""] * 3
    assert "Cylinder 4 stops at its first join" in area_chart.picture(odd)


def test_a_tube_that_is_not_its_slots_size_steps_there(demo_design):
    first = demo_design.runners[0]
    rows = way(demo_design, replace(first, inner_radius=20.0)).rows
    before, slot = only(rows, "before slot"), only(rows, "slot")
    assert before.station == slot.station
    assert (before.area, slot.area) == pytest.approx((disc(40.0), disc(42.0)))


def test_without_runners_there_is_no_chart(demo_design):
    assert area_chart.pictures(replace(demo_design, runners=())) == {}


def test_numbers_in_words():
    assert numbers((1, 2, 3, 4)) == "1-4"
    assert numbers((6, 1, 4, 5)) == "1, 4-6"
    assert numbers((2, 1)) == "1, 2"


@settings(max_examples=20)
@given(st.lists(st.floats(0, 900), min_size=1, max_size=14), st.floats(1, 30))
def test_spread_keeps_apart_and_moves_nothing_for_nothing(wanted, apart):
    wanted.sort()
    placed = spread(wanted, apart)
    assert all(b - a >= apart - 1e-9 for a, b in pairwise(placed))
    assert math.fsum(placed) == pytest.approx(math.fsum(wanted), abs=1e-6)
    if all(b - a >= apart for a, b in pairwise(wanted)):
        assert placed == pytest.approx(wanted)


@settings(max_examples=20)
@given(st.floats(1.0, 1e5), st.integers(4, 16))
def test_ticks_are_round_and_reach_far_enough(most, count):
    marks = ticks(most, count)
    step = marks[1]
    assert marks[0] == 0.0
    assert marks[-1] >= most - 1e-6
    assert marks[-2] < most
    assert len(marks) - 1 <= count
    assert f"{step:e}"[0] in "125"
    assert step == pytest.approx(float(f"{step:.0e}"))
