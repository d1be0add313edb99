"""What is checked at a turbine: it passes on the demos, and fails where one thing is wrong."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from locked import SPECS, demo
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

from geomgen.checks import (
    nut_start,
    obstacle_gap,
    oil_drain,
    pairing,
    removal,
    run_all,
    runner_area,
    scroll_balance,
    slot_order,
    stud_access,
    turbine_inlet,
    turbine_support,
)
from geomgen.design.access import sites_of, tool_places, tools_for
from geomgen.design.model import Design
from geomgen.design.resolve import resolve
from geomgen.errors import Finding, SpecError, Verdict
from geomgen.geometry.fields import Box, Cylinder, placed
from geomgen.recipe.nodes import Trim, Tube
from geomgen.recipe.volumes import NoClosedForm, bore_volume
from geomgen.routing.failure import moved
from geomgen.routing.problem import Obstacle
from geomgen.solids.build import build
from geomgen.solids.measure import solids_of, volume
from geomgen.spec.load import load
from geomgen.spec.tools import Ring, Socket

SINGLE, DIVIDED = "marlock-20-turbo", "marlock-30-twin-scroll"


@pytest.fixture(scope="module")
def single() -> Design:
    return demo(SINGLE)


@pytest.fixture(scope="module")
def divided() -> Design:
    return demo(DIVIDED)


def told(design: Design, **facts: float) -> Design:
    """A design with other facts."""
    said = {**dict(design.collector.facts), **facts}
    return replace(design, collector=replace(design.collector, facts=tuple(said.items())))


def verdicts(findings: Iterable[Finding]) -> list[Verdict]:
    return [finding.verdict for finding in findings]


def test_nothing_fails_on_the_demo(divided: Design) -> None:
    assert not {Verdict.FAIL, Verdict.NOT_RUN} & set(verdicts(run_all(divided)))


def test_checks_on_turbines_say_nothing_of_other_manifolds(demo_design: Design) -> None:
    for check in (oil_drain, turbine_inlet, turbine_support, scroll_balance, runner_area):
        assert check.run(demo_design) == ()


# Drain, inlet, support, balance, runners


def test_a_drain_that_leans_too_far_fails(single: Design) -> None:
    assert verdicts(oil_drain.run(single)) == [Verdict.PASS]
    assert verdicts(oil_drain.run(told(single, drain_from_vertical_deg=30.1))) == [Verdict.FAIL]


@pytest.mark.parametrize(
    ("fact", "value", "subject", "verdict"),
    [
        ("inlet_wall_angle_deg", 15.1, "transition walls", Verdict.FAIL),
        ("inlet_area_dip_percent", 1.1, "transition area", Verdict.FAIL),
        ("divider_mm", 3.9, "divider", Verdict.FAIL),
        ("flange_thickness_mm", 10.0, "flange", Verdict.WARN),
        ("flange_facing_mm", 0.0, "flange", Verdict.WARN),
    ],
)
def test_an_inlet_that_is_wrong_in_one_way(divided: Design, fact, value, subject, verdict) -> None:
    assert set(verdicts(turbine_inlet.run(divided))) == {Verdict.PASS}
    bad = {f.subject: f.verdict for f in turbine_inlet.run(told(divided, **{fact: value}))}
    assert bad.pop(subject) is verdict
    assert set(bad.values()) == {Verdict.PASS}


def test_a_turbo_that_nothing_holds_warns(single: Design) -> None:
    (good,) = turbine_support.run(single)
    assert good.verdict is Verdict.PASS
    assert good.value == pytest.approx(9.5 * 9.80665)
    (bad,) = turbine_support.run(told(single, turbo_bracket_count=0.0))
    assert bad.verdict is Verdict.WARN
    assert "manifold alone" in bad.message


def test_scrolls_that_differ_warn(divided: Design) -> None:
    assert set(verdicts(scroll_balance.run(divided))) == {Verdict.PASS}
    lengths, gas = scroll_balance.run(told(divided, slot_to_turbine_b_mm=400.0))
    assert (lengths.verdict, gas.verdict) == (Verdict.WARN, Verdict.PASS)
    # Entry to the flange's face 440 and 273 mm for one scroll, 440 and 400 for the other.
    a = (
        dict(divided.runners[0].to_ends)["entry"]
        + dict(divided.collector.facts)["slot_to_turbine_a_mm"]
    )
    b = dict(divided.runners[0].to_ends)["entry"] + 400.0
    assert lengths.value == pytest.approx(50.0 * (b - a) / ((a + b) / 2.0))
    cc = dict(divided.collector.facts)["scroll_a_gas_cc"]
    lengths, gas = scroll_balance.run(told(divided, scroll_b_gas_cc=1.06 * cc))
    assert (lengths.verdict, gas.verdict) == (Verdict.PASS, Verdict.WARN)
    assert gas.value == pytest.approx(100.0 * 0.06 / 1.03)


def test_runners_much_larger_than_the_valves_warn(single: Design) -> None:
    (good,) = runner_area.run(single)
    # Two valves of 29 mm at 10 mm lift; NPS 1-1/4 schedule 10S has 36.66 mm bore.
    assert good.value == pytest.approx(math.pi / 4 * 36.66**2 / (2 * math.pi * 29 * 10), rel=1e-6)
    assert verdicts(runner_area.run(told(single, runner_over_valve_area=1.21))) == [Verdict.WARN]


# The turbine's bolts


def test_every_bolt_of_the_flange_is_looked_at(divided: Design) -> None:
    for check in (stud_access, nut_start):
        found = {f.subject: f for f in check.run(divided)}
        for k in range(1, 5):
            assert found[f"stud turbine {k}"].verdict is Verdict.PASS
    # Turbine at 230, 250, 200, bolts on 100 by 76, 1 mm of gasket above the face.
    (flange,) = divided.bolted
    corners = {tuple(round(v, 6) for v in flange.frame.point(stud.at)) for stud in flange.studs}
    assert corners == {(x, 251.0, z) for x in (180.0, 280.0) for z in (162.0, 238.0)}


def test_a_bolt_that_is_barred_fails(divided: Design) -> None:
    """A bar along the gas over bolt 1, as wide as its nut."""
    (site,) = sites_of(divided)[1:]
    x, y, _ = site.studs[0].at
    bar = placed(Cylinder((x, y, 30.0), (x, y, 120.0), 8.0), site.frame)
    problem = divided.problem
    barred = replace(
        divided,
        obstacles=(*divided.obstacles, ("bar", "block")),
        problem=replace(problem, obstacles=(*problem.obstacles, Obstacle("bar", bar, 1.0))),
    )
    places = tool_places(sites_of(barred)[1])
    barred = replace(barred, problem=replace(barred.problem, places=places), heads=())
    for check in (stud_access, nut_start):
        bad = [f.subject for f in check.run(barred) if f.verdict is Verdict.FAIL]
        assert bad == ["stud turbine 1"]


def test_a_nut_gets_the_tools_of_its_size(divided: Design) -> None:
    heads, turbine = sites_of(divided)
    assert {getattr(t, "socket", None) or getattr(t, "ring", None) for t in heads.tools} == {13}
    assert {getattr(t, "socket", None) or getattr(t, "ring", None) for t in turbine.tools} == {16}
    small = (Socket(socket=12), Ring(ring=10))
    assert tools_for(small, heads.studs) == small


# What hangs on the manifold


def test_pipes_keep_clear_of_the_turbo(single: Design) -> None:
    found = [f for f in obstacle_gap.run(single) if "turbine" in f.subject]
    assert {f.subject.split(" / ")[1] for f in found} == {
        "turbine housing",
        "turbine compressor",
        "turbine actuator",
        "turbine downpipe",
        "turbine flange",
    }
    # A housing that is 30 mm taller stands where the transition is.
    taller = tuple(
        replace(o, field=placed(Box((-62, -55, -120), (62, 55, 30)), single.bolted[0].frame))
        if o.name == "turbine housing"
        else o
        for o in single.problem.obstacles
    )
    bad = replace(single, problem=replace(single.problem, obstacles=taller))
    fails = {f.subject for f in obstacle_gap.run(bad) if f.verdict is Verdict.FAIL}
    assert fails == {"inlet / turbine housing"}


def test_what_hangs_on_the_manifold_comes_off_with_it(single: Design) -> None:
    """A wall right outside runner 4 bars the way off the studs, unless it goes along."""
    wall = Obstacle("wall", Box((200, -200, 262), (400, 100, 280)), 0.0)
    problem = replace(single.problem, obstacles=(*single.problem.obstacles, wall))
    barred = replace(single, problem=problem, obstacles=(*single.obstacles, ("wall", "body")))
    reach = max(f.origin[2] for r in single.runners for f in r.path.frames) + 21.1
    assert 262 - 28.8 < reach < 262
    assert verdicts(removal.run(barred)) == [Verdict.FAIL]
    assert verdicts(removal.run(replace(barred, hung=(*single.hung, "wall")))) == [Verdict.PASS]


def test_what_hangs_on_the_collector_moves_with_it(single: Design) -> None:
    problem = moved(single.problem, (10.0, -20.0, 30.0))
    for before, after in zip(single.problem.obstacles, problem.obstacles, strict=True):
        hangs = before.name in (*single.hung, "turbine flange")
        assert before.hangs == hangs
        points = np.array([[120.0, 260.0, 210.0], [0.0, 0.0, 0.0], [300.0, 300.0, 100.0]])
        gone = np.array([10.0, -20.0, 30.0]) if hangs else 0.0
        assert after.field.distance(points + gone) == pytest.approx(before.field.distance(points))


def test_a_name_is_not_given_twice() -> None:
    file = SPECS / f"{SINGLE}.yaml"
    for name in ("turbine housing", "turbine flange"):
        text = file.read_text(encoding="utf-8").replace("name: cam cover", f"name: {name}")
        said = load(text, file.name).required()
        with pytest.raises(SpecError, match=name):
            resolve(said, None)


def test_gaps_are_those_of_their_kinds(divided: Design) -> None:
    """10 mm to what is bolted on; the actuator has a gap of its own; 6 mm from tube to tube."""
    gaps = {o.name: o.gap for o in divided.problem.obstacles if "turbine" in o.name}
    assert gaps == {
        "turbine housing": 10.0,
        "turbine compressor": 10.0,
        "turbine actuator": 30.0,
        "turbine downpipe": 10.0,
        "turbine flange": 6.0,
    }
    assert divided.hung == tuple(gaps)[:4]


# Gas


def test_gas_is_what_the_kernel_measures(single: Design, divided: Design) -> None:
    facts = dict(single.collector.facts)
    found = volume(build(single.gases[0].node)) / 1000.0
    assert facts["gas_face_to_turbine_cc"] == pytest.approx(found, rel=2e-4)
    # Four ports, 80 mm long, of 39.5 by 32 mm with round ends.
    port = math.pi * 16**2 + 32 * 7.5
    assert facts["gas_valve_to_turbine_cc"] - facts["gas_face_to_turbine_cc"] == pytest.approx(
        4 * 80 * port / 1000.0
    )
    twice = dict(divided.collector.facts)
    both = twice["scroll_a_gas_cc"] + twice["scroll_b_gas_cc"]
    assert twice["gas_face_to_turbine_cc"] == pytest.approx(both)


def test_two_scrolls_share_no_gas(divided: Design) -> None:
    a, b = (build(gas.node) for gas in divided.gases)
    assert [len(solids_of(shape)) for shape in (a, b)] == [1, 1]
    assert solids_of(BRepAlgoAPI_Common(a, b).Shape()) == []
    names = [[face.name for face in gas.faces] for gas in divided.gases]
    assert names == [
        ["INLET_1", "INLET_2", "INLET_3", "OUTLET_A"],
        ["INLET_4", "INLET_5", "INLET_6", "OUTLET_B"],
    ]


def test_trimmed_bores_have_the_volume_that_the_kernel_measures(divided: Design) -> None:
    nodes = [node.node for node in divided.gases[0].node.nodes if hasattr(node, "node")]
    trims = [node for node in nodes if isinstance(node, Trim)]
    assert trims
    for trim in trims[:2]:
        assert bore_volume(trim) == pytest.approx(volume(build(trim)), rel=2e-4)


def test_a_trimmed_bend_has_no_closed_form(divided: Design) -> None:
    tube = Tube(divided.runners[0].path, 19.2)
    with pytest.raises(NoClosedForm):
        bore_volume(Trim(tube, ()))


def test_cylinders_meet_in_their_scroll_first(divided: Design) -> None:
    assert divided.collector.groups == ((1, 2, 3), (4, 5, 6), (1, 2, 3, 4, 5, 6))
    assert Verdict.FAIL not in verdicts(slot_order.run(divided))


def test_a_wrong_grouping_is_flagged(divided: Design) -> None:
    """1-5-3-6-2-4: thirds of the engine fire 240 degrees apart, 1-2-4 as near as 120."""
    found = pairing.run(divided)
    assert [(f.subject, f.verdict) for f in found] == [
        ("1+2+3", Verdict.PASS),
        ("4+5+6", Verdict.PASS),
    ]
    assert [f.value for f in found] == pytest.approx([240.0, 240.0])
    groups = ((1, 2, 4), (3, 5, 6), (1, 2, 3, 4, 5, 6))
    wrong = replace(divided, collector=replace(divided.collector, groups=groups))
    found = pairing.run(wrong)
    assert verdicts(found) == [Verdict.FAIL, Verdict.FAIL]
    assert [f.value for f in found] == pytest.approx([120.0, 120.0])
