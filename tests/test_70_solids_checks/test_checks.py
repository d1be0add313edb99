"""Every check passes on the demo and fails on a design that is wrong in its way alone."""

import math
from dataclasses import replace

import pytest

from geomgen import checks
from geomgen.checks import (
    area_continuity,
    bends_on_shelf,
    inward_step,
    length_spread,
    merge_angle,
    obstacle_gap,
    removal,
    runner_gap,
    runner_length,
    slot_order,
    straights,
    stud_access,
    transition_wall,
)
from geomgen.design.model import Design, Limits
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Bend, Centreline, Straight, at
from geomgen.geometry.fields import Box, Cylinder
from geomgen.profiles.loops import slot
from geomgen.registry import plugins
from geomgen.routing.problem import Obstacle

OF_OTHER_FAMILIES = {
    "clamp-room",
    "bank-side",
    "egt-place",
    "oil-drain",
    "oxygen-place",
    "pairing",
    "runner-area",
    "scroll-balance",
    "relief-slots",
    "sensor-room",
    "slip-fit",
    "step-place",
    "tail-support",
    "traced-outline",
    "turbine-inlet",
    "turbine-support",
    "wastegate-lean",
    "wastegate-partition",
    "wastegate-reach",
}
"""Checks that say nothing of a bare 4-1 with ports of a named shape."""


def worst(found: tuple[Finding, ...]) -> Verdict:
    rank = [Verdict.PASS, Verdict.NOT_RUN, Verdict.WARN, Verdict.FAIL]
    return max((f.verdict for f in found), key=rank.index)


def with_path(design: Design, index: int, path: Centreline) -> Design:
    runners = list(design.runners)
    old = runners[index]
    account = replace(old.account, tube=path.length)
    runners[index] = replace(old, path=path, account=account)
    return replace(design, runners=tuple(runners))


def with_limit(design: Design, name: str, value: float) -> Design:
    values = tuple((k, value if k == name else v) for k, v in design.limits.values)
    return replace(design, limits=Limits(values))


def test_nothing_fails_on_the_demo(demo_design) -> None:
    found = checks.run_all(demo_design)
    assert [f for f in found if f.verdict is Verdict.FAIL] == []
    assert {f.name for f in found} == set(checks.names()) - OF_OTHER_FAMILIES


def test_every_check_tells_what_why_limit_and_source() -> None:
    for name, module in plugins("geomgen.checks", "NAME").items():
        text = module.__doc__ or ""
        for section in ("What:", "Why:", "Limit:", "Source:"):
            assert section in text, f"{name} does not say {section}"


def test_every_failing_finding_says_what_to_do(demo_design) -> None:
    spoilt = with_limit(demo_design, "wall_angle", 1.0)
    for finding in checks.run_all(spoilt):
        if finding.verdict is Verdict.FAIL:
            assert finding.remedy


def test_runner_length(demo_design) -> None:
    assert worst(runner_length.run(demo_design)) is Verdict.PASS
    path = demo_design.runners[0].path
    longer = Centreline(path.start, (*path.pieces[:-1], Straight(path.pieces[-1].length + 0.02)))
    found = runner_length.run(with_path(demo_design, 0, longer))
    assert [f.verdict for f in found] == [Verdict.FAIL] + [Verdict.PASS] * 3
    assert found[0].value == pytest.approx(0.02, abs=1e-6)


def test_length_spread_in_the_trades_units(demo_design) -> None:
    """5 mm on 840 mm valve to merge at 7000 rpm is about 0.36 crank degrees and 0.6 %.

    Source: the one-way wave figures of the trade study, computed there at 586 m/s.
    """
    path = demo_design.runners[0].path
    longer = Centreline(path.start, (*path.pieces[:-1], Straight(path.pieces[-1].length + 5.0)))
    (found,) = length_spread.run(with_path(demo_design, 0, longer))
    assert "spread 5.000 mm" in found.message
    degrees = float(found.message.split("; ")[1].split(" ")[0])
    assert degrees == pytest.approx(5e-3 / demo_design.tuning.sound * 6 * 7000, rel=1e-2)


@pytest.mark.parametrize(
    ("extra", "verdict"),
    [(0.0, Verdict.PASS), (9.0, Verdict.PASS), (15.0, Verdict.WARN), (25.0, Verdict.FAIL)],
)
def test_length_spread_bands(demo_design, extra, verdict) -> None:
    path = demo_design.runners[2].path
    longer = Centreline(path.start, (*path.pieces[:-1], Straight(path.pieces[-1].length + extra)))
    assert worst(length_spread.run(with_path(demo_design, 2, longer))) is verdict


