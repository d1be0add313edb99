"""A tool and room to start at every bolted joint, and room for every clamp: both ways.

Sizes by hand: a 13 mm socket is 1.45 x 13 = 18.85 mm over all, a ring spanner's head 20.8 mm;
1.5 mm of air round either (common practice, no source). Heads of ISO 4017 bolts are at most 4.15,
5.45, 6.58 and 7.68 mm high from M6 to M12 (product grade A, from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from locked import SPECS, demo

from geomgen.checks import clamp_room, nut_start, stud_access
from geomgen.design.access import sites_of, tool_places
from geomgen.design.clamps import band, clocked
from geomgen.design.fixed import fixed_parts
from geomgen.design.hanging import bolted_flanges
from geomgen.design.joint_access import joints_of
from geomgen.design.mating import mated
from geomgen.design.model import Design, Limits, Stud
from geomgen.design.reach import nut_of, ways
from geomgen.errors import Finding, Verdict
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Box, Cylinder, placed
from geomgen.geometry.frames import distance
from geomgen.routing.problem import Obstacle
from geomgen.spec.load import load
from geomgen.spec.tools import Ring, Socket

PLAY = 1.5


def text_of(name: str) -> str:
    return (SPECS / f"{name}.yaml").read_text(encoding="utf-8")


def gated() -> Design:
    return demo("marlock-20-gate")


def of_joint(check, design: Design, name: str) -> dict[str, Finding]:
    """What a check finds at one joint; the heads' own studs are left out, to be quick."""
    return {f.subject: f for f in check.run(replace(design, heads=())) if name in f.subject}


def verdicts(found: dict[str, Finding]) -> set[Verdict]:
    return {finding.verdict for finding in found.values()}


def beside(design: Design, *obstacles: Obstacle) -> Design:
    problem = replace(design.problem, obstacles=(*design.problem.obstacles, *obstacles))
    return replace(design, problem=problem)


def with_turbine(**said: str) -> Design:
    """The single turbine's demo with another inlet, its runners as they are."""
    text = text_of("marlock-20-turbo")
    for old, new in said.values():
        assert text.count(old) == 1
        text = text.replace(old, new)
    fixed = fixed_parts(load(text, "marlock.yaml").required())
    design = demo("marlock-20-turbo")
    design = replace(
        design,
        bolted=bolted_flanges(fixed.layout),
        mated=mated(fixed.layout, fixed.plates.standing),
    )
    face = sites_of(design)[1]
    places = tuple(p for p in design.problem.places if not p.stud.startswith("turbine"))
    return replace(design, problem=replace(design.problem, places=(*places, *tool_places(face))))


# Bolts


@pytest.mark.parametrize(
    ("thread", "head"), [("M6", 4.15), ("M8", 5.45), ("M10", 6.58), ("M12", 7.68)]
)
def test_a_bolt_is_its_head_and_goes_in_by_its_length(thread, head) -> None:
    """ISO 4017, k max of product grade A, from memory."""
    bolt = Stud("1", thread, (3.0, 4.0, 0.0), 0.0, bolt=40.0)
    nut = nut_of(bolt, 12.0, ())
    stand, way = nut.stand.field, nut.way_on(5.0).field
    assert (stand.begin, stand.end) == ((3.0, 4.0, 12.0), (3.0, 4.0, pytest.approx(12.0 + head)))
    assert (way.begin, way.end[2]) == (stand.begin, pytest.approx(12.0 + 40.0 + head + 5.0))


def test_a_ring_spanner_sits_on_a_head_and_over_a_stud() -> None:
    """Nothing stands out of a head: the ring is at the seat, within 0.75 of its size."""
    ring, seat = Ring(ring=16), 12.0
    tall = {
        kind: max(room.field.end[2] for room in next(ways(ring, nut_of(stud, seat, ()))).rooms[1:])
        for kind, stud in {
            "bolt": Stud("1", "M10", (0.0, 0.0, 0.0), 0.0, bolt=40.0),
            "stud": Stud("1", "M10", (0.0, 0.0, -1.0), 30.0),
        }.items()
    }
    assert tall == {"bolt": 12.0 + 12.0, "stud": 29.0 + 12.0}


