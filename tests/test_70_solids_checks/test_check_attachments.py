"""Rules on gates, sensors, steps and tails: each passes on a demo, fails when one thing is wrong.

Rules: an oxygen sensor at least 10 degrees above the horizontal, out of the lower third and after
a turbine; exhaust temperature 38 mm from the head at least, at one distance on every cylinder.
"""

import math
from dataclasses import replace

import pytest
from locked import SPECS, demo

from geomgen.checks import (
    egt_place,
    oxygen_place,
    sensor_room,
    step_place,
    tail_support,
    wastegate_lean,
    wastegate_reach,
)
from geomgen.design.model import Design, Limits
from geomgen.design.resolve import resolve
from geomgen.errors import Verdict
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame, scale, unit
from geomgen.routing.problem import Obstacle
from geomgen.spec.load import load


def stepped() -> Design:
    return demo("brackenhall-20-stepped")


def gated() -> Design:
    return demo("marlock-20-gate")


def changed(design: Design, name: str, **fields: object) -> Design:
    """The design with something else about one attachment."""
    facts = fields.pop("facts", None)
    rows = []
    for one in design.attachments:
        fitted = one.fitted
        if fitted.name == name:
            if facts is not None:
                fitted = replace(fitted, facts=tuple((dict(fitted.facts) | facts).items()))
            own = {k: v for k, v in fields.items() if k in ("cylinders", "of_scroll")}
            rest = {k: v for k, v in fields.items() if k not in own}
            rows.append(replace(one, fitted=replace(fitted, **rest), **own))
        else:
            rows.append(one)
    return replace(design, attachments=tuple(rows))


def without(design: Design, name: str) -> Design:
    rows = tuple(one for one in design.attachments if one.fitted.name != name)
    return replace(design, attachments=rows)


def limit(design: Design, key: str, value: float) -> Design:
    rows = tuple((k, value if k == key else v) for k, v in design.limits.values)
    return replace(design, limits=Limits(rows))


def verdicts(check, design: Design) -> dict[str, Verdict]:
    return {found.subject: found.verdict for found in check.run(design)}


@pytest.mark.parametrize(
    "check",
    [egt_place, oxygen_place, sensor_room, tail_support, wastegate_lean, wastegate_reach],
)
def test_demos_pass(check):
    found = {**verdicts(check, stepped()), **verdicts(check, gated())}
    assert found
    assert set(found.values()) == {Verdict.PASS}


def test_what_has_no_attachments_is_not_judged(demo_design):
    for check in (egt_place, oxygen_place, sensor_room, tail_support, step_place, wastegate_lean):
        assert check.run(demo_design) == ()


def test_a_gate_that_leans_back_fails():
    (fitted,) = (o.fitted for o in gated().attachments if o.fitted.name == "gate")
    (found,) = wastegate_lean.run(gated())
    assert found.value == pytest.approx(40.0)
    back = changed(gated(), "gate", flow=scale(fitted.flow, -1.0))
    (found,) = wastegate_lean.run(back)
    assert found.verdict is Verdict.FAIL
    assert found.value == pytest.approx(140.0)
    assert "at most 45 deg: a U-turn" in found.message
    assert verdicts(wastegate_lean, limit(gated(), "wastegate_lean", 39.0)) == {
        "gate": Verdict.FAIL
    }


def test_a_gate_that_a_cylinder_does_not_reach_fails():
    (found,) = wastegate_reach.run(changed(gated(), "gate", cylinders=(1, 2, 4)))
    assert found.verdict is Verdict.FAIL
    assert found.value == 1.0
    assert "not by that of 3" in found.message
    # A named end that is in no gas volume reaches nobody.
    (found,) = wastegate_reach.run(changed(gated(), "gate", use="WG_X"))
    assert found.verdict is Verdict.FAIL


def test_each_scrolls_gate_is_reached_by_its_own_cylinders():
    design = demo("marlock-30-gates")
    found = wastegate_reach.run(design)
    assert [f.verdict for f in found] == [Verdict.PASS, Verdict.PASS]
    groups = [set(one.cylinders) for one in design.attachments]
    # 1-5-3-6-2-4 divides into 1-2-3 and 4-5-6, 240 degrees apart
    assert groups == [{1, 2, 3}, {4, 5, 6}]
    inlets = [{f.name for f in gas.faces} for gas in design.gases]
    assert [{n for n in names if n.startswith("WG")} for names in inlets] == [{"WG_A"}, {"WG_B"}]