def test_straights(demo_design) -> None:
    assert worst(straights.run(demo_design)) is Verdict.PASS
    path = demo_design.runners[1].path
    tight = Centreline(path.start, (Straight(9.0), *path.pieces[1:]))
    found = straights.run(with_path(demo_design, 1, tight))
    assert found[1].verdict is Verdict.FAIL
    assert "behind the transition" in found[1].message


def test_bends_on_shelf(demo_design) -> None:
    assert worst(bends_on_shelf.run(demo_design)) is Verdict.PASS
    path = demo_design.runners[0].path
    for bad in (Bend(70.0, 1.0), Bend(67.5, math.radians(5)), Bend(67.5, math.radians(181))):
        wrong = Centreline(path.start, (path.pieces[0], bad, *path.pieces[2:]))
        assert bends_on_shelf.run(with_path(demo_design, 0, wrong))[0].verdict is Verdict.FAIL


def test_runner_gap(demo_design) -> None:
    assert worst(runner_gap.run(demo_design)) is Verdict.PASS
    path = demo_design.runners[1].path
    first, *rest = path.pieces
    # One way it comes nearer to runner 1, the other way it goes off.
    either = [Centreline(path.start, (Straight(first.length + by), *rest)) for by in (-14.0, 14.0)]
    found = [f for shifted in either for f in runner_gap.run(with_path(demo_design, 1, shifted))]
    (failed,) = [
        f for f in found if f.verdict is Verdict.FAIL and f.subject == "runner 1 / runner 2"
    ]
    assert failed.where is not None
    assert failed.value < 6.0
    exempt = [f for f in found if f.subject == "exempt before the collector"]
    assert len(exempt) == len(either)


def test_obstacle_gap(demo_design) -> None:
    assert worst(obstacle_gap.run(demo_design)) is Verdict.PASS
    x, y, z = demo_design.runners[0].path.frames[2].origin
    pipe = Obstacle("hose", Box((x - 5, y - 5, z + 25), (x + 5, y + 5, z + 35)), 50.0)
    problem = replace(demo_design.problem, obstacles=(*demo_design.problem.obstacles, pipe))
    found = obstacle_gap.run(replace(demo_design, problem=problem))
    failed = [f for f in found if f.verdict is Verdict.FAIL]
    assert "runner 1 / hose" in {f.subject for f in failed}
    assert failed[0].where is not None


def test_the_collector_and_its_tail_are_held_too(demo_design) -> None:
    end = demo_design.collector.outlet.origin
    post = Obstacle(
        "post",
        Box((end[0] - 20, end[1] - 60, end[2] - 10), (end[0], end[1] - 40, end[2] + 10)),
        30.0,
    )
    problem = replace(demo_design.problem, obstacles=(post,))
    found = obstacle_gap.run(replace(demo_design, problem=problem))
    assert [f.subject for f in found if f.verdict is Verdict.FAIL] == ["outlet / post"]


def test_road_gap_is_the_lowest_outsides(demo_design) -> None:
    """The tail clears the road: by its lowest point, worked by hand from its path."""
    found = [f for f in obstacle_gap.run(demo_design) if f.subject.endswith("/ road")]
    lowest = min(
        frame.origin[1] - radius
        for name, path, radius in demo_design.collector.envelopes
        for frame in path.frames
    )
    collector = [f for f in found if not f.subject.startswith("runner")]
    assert collector[0].value == pytest.approx(lowest + 590.0, abs=0.5)
    assert collector[0].value > 100.0


def test_stud_access(demo_design) -> None:
    assert worst(stud_access.run(demo_design)) is Verdict.PASS
    only = tuple(p for p in demo_design.problem.places if p.stud != "2b")
    barred = replace(demo_design, problem=replace(demo_design.problem, places=only))
    failed = [f for f in stud_access.run(barred) if f.verdict is Verdict.FAIL]
    assert [f.subject for f in failed] == ["stud 2b"]
    assert worst(stud_access.run(replace(demo_design, tools=()))) is Verdict.NOT_RUN


def test_a_runner_over_a_stud_bars_its_socket_but_not_the_spanner(demo_design) -> None:
    path = demo_design.runners[0].path
    over = Bend(30.0, math.pi / 2, math.radians(-46.0))
    low = Centreline(path.start, (Straight(1.0), over, Straight(120)))
    found = stud_access.run(with_path(demo_design, 0, low))
    by_stud = {f.subject: f.message for f in found}
    assert by_stud["stud 1a"].startswith("socket on extension")
    assert by_stud["stud 1b"].startswith("ring spanner")


