"""Runners keep clear of each other's slip tubes at those tubes' own outsides."""

from __future__ import annotations

from dataclasses import replace

import pytest
from locked import demo
from OCP.BRepExtrema import BRepExtrema_DistShapeShape

from geomgen.checks import runner_gap
from geomgen.checks._clearances import slip_gaps
from geomgen.design.model import Design
from geomgen.errors import Verdict
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import scale
from geomgen.recipe.nodes import Tube
from geomgen.routing.prove import last_straight
from geomgen.solids.build import build


def slipped() -> Design:
    return demo("hartsop-16-slip")


def slips(design: Design) -> dict[str, tuple[Centreline, float]]:
    return {n: (p, r) for n, p, r in design.collector.envelopes if n.startswith("slip ")}


def test_the_slip_tube_counts_at_its_own_size() -> None:
    """OD 41.3 over runners of 38.1: 1.6 mm that the runner's size does not tell of."""
    assert {radius for _, radius in slips(slipped()).values()} == {20.65}
    assert {tube.outer_radius for tube in slipped().runners} == {19.05}
    found = slip_gaps(slipped())
    assert len(found) == 4 * 3
    assert all(gap.gap >= gap.needed for gap in found)
    said = [f for f in runner_gap.run(slipped()) if "/ slip" in f.subject]
    assert said
    assert {f.verdict for f in said} == {Verdict.PASS}


def test_the_gap_is_what_the_kernel_measures() -> None:
    """The nearest three pairs: thin wires along runners' axes against solids of slip tubes."""
    design = slipped()
    for gap in sorted(slip_gaps(design), key=lambda gap: gap.gap)[:3]:
        tube = next(t for t in design.tubes if t.name == gap.subject)
        held = Centreline(tube.path.start, tube.path.pieces[:-1])
        assert held.length == pytest.approx(tube.path.length - last_straight(tube.path))
        path, radius = slips(design)[gap.other]
        thin, slip = build(Tube(held, 0.01)), build(Tube(path, radius))
        axis = float(BRepExtrema_DistShapeShape(thin, slip).Value()) + 0.01
        apart = axis - tube.outer_radius
        assert gap.gap <= apart + 1e-6
        assert apart <= gap.upper + 0.01  # flat ends of the wire stand off by its radius at most


def test_between_neighbours_the_array_leaves_what_it_leaves() -> None:
    """Slip tubes 3 mm apart: axes 41.3 + 3 mm, and a runner of 38.1 beside one has 4.6 mm."""
    needed = {round(gap.needed, 2) for gap in slip_gaps(slipped())}
    assert min(needed) == pytest.approx(41.3 + 3.0 - 20.65 - 19.05, abs=0.03)
    assert max(needed) == 6.0


def test_a_runner_that_bends_past_another_slip_tube_fails() -> None:
    """Runner 3's slip tube stood across runner 4 on its way, 2 mm off."""
    design = slipped()
    runner = next(t for t in design.runners if t.cylinder == 4)
    at = runner.path.frames[1]
    off = runner.outer_radius + 20.65 + 2.0
    start = at.shifted(scale(at.x, off))
    across = Centreline(start.moved(-20.0), (Straight(40.0),))
    moved = tuple(
        (name, across, radius) if name == "slip 3" else (name, path, radius)
        for name, path, radius in design.collector.envelopes
    )
    wrong = replace(design, collector=replace(design.collector, envelopes=moved))
    bad = [f for f in runner_gap.run(wrong) if f.verdict is Verdict.FAIL]
    assert [f.subject for f in bad] == ["runner 4 / slip 3"]
    assert bad[0].value <= 2.0


def test_manifolds_without_slip_tubes_are_asked_nothing(demo_design) -> None:
    assert slip_gaps(demo_design) == ()
