"""Checks on slip joints, on cones behind a throat and on rows: passing, and wrong in one way."""

from dataclasses import replace

import pytest

from geomgen.checks import collector_cone, slip_fit, slot_order
from geomgen.design.model import Design
from geomgen.errors import Verdict

SLIP = {"slip_clearance_mm": 0.3, "slip_overlap_mm": 35.0, "slip_overlap_most_mm": 36.0}


def having(design: Design, **facts: float) -> Design:
    own = dict(design.collector.facts) | facts
    return replace(design, collector=replace(design.collector, facts=tuple(own.items())))


def test_collectors_without_them_are_not_judged(demo_design) -> None:
    assert slip_fit.run(demo_design) == ()
    bare = replace(demo_design, collector=replace(demo_design.collector, facts=()))
    assert collector_cone.run(bare) == ()


def test_walls_that_lean_too_far_warn(demo_design) -> None:
    (found,) = collector_cone.run(demo_design)
    assert (found.subject, found.verdict) == ("wall", Verdict.PASS)
    (found,) = collector_cone.run(having(demo_design, cone_wall_deg=16.0))
    assert (found.verdict, found.value, found.limit) == (Verdict.WARN, 16.0, 15.0)
    assert found.remedy


@pytest.mark.parametrize(
    ("changed", "subject", "value"),
    [
        ({"slip_clearance_mm": 0.05}, "clearance", 0.05),
        ({"slip_clearance_mm": 0.6858}, "clearance", 0.6858),  # 0.027 in: 18 ga over 1-7/8 in
        ({"slip_overlap_mm": 20.0}, "overlap", 20.0),
        ({"slip_overlap_most_mm": 55.0}, "overlap", 55.0),
    ],
)
def test_slip_joints_outside_the_usual_warn(demo_design, changed, subject, value) -> None:
    assert {f.verdict for f in slip_fit.run(having(demo_design, **SLIP))} == {Verdict.PASS}
    found = slip_fit.run(having(demo_design, **(SLIP | changed)))
    (warned,) = [f for f in found if f.verdict is Verdict.WARN]
    assert (warned.subject, warned.value) == (subject, value)
    assert warned.remedy


END = {"slip_end_clearance_mm": 0.3, "slip_end_overlap_mm": 40.0}


@pytest.mark.parametrize(
    ("changed", "subject", "value"),
    [
        ({"slip_end_clearance_mm": 3.0}, "tail's clearance", 3.0),
        ({"slip_end_overlap_mm": 5.0}, "tail's overlap", 5.0),
        ({"slip_end_overlap_mm": 200.0}, "tail's overlap", 200.0),
    ],
)
def test_a_slip_end_outside_the_usual_warns(demo_design, changed, subject, value) -> None:
    """The same 0.1 to 0.4 mm and 25 to 50 mm as of a slip entry."""
    good = slip_fit.run(having(demo_design, **END))
    assert [f.verdict for f in good] == [Verdict.PASS, Verdict.PASS]
    found = slip_fit.run(having(demo_design, **(END | changed)))
    (warned,) = [f for f in found if f.verdict is Verdict.WARN]
    assert (warned.subject, warned.value) == (subject, value)
    assert warned.remedy


@pytest.mark.parametrize(
    ("fact", "angle", "verdict", "limit"),
    [
        ("diffuser_included_deg", 9.0, Verdict.PASS, 7.0),
        ("diffuser_included_deg", 14.0, Verdict.WARN, 12.0),
        ("diffuser_included_deg", 4.0, Verdict.WARN, 7.0),
        ("reducer_included_deg", 4.0, Verdict.PASS, 20.0),
        ("reducer_included_deg", 25.0, Verdict.WARN, 20.0),
    ],
)
def test_cones_outside_the_usual_warn(demo_design, fact, angle, verdict, limit) -> None:
    _, found = collector_cone.run(having(demo_design, **{fact: angle}))
    assert (found.verdict, found.value, found.limit) == (verdict, angle, limit)
    assert bool(found.remedy) == (verdict is Verdict.WARN)


def test_a_row_is_spoken_of_as_a_row(demo_design) -> None:
    in_line = replace(demo_design, collector=replace(demo_design.collector, in_line=True))
    assert "along the row" in slot_order.run(in_line)[0].message
    assert "round the collector" in slot_order.run(demo_design)[0].message