def test_a_spanner_needs_its_swing_and_its_thickness(demo_design) -> None:
    """The block face stands 4 mm behind the nut's seat: room for a spanner; 1 mm is none."""
    from geomgen.design.access import Site, tool_places
    from geomgen.spec.tools import Ring

    stud = demo_design.studs[1]
    ring = Ring(ring=13, swing=60)

    def headings(top: float) -> int:
        block = Obstacle("block", Box((-300, -330, -220), (356, -62, top)), 10.0)
        return len(tool_places(Site((ring,), (stud,), 10.0, 1.5, 5.0, (), (block,))))

    assert headings(6.0) == 12
    assert headings(9.0) < 8
    assert headings(40.0) <= headings(9.0)


def test_inward_step(demo_design) -> None:
    assert worst(inward_step.run(demo_design)) is Verdict.PASS
    ports = tuple(replace(port, loop=slot(45.4, 37.0)) for port in demo_design.ports)
    found = inward_step.run(replace(demo_design, ports=ports))
    assert found[0].verdict is Verdict.FAIL
    assert found[0].value == pytest.approx(0.2, abs=1e-6)


def test_a_small_outward_step_passes_and_a_large_one_warns(demo_design) -> None:
    for width, verdict in ((44.0, Verdict.PASS), (43.0, Verdict.WARN)):
        ports = tuple(replace(port, loop=slot(width, 37.0)) for port in demo_design.ports)
        assert worst(inward_step.run(replace(demo_design, ports=ports))) is verdict


def test_area_continuity(demo_design) -> None:
    assert worst(area_continuity.run(demo_design)) is Verdict.PASS
    runner = demo_design.runners[0]
    rows = list(runner.transition.areas)
    rows[4] = replace(rows[4], area=0.95 * rows[0].area)
    pinched = replace(runner, transition=replace(runner.transition, areas=tuple(rows)))
    found = area_continuity.run(replace(demo_design, runners=(pinched, *demo_design.runners[1:])))
    assert found[0].verdict is Verdict.FAIL
    assert found[0].value == pytest.approx(5.0, abs=0.01)


def test_transition_wall(demo_design) -> None:
    """The steepest ruling runs from the port's flat to the round's foot: by hand."""
    found = transition_wall.run(demo_design)
    # Slot half-length 4 at radius 18.5 to a circle of 21 centred 2.5 lower: foot moves 5 down
    # and the ruling from the flat's end moves 4 across: atan(hypot(4, 5) / 45).
    assert found[0].value == pytest.approx(math.degrees(math.atan(math.hypot(4, 5) / 45)), abs=1e-6)
    assert worst(transition_wall.run(with_limit(demo_design, "wall_angle", 5.0))) is Verdict.FAIL


def test_merge_angle(demo_design) -> None:
    assert worst(merge_angle.run(demo_design)) is Verdict.PASS
    steep = replace(demo_design.collector, facts=(("merge_angle_deg", 25.0),))
    assert worst(merge_angle.run(replace(demo_design, collector=steep))) is Verdict.WARN


def test_slot_order(demo_design) -> None:
    assert worst(slot_order.run(demo_design)) is Verdict.PASS
    crossed = replace(demo_design.collector, in_order=False)
    assert worst(slot_order.run(replace(demo_design, collector=crossed))) is Verdict.WARN


def test_removal_slides_the_studs_protrusion_less_the_gasket(demo_design) -> None:
    (found,) = removal.run(demo_design)
    assert found.verdict is Verdict.PASS
    assert found.limit == pytest.approx(28.0 - 1.2)


def test_removal_names_what_is_touched_and_how_far_it_got(demo_design) -> None:
    """A bar 20 mm in front of the outermost outside of runner 2: touched after 20 mm."""
    path = demo_design.runners[1].path
    foremost = max(
        (frame.origin for frame in Centreline(path.start, path.pieces).frames), key=lambda p: p[2]
    )
    top = max(at(path, s / 50 * path.length).origin[2] for s in range(51))
    x, y, _ = foremost
    bar = Obstacle("rail", Box((x - 400, y - 200, top + 42.5), (x + 400, y + 200, top + 52.5)), 0.0)
    problem = replace(demo_design.problem, obstacles=(bar,))
    design = replace(demo_design, problem=problem, obstacles=(("rail", "body"),))
    (found,) = removal.run(design)
    assert found.verdict is Verdict.FAIL
    assert "rail" in found.message
    assert found.value == pytest.approx(20.0, abs=1.0)


def test_removal_jumps_over_nothing(demo_design) -> None:
    """A wire of 1 mm in the way is met, however far the manifold slides in all."""
    x, y, z = demo_design.runners[2].path.frames[1].origin
    wire = Cylinder((x - 50, y, z + 22.5 + 12.0), (x + 50, y, z + 22.5 + 12.0), 0.5)
    problem = replace(demo_design.problem, obstacles=(Obstacle("wire", wire, 0.0),))
    (found,) = removal.run(replace(demo_design, problem=problem, obstacles=(("wire", "line"),)))
    assert found.verdict is Verdict.FAIL
    assert found.value < 12.0