@pytest.mark.parametrize(("tilt", "ok"), [(9.9, False), (10.1, True), (-40.0, False)])
def test_tilt_of_an_oxygen_sensor(tilt, ok):
    """At least 10 degrees above the horizontal."""
    t = math.radians(tilt)
    design = changed(stepped(), "oxygen_bung", axis=(0.0, math.sin(t), math.cos(t)))
    assert (verdicts(oxygen_place, design)["oxygen_bung tilt"] is Verdict.PASS) == ok


def test_an_oxygen_sensor_in_the_lower_third_fails():
    low = changed(stepped(), "oxygen_bung", axis=unit((0.0, -1.0, 0.9)))
    assert verdicts(oxygen_place, low)["oxygen_bung place"] is Verdict.FAIL
    level = changed(stepped(), "oxygen_bung", axis=(0.0, 0.0, 1.0))
    assert verdicts(oxygen_place, level)["oxygen_bung place"] is Verdict.PASS


def test_an_oxygen_sensor_that_misses_a_cylinder_warns_and_before_a_turbine_fails():
    partly = changed(stepped(), "oxygen_bung", cylinders=(1, 2))
    assert verdicts(oxygen_place, partly)["oxygen_bung gas"] is Verdict.WARN
    before = changed(gated(), "pressure_bung", use="oxygen")
    assert verdicts(oxygen_place, before)["pressure_bung gas"] is Verdict.FAIL


def test_an_open_end_near_a_sensor_warns():
    """Ten diameters before it, where nothing is joined to the outlet."""
    open_ = replace(without(stepped(), "vband end"), flats=())
    found = {f.subject: f for f in oxygen_place.run(open_)}["oxygen_bung open end"]
    assert found.verdict is Verdict.WARN
    assert found.limit == pytest.approx(10.0 * 67.0)


def test_probes_too_near_or_apart():
    near = changed(stepped(), "egt_2", facts={"at_mm": 37.9})
    found = verdicts(egt_place, near)
    assert found["egt_2"] is Verdict.FAIL
    assert found["all probes"] is Verdict.WARN
    assert found["egt_1"] is Verdict.PASS
    far = changed(stepped(), "egt_2", facts={"at_mm": 201.0})
    assert verdicts(egt_place, far)["egt_2"] is Verdict.WARN
    for moved, verdict in ((10.0, Verdict.PASS), (-10.1, Verdict.WARN), (42.3, Verdict.WARN)):
        aside = changed(stepped(), "egt_2", facts={"moved_mm": moved})
        assert verdicts(egt_place, aside)["egt_2"] is verdict
    fewer = without(stepped(), "egt_4")
    assert verdicts(egt_place, fewer)["all probes"] is Verdict.WARN


def test_room_over_a_bung_that_is_taken_fails():
    (fitted,) = (o.fitted for o in stepped().attachments if o.fitted.name == "oxygen_bung")
    assert fitted.room is not None
    x, y, z = fitted.room[0].end.origin
    block = Box((x - 5.0, y - 5.0, z - 5.0), (x + 5.0, y + 5.0, z + 5.0))
    problem = stepped().problem
    beside = replace(problem, obstacles=(*problem.obstacles, Obstacle("battery", block, 0.0)))
    found = {f.subject: f for f in sensor_room.run(replace(stepped(), problem=beside))}
    assert found["oxygen_bung"].verdict is Verdict.FAIL
    assert "battery" in found["oxygen_bung"].remedy
    assert found["egt_1"].verdict is Verdict.PASS
    tube = stepped().runners[0].path
    across = Centreline(tube.start, (Straight(50.0),))
    inside = changed(stepped(), "oxygen_bung", room=(across, 10.0))
    found = {f.subject: f for f in sensor_room.run(inside)}
    assert found["oxygen_bung"].verdict is Verdict.FAIL


def test_a_probe_that_was_wanted_nowhere_has_not_moved():
    text = (SPECS / "skelby-16-stubs.yaml").read_text(encoding="utf-8")
    assert text.count("at: 150, ") == 1
    spec = load(text.replace("at: 150, ", "").encode(), "x.yaml").required()
    design = resolve(spec, None).design
    assert {dict(one.fitted.facts)["moved_mm"] for one in design.attachments} == {0.0}
    assert not any("wanted" in found.message for found in egt_place.run(design))


