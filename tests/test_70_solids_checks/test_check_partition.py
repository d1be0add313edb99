"""A gate that both scrolls share: lean, reach, sheet and area of each half; parts as written."""

import math
from dataclasses import replace

import pytest
from locked import demo

from geomgen.checks import wastegate_lean, wastegate_partition, wastegate_reach
from geomgen.design.model import Design, Limits
from geomgen.errors import Verdict
from geomgen.exports.step import assembly_path
from geomgen.proofs import step_overlap
from geomgen.recipe.nodes import Group, Part, Prism, parts_of
from geomgen.solids.step_writer import step_bytes


def design() -> Design:
    return demo("marlock-30-one-gate")


def judged(check, of: Design) -> dict[str, Verdict]:
    return {found.subject: found.verdict for found in check.run(of)}


def with_facts(**facts: float) -> Design:
    rows = tuple(
        replace(
            one, fitted=replace(one.fitted, facts=tuple((dict(one.fitted.facts) | facts).items()))
        )
        for one in design().attachments
    )
    return replace(design(), attachments=rows)


def limited(key: str, value: float) -> Design:
    rows = tuple((k, value if k == key else v) for k, v in design().limits.values)
    return replace(design(), limits=Limits(rows))


def test_both_halves_are_judged_by_every_rule():
    for check in (wastegate_lean, wastegate_reach):
        assert judged(check, design()) == {"gate_a": Verdict.PASS, "gate_b": Verdict.PASS}
    found = judged(wastegate_partition, design())
    assert set(found) == {"gate_a sheet", "gate_b sheet", "gate_a area", "gate_b area"}
    assert set(found.values()) == {Verdict.PASS}
    groups = [set(one.cylinders) for one in design().attachments]
    # 1-5-3-6-2-4 divides into 1-2-3 and 4-5-6, 240 degrees apart
    assert groups == [{1, 2, 3}, {4, 5, 6}]
    ends = [{f.name for f in gas.faces} for gas in design().gases]
    assert [{n for n in names if n.startswith(("WG", "OUT"))} for names in ends] == [
        {"WG_A", "OUTLET_A"},
        {"WG_B", "OUTLET_B"},
    ]


def test_a_half_that_reaches_the_other_scroll_fails():
    one, two = design().attachments
    crossed = replace(one, fitted=replace(one.fitted, use="WG_B"))
    found = judged(wastegate_reach, replace(design(), attachments=(crossed, two)))
    assert found == {"gate_a": Verdict.FAIL, "gate_b": Verdict.PASS}


def test_a_sheet_that_ends_before_the_seat_fails():
    found = judged(wastegate_partition, with_facts(sheet_to_seat_mm=1.2))
    assert [found[f"gate_{x} sheet"] for x in "ab"] == [Verdict.FAIL, Verdict.FAIL]
    assert judged(wastegate_partition, with_facts(sheet_to_seat_mm=1.0)) == judged(
        wastegate_partition, design()
    )


def test_a_half_narrower_than_its_seat_warns():
    facts = dict(design().attachments[0].fitted.facts)
    # Half of a disc of 34 mm without half of 3 mm of sheet: a circle's segment by any table.
    seat = 17.0**2 * math.acos(1.5 / 17.0) - 1.5 * math.sqrt(17.0**2 - 1.5**2)
    assert facts["half_seat_area_mm2"] == pytest.approx(seat)
    # A branch of 22.9 mm bore is wider; the bore of the round end is the seat's.
    assert facts["half_area_mm2"] <= min(seat, math.pi * 22.9**2 / 4.0)
    found = judged(wastegate_partition, with_facts(half_area_mm2=0.94 * seat))
    assert [found[f"gate_{x} area"] for x in "ab"] == [Verdict.WARN, Verdict.WARN]
    assert judged(wastegate_partition, limited("wastegate_half", 1.2))["gate_a area"] is (
        Verdict.WARN
    )


def test_a_gate_a_scroll_has_no_partition_to_judge():
    rows = tuple(
        replace(one, fitted=replace(one.fitted, facts=(("lean_deg", 40.0),)))
        for one in design().attachments
    )
    assert wastegate_partition.run(replace(design(), attachments=rows)) == ()


def test_a_sheet_that_is_too_thick_for_its_gap_is_seen():
    """Written to STEP and read again, the gate's parts share nothing, until one is wrong."""
    gate = tuple(part for part in parts_of(design().assembly) if part.name.startswith("gate"))
    assert {part.name for part in gate} >= {"gate_a", "gate_b", "gate_neck_a", "gate_partition"}
    (sheet,) = (part for part in gate if part.name == "gate_partition")
    assert isinstance(sheet.node, Prism)
    assert sheet.node.depth == 3.0
    thick = replace(sheet, node=replace(sheet.node, depth=3.2))
    for parts, wanted in (
        (gate, {Verdict.PASS}),
        (tuple(thick if part is sheet else part for part in gate), {Verdict.FAIL}),
    ):
        assert overlaps(parts) == wanted


def overlaps(parts: tuple[Part, ...]) -> set[Verdict]:
    whole = Group(design().assembly.name, (Group("collector", parts),))
    path = assembly_path(design())
    files = {path: step_bytes(whole, path.rpartition("/")[2])}
    return {found.verdict for found in step_overlap.prove(design(), files)}