# Turbines


def test_bolts_into_the_turbine_need_their_length() -> None:
    design = with_turbine(bolts=("    gasket: 1\n", "    gasket: 1\n    fasteners: bolts\n"))
    # gasket 1, flange 12, 1.5 x 10 mm into the turbine's
    assert {stud.bolt for stud in design.bolted[0].studs} == {28.0}
    names = {f"bolt turbine {k}" for k in range(1, 5)}
    for check in (stud_access, nut_start):
        found = of_joint(check, design, "turbine")
        assert set(found) == names
        assert verdicts(found) == {Verdict.PASS}
    # 33 mm over the seat of bolt 1: a nut wants 13.4 + 8.4 + 5 mm and goes on below it, a bolt
    # wants 28 + 6.58 + 5 and does not go in.
    frame = design.bolted[0].frame
    x, y, _ = design.bolted[0].studs[0].at
    block = Obstacle("lid", placed(Box((x - 4, y - 4, 45), (x + 4, y + 4, 49)), frame), 0.0)
    studs = demo("marlock-20-turbo")
    for said, whole in ((design, {"bolt turbine 1"}), (studs, set())):
        barred = beside(replace(said, obstacles=(*said.obstacles, ("lid", "block"))), block)
        bad = of_joint(nut_start, barred, "turbine")
        assert {name for name, f in bad.items() if f.verdict is Verdict.FAIL} == whole


def test_bolts_into_a_tapped_inlet_are_reached_from_the_turbines_side() -> None:
    """The housing of the demo, 124 x 110 mm, fills what is behind its bolts, 90 x 74 mm apart."""
    tapped = (
        "bolts: {thread: M10, pitch: [90, 74]}",
        "bolts: {thread: M10, pitch: [90, 74], hole: tapped}",
    )
    barred = with_turbine(bolts=tapped)
    assert barred.bolted[0].studs == ()
    (joint,) = barred.mated
    # gasket 1 and the turbine's flange, as thick as the inlet's 12, below the gasket face
    corners = {
        tuple(round(v, 6) for v in joint.frame.point((*s.at[:2], joint.seat))) for s in joint.studs
    }
    assert corners == {(x, 240.0 + 13.0, z) for x in (90.0, 180.0) for z in (163.0, 237.0)}
    assert {stud.bolt for stud in joint.studs} == {13.0 + 12.0}
    found = of_joint(stud_access, barred, "turbine")
    assert set(found) == {f"bolt turbine {k}" for k in range(1, 5)}
    assert verdicts(found) == {Verdict.FAIL}
    assert all("turbine housing" in f.message for f in found.values())
    # As it is cast: a neck of 60 mm behind the flange leaves room for heads and sockets.
    neck = placed(Box((-30, -25, -120), (30, 25, -14)), demo("marlock-20-turbo").bolted[0].frame)
    obstacles = tuple(
        replace(o, field=neck) if o.name == "turbine housing" else o
        for o in barred.problem.obstacles
        if o.name != "turbine compressor"
    )
    free = replace(barred, problem=replace(barred.problem, obstacles=obstacles))
    for check in (stud_access, nut_start):
        assert verdicts(of_joint(check, free, "turbine")) == {Verdict.PASS}


def test_the_turbines_flange_may_be_thicker_than_the_inlets() -> None:
    said = {
        "bolts": ("pitch: [90, 74]}", "pitch: [90, 74], hole: tapped}"),
        "thick": ("    gasket: 1\n", "    gasket: 1\n    flange_thickness: 15\n"),
    }
    (joint,) = with_turbine(**said).mated
    assert joint.seat == 16.0
    assert {stud.bolt for stud in joint.studs} == {28.0}