def test_a_runners_own_stub_bars_no_sensor_on_it():
    """Of a log both are one tube: the room over a boss ends in the tube that it stands on."""
    (one,) = (o for o in stepped().attachments if o.fitted.name == "egt_1")
    room, radius = one.fitted.room
    bars = (*stepped().collector.envelopes, ("stub 1", room, radius))
    found = verdicts(sensor_room, with_bars(stepped(), bars))
    assert found["egt_1"] is Verdict.PASS
    other = verdicts(sensor_room, with_bars(stepped(), (*bars, ("stub 2", room, radius))))
    assert other["egt_1"] is Verdict.FAIL


def with_bars(design: Design, bars) -> Design:
    return replace(design, collector=replace(design.collector, envelopes=bars))


def test_nothing_passes_beside_a_solid_that_was_not_measured():
    unseen = replace(stepped(), unseen=(("bay", "bay.step"),))
    assert set(verdicts(sensor_room, unseen).values()) == {Verdict.NOT_RUN}


def test_steps_stand_where_they_are_wanted():
    """Measured along the tubes: at the spec's places, on every cylinder, to the spec's 3 mm."""
    found = step_place.run(stepped())
    assert [f.subject for f in found] == [runner.name for runner in stepped().runners]
    for one, runner in zip(found, stepped().runners, strict=True):
        at, middles = runner.transition.areas[-1].station, []
        for section in runner.sections:
            middles += [at + section.path.length / 2.0] if section.is_step else []
            at += section.path.length
        worst = max(abs(a - b) for a, b in zip(middles, (260.0, 500.0), strict=True))
        assert (one.verdict, one.limit) == (Verdict.PASS, 3.0)
        assert one.value == pytest.approx(worst, abs=1e-6)
        assert worst <= 3.0


@pytest.mark.parametrize(
    ("by", "must", "verdict"),
    [
        (2.9, False, Verdict.PASS),
        (-3.1, False, Verdict.WARN),
        (2.9, True, Verdict.PASS),
        (-3.1, True, Verdict.FAIL),
    ],
)
def test_a_step_that_stands_elsewhere_warns_or_fails(by, must, verdict):
    first = stepped().runners[0]
    index = next(i for i, section in enumerate(first.sections) if section.is_step)
    sections = tuple(
        replace(section, moved=by if i == index else section.moved, must=must)
        for i, section in enumerate(first.sections)
    )
    runners = (replace(first, sections=sections), *stepped().runners[1:])
    found = step_place.run(replace(stepped(), runners=runners))
    assert [one.verdict for one in found] == [verdict, *[Verdict.PASS] * 3]
    assert found[0].value == abs(by)
    assert bool(found[0].remedy) == (verdict is not Verdict.PASS)


def test_a_step_that_is_wanted_beyond_the_runner_fails():
    design = stepped()
    runner = design.runners[0]
    index = max(i for i, section in enumerate(runner.sections) if section.is_step)
    stands = runner.account.plate + runner.account.transition
    stands += sum(section.path.length for section in runner.sections[:index])
    stands += runner.sections[index].path.length / 2.0
    for wanted, verdict in ((-0.1, Verdict.WARN), (0.1, Verdict.FAIL)):
        sections = list(runner.sections)
        moved = stands - (runner.account.total + wanted)
        sections[index] = replace(sections[index], moved=moved)
        asked = replace(runner, sections=tuple(sections))
        found = step_place.run(replace(design, runners=(asked, *design.runners[1:])))[0]
        assert found.verdict is verdict
        assert (f"{runner.account.total:.1f} mm long" in found.remedy) == (verdict is Verdict.FAIL)


def test_a_long_tail_wants_a_bracket():
    bare = without(stepped(), "hanger")
    assert tail_support.run(bare) == ()
    long = limit(bare, "tail_length", 100.0)
    (found,) = tail_support.run(long)
    assert found.verdict is Verdict.WARN
    assert verdicts(tail_support, limit(stepped(), "tail_length", 100.0)) == {"tail": Verdict.PASS}
    outlet = next(path for name, path, _ in bare.collector.envelopes if name == "outlet")
    assert found.value == pytest.approx(outlet.length)
    assert isinstance(outlet.start, Frame)