def test_a_housing_bars_the_nuts_on_the_tube_side_too() -> None:
    single = demo("marlock-20-turbo")
    x, y, _ = single.bolted[0].studs[0].at
    bulge = placed(Box((x - 12, y - 12, 14), (x + 12, y + 12, 90)), single.bolted[0].frame)
    obstacles = tuple(
        replace(o, field=bulge) if o.name == "turbine housing" else o
        for o in single.problem.obstacles
    )
    barred = replace(single, problem=replace(single.problem, obstacles=obstacles))
    places = tool_places(sites_of(barred)[1])
    barred = replace(barred, problem=replace(barred.problem, places=places), heads=())
    for check in (stud_access, nut_start):
        found = of_joint(check, barred, "turbine")
        bad = {name: f for name, f in found.items() if f.verdict is Verdict.FAIL}
        assert set(bad) == {"stud turbine 1"}
        assert "turbine housing" in bad["stud turbine 1"].message
        assert "solve again" not in bad["stud turbine 1"].remedy  # no layout moves the housing


def test_a_protrusion_is_a_studs() -> None:
    text = text_of("marlock-20-turbo").replace(
        "    gasket: 1\n", "    gasket: 1\n    fasteners: bolts\n    protrusion: 30\n"
    )
    (problem,) = load(text, "it.yaml").problems
    assert "protrusion" in problem.found


# Gates, outlets


def test_every_bolt_of_a_gate_and_an_outlet_is_looked_at() -> None:
    for name, flange, count in (
        ("marlock-20-gate", "gate flange", 4),
        ("dunmore-16-fitted", "outlet flange", 3),
    ):
        for check in (stud_access, nut_start):
            found = of_joint(check, demo(name), flange)
            assert set(found) == {f"stud {flange} {k}" for k in range(1, count + 1)}
            assert verdicts(found) == {Verdict.PASS}


def test_bolts_too_near_their_pipe_fail() -> None:
    """On a circle of 62 a socket of 9.425 mm radius lacks 21.1 + 9.425 + 1.5 - 31 = 1.025 mm."""
    design = gated()
    (joint,) = design.mated
    studs = tuple(
        replace(stud, at=(stud.at[0] * 62 / 68, stud.at[1] * 62 / 68, 0.0)) for stud in joint.studs
    )
    assert math.hypot(*studs[0].at[:2]) == pytest.approx(31.0)
    found = of_joint(stud_access, replace(design, mated=(replace(joint, studs=studs),)), "gate")
    assert verdicts(found) == {Verdict.FAIL}
    assert any("lacks 1.0 mm beside gate" in f.message for f in found.values())


def test_what_bars_one_bolt_of_a_gate_fails_that_one() -> None:
    design = gated()
    (joint,) = design.mated
    x, y, _ = joint.studs[1].at
    bar = placed(Cylinder((x, y, 22.0), (x, y, 90.0), 5.0), joint.frame)
    barred = beside(design, Obstacle("bracket", bar, 0.0))
    for check in (stud_access, nut_start):
        bad = {
            n: f for n, f in of_joint(check, barred, "gate").items() if f.verdict is Verdict.FAIL
        }
        assert set(bad) == {"stud gate flange 2"}
        assert "bracket" in bad["stud gate flange 2"].message


def test_a_tool_that_is_not_listed_is_asked_for() -> None:
    design = replace(gated(), tools=(Socket(socket=16), Ring(ring=16)))
    found = of_joint(stud_access, design, "gate")
    assert verdicts(found) == {Verdict.WARN}
    assert all("ordinary 13 mm" in f.message and "13 mm" in f.remedy for f in found.values())


def test_bolts_into_a_tapped_gate_flange_come_from_the_gates_side() -> None:
    design = gated()
    text = text_of("marlock-20-gate").replace("circle: 68}", "circle: 68, hole: tapped}")
    fixed = fixed_parts(load(text, "it.yaml").required())
    (joint,) = mated(fixed.layout, ())
    near = {
        tuple(round(v, 6) for v in design.mated[0].frame.point(s.at)) for s in design.mated[0].studs
    }
    assert {tuple(round(v, 6) for v in joint.frame.point(s.at)) for s in joint.studs} == near
    assert joint.frame.z == tuple(-v for v in design.mated[0].frame.z)
    assert {stud.bolt for stud in joint.studs} == {24.0}
    found = of_joint(stud_access, replace(design, mated=(joint,)), "gate")
    assert set(found) == {f"bolt gate flange {k}" for k in range(1, 5)}
    assert verdicts(found) == {Verdict.PASS}


def test_the_studs_of_other_flanges_stand_in_the_way() -> None:
    names = {obstacle.name for site in joints_of(gated()) for obstacle in site.obstacles}
    assert {f"stud turbine {k}" for k in range(1, 5)} <= names
    assert {"stud 1a", "turbine flange", "head flange"} <= names


FLAT = "kind: round, bolts: {count: 3, circle: 98, thread: M10}"
RING = "kind: vband, od: 92"


@pytest.mark.parametrize(("kind", "ring"), [(FLAT, 0.0), (RING, 46.0)])
def test_a_plate_of_the_specs_own_at_the_outlet_is_a_joint(kind, ring) -> None:
    sheet = f"{kind}, thickness: 10, material: '304'"
    loose = "bore: 60, window: butt" if ring else "bore: 63.5"
    text = text_of("brackenhall-20-sprint") + (
        f"\nplates:\n  - {{{sheet}, name: outlet_plate, at: outlet}}\n"
        f"  - {{{sheet}, name: spare, {loose}}}\n"
    )
    fixed = fixed_parts(load(text, "it.yaml").required())
    (joint,) = mated(fixed.layout, fixed.plates.standing)
    assert (joint.name, joint.ring, joint.pipes) == ("outlet plate", ring, ("outlet",))
    design = replace(demo("brackenhall-20-sprint"), mated=(joint,))
    if ring:
        assert [f.verdict for f in clamp_room.run(design)] == [Verdict.PASS]
        return
    # The spec lists 13 mm tools alone; an M10 has 16 mm across flats.
    found = of_joint(stud_access, design, "outlet")
    assert len(found) == 3
    assert verdicts(found) == {Verdict.WARN}
    assert verdicts(of_joint(nut_start, design, "outlet")) == {Verdict.PASS}
    usual = replace(design, tools=(*design.tools, Socket(socket=16), Ring(ring=16, swing=30)))
    assert verdicts(of_joint(stud_access, usual, "outlet")) == {Verdict.PASS}


def test_a_loose_plate_is_no_joint() -> None:
    assert "turbine_gasket" in {part.name for part in ringed().flats if part.loose}
    assert {joint.name for joint in ringed().mated} == {"gate ring a", "gate ring b"}
    assert demo("marlock-20-turbo").mated == ()


# Clamps


def ringed() -> Design:
    return demo("marlock-30-gates")


def test_every_v_band_is_looked_at() -> None:
    for name, rings in (
        ("marlock-30-gates", {"gate ring a": 26.0, "gate ring b": 26.0}),
        ("brackenhall-20-stepped", {"outlet ring": 46.0}),
    ):
        design = demo(name)
        assert {joint.name: joint.ring for joint in design.mated} == rings
        found = clamp_room.run(design)
        assert {f.subject: f.verdict for f in found} == dict.fromkeys(rings, Verdict.PASS)


def test_a_clamp_is_as_large_as_the_limits_say_and_stands_about_its_rings() -> None:
    """Band 26 + 8 mm in radius and 25 wide; lugs from there to 26 + 24, 40 mm along the screw."""
    design = ringed()
    joint = design.mated[0]
    room, bar = band(design, joint)
    assert bar is None
    assert room.field == Cylinder((0.0, 0.0, -12.5), (0.0, 0.0, 12.5), 34.0)
    places = list(clocked(design, joint))
    assert len(places) == 48
    rng = np.random.default_rng(11)
    for place in places[:3]:
        spread = rng.uniform(place.lugs.box.low, place.lugs.box.high, (500, 3))
        own = np.array([joint.frame.local(place.site.frame.point(tuple(p))) for p in spread])
        turn = math.radians(place.clocking)
        away = own[:, 0] * math.sin(turn) + own[:, 1] * math.cos(turn)
        round_ = own[:, 0] * math.cos(turn) - own[:, 1] * math.sin(turn)
        assert (away.min(), away.max()) == pytest.approx((34.0, 50.0), abs=0.2)
        assert (round_.min(), round_.max()) == pytest.approx((-20.0, 20.0), abs=0.3)
        assert (own[:, 2].min(), own[:, 2].max()) == pytest.approx((-12.5, 12.5), abs=0.2)


def test_where_a_clamp_goes_on_nothing_is_in_its_way() -> None:
    """Measured again: points of the room against points of all axes, no proof taken on trust."""
    design = ringed()
    joint = design.mated[0]
    said = clamp_room.run(design)[0]
    at = float(said.message.split("screw ")[1].split(" deg")[0])
    axes = [(t.path, t.outer_radius) for t in design.tubes]
    axes += [(b.path, b.radius) for b in design.problem.bodies if b.name != "gate_ring_a"]
    rng = np.random.default_rng(12)
    free = []
    for place in clocked(design, joint):
        if place.clocking != at:
            continue
        spread = rng.uniform(place.lugs.box.low, place.lugs.box.high, (400, 3))
        points = np.array([place.site.frame.point(tuple(p)) for p in spread])
        room = math.inf
        for path, radius in axes:
            line = points_at(path, np.linspace(0.0, path.length, 60))
            apart = np.linalg.norm(points[:, None] - line[None], axis=2).min()
            room = min(room, float(apart) - radius)
        free.append(room >= PLAY - 0.5)
    assert any(free)


def test_a_band_that_a_pipe_bars_does_not_go_on() -> None:
    design = ringed()
    joint = design.mated[0]
    low = replace(joint, frame=joint.frame.moved(8.0))
    found = clamp_room.run(replace(design, mated=(low,)))[0]
    assert found.verdict is Verdict.FAIL
    assert "inlet_a" in found.message or "pipe_a" in found.message
    assert "band" in found.message


def test_a_screw_that_is_walled_in_fails_and_one_that_is_not_turns_away() -> None:
    design = ringed()
    joint = design.mated[0]
    ring = joint.ring

    def walls(*sides: str) -> Design:
        far, near, tall = ring + 60.0, ring + 12.0, 90.0
        boxes = {
            "right": Box((near, -far, -tall), (far, far, tall)),
            "left": Box((-far, -far, -tall), (-near, far, tall)),
            "top": Box((-far, near, -tall), (far, far, tall)),
            "bottom": Box((-far, -far, -tall), (far, -near, tall)),
        }
        return beside(
            design, *(Obstacle(side, placed(boxes[side], joint.frame), 0.0) for side in sides)
        )

    all_round = clamp_room.run(walls("right", "left", "top", "bottom"))[0]
    assert all_round.verdict is Verdict.FAIL
    assert "screw" in all_round.message
    one_side = clamp_room.run(walls("right"))[0]
    assert one_side.verdict is Verdict.PASS
    at = float(one_side.message.split("screw ")[1].split(" deg")[0])
    assert not 30.0 < at < 150.0


def test_a_smaller_clamp_goes_where_the_usual_does_not() -> None:
    design = ringed()
    low = replace(design.mated[0], frame=design.mated[0].frame.moved(4.0))
    values = dict(design.limits.values) | {"clamp_band": 3.0, "clamp_width": 18.0}
    small = replace(design, mated=(low,), limits=Limits(tuple(values.items())))
    assert clamp_room.run(replace(design, mated=(low,)))[0].verdict is Verdict.FAIL
    assert clamp_room.run(small)[0].verdict is Verdict.PASS


def test_the_joints_face_is_where_the_rings_meet() -> None:
    """The pipe ends 2 mm short of the gasket face, in its socket."""
    design = ringed()
    for joint in design.mated:
        gate = next(b for b in design.problem.bodies if (b.name,) == joint.pipes)
        assert distance(gate.path.end.origin, joint.frame.origin) == pytest.approx(2.0)
