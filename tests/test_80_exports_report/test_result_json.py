"""``result.json``: every field documented, numbers rounded once, and what the summary says."""

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.checks import run_all
from geomgen.design.model import Design, Waiver
from geomgen.errors import Finding, Verdict
from geomgen.report.cautions import CAUTIONS
from geomgen.report.result_json import FIELDS, Facts, as_bytes, document, result, worst
from geomgen.report.summary import summary, table, target_lines, verdict_lines
from geomgen.targets.rules import targets

README = Path(__file__).parents[2] / "README.md"
OPEN = {
    "attachments[].facts", "collector.facts", "limits", "ports[].facts", "inputs", "versions",
}  # fmt: skip
"""Fields whose keys depend on the spec."""


@pytest.fixture(scope="module")
def facts(demo_design: Design) -> Facts:
    assert demo_design.tuning.inputs is not None
    bad = Finding("x", "y", Verdict.FAIL, "z", 1.0, 2.0, "mm", "mend", (1.0, 2.0, 3.0), "proof")
    return Facts(
        (*run_all(demo_design), bad),
        targets(demo_design.tuning.inputs, 0.67),
        {1: 670.2},
        ("head_flange.dxf",),
        1,
        {"spec_sha256": "ab"},
        {"geomgen": "0"},
    )


def paths(tree: Any, at: str = "") -> set[str]:
    """Every path of a document, in the notation of the table of fields."""
    if at in OPEN:
        return {f"{at}.*"}
    if isinstance(tree, dict):
        return {p for key, value in tree.items() for p in paths(value, f"{at}.{key}".lstrip("."))}
    if isinstance(tree, list):
        return {p for value in tree for p in paths(value, f"{at}[]")}
    return {at}


def other(file: Path) -> Design:
    from geomgen.design.resolve import resolve
    from geomgen.spec.load import load

    lock = file.with_suffix(".lock.yaml").read_text(encoding="utf-8")
    return resolve(load(file.read_bytes(), file.name).required(), lock).design


@pytest.fixture(scope="module")
def paired(demo_file: Path) -> Design:
    """The demo of a 4-2-1 on two banks, which has tubes between junctions and heads with names."""
    return other(demo_file.with_name("wexcombe-20-flat.yaml"))


@pytest.fixture(scope="module")
def stepped(demo_file: Path) -> Design:
    """The demo of stepped primaries, which has attachments too."""
    return other(demo_file.with_name("brackenhall-20-stepped.yaml"))


def test_every_field_is_documented_and_made(
    demo_design: Design, paired: Design, stepped: Design, facts: Facts
) -> None:
    made = paths(json.loads(result(demo_design, facts)))
    made |= paths(json.loads(result(paired, facts)))
    made |= paths(json.loads(result(stepped, facts)))
    documented = [path for path, _ in FIELDS]
    assert len(set(documented)) == len(documented)
    # null where there is no worst point
    assert made - {"checks[].where_mm"} == set(documented)


def test_readme_holds_the_table_of_fields() -> None:
    text = README.read_text(encoding="utf-8")
    rows = "".join(f"| `{path}` | {meaning} |\n" for path, meaning in FIELDS)
    assert f"| field | meaning |\n|---|---|\n{rows}" in text, rows


def test_readme_holds_the_cautions() -> None:
    text = README.read_text(encoding="utf-8")
    for caution in CAUTIONS:
        assert f"- {caution.text}\n" in text


def test_numbers_are_the_designs(demo_design: Design, facts: Facts) -> None:
    made = json.loads(result(demo_design, facts))
    for row, runner in zip(made["runners"], demo_design.runners, strict=True):
        assert row["cylinder"] == runner.cylinder
        assert row["length_mm"] == round(runner.account.total, 6)
        parts = row["plate_mm"] + row["transition_mm"] + row["tube_mm"] + row["stub_mm"]
        assert parts == pytest.approx(row["length_mm"], abs=3e-6)
        assert row["od_mm"] - 2 * row["wall_mm"] == pytest.approx(42.0)
    assert made["runners"][0]["length_from_step_mm"] == 670.2
    assert made["runners"][1]["length_from_step_mm"] is None
    assert made["verdict"] == "fail"


def test_units_are_in_the_names(demo_design: Design, facts: Facts) -> None:
    """Every number's field ends in a unit, is plain a count or a ratio, or stands by one."""
    bare = {
        "format", "exit_code", "firing_order[]", "cylinder", "slot", "bends", "quantity",
        "cut_ratio", "cut_limit", "value", "limit", "rpm", "layout_score",
        "layout_order_cost", "cylinders[]", "axis[]", "flow[]", "x[]", "z[]",
        "front_to_flywheel[]",
    }  # fmt: skip
    units = ("_mm", "_mm2", "_deg", "_percent", "_m_s", "_mm[]", "_deg[]")

    def numbers(tree: Any, at: str) -> set[str]:
        if at in OPEN:
            return set()
        if isinstance(tree, dict):
            return {n for k, v in tree.items() for n in numbers(v, f"{at}.{k}".lstrip("."))}
        if isinstance(tree, list):
            return {n for v in tree for n in numbers(v, f"{at}[]")}
        is_number = isinstance(tree, int | float) and not isinstance(tree, bool)
        return {at} if is_number else set()

    for path in numbers(document(demo_design, facts), ""):
        last = path.rpartition(".")[2]
        assert last.endswith(units) or last in bare, path


trees = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.integers(-99, 99),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=20,
)


@given(trees)
def test_any_tree_is_strict_json(tree: Any) -> None:
    text = as_bytes(tree)
    again = json.loads(text, parse_constant=lambda word: pytest.fail(word))
    assert as_bytes(again) == text
    assert text.isascii()


@given(st.floats(-1e6, 1e6))
def test_numbers_are_rounded_to_a_millionth(number: float) -> None:
    assert abs(json.loads(as_bytes(number)) - number) <= 0.5e-6 + 1e-9
    assert as_bytes(-1e-9) == b"0.0\n"


def test_the_worst_verdict() -> None:
    def of(*verdicts: Verdict) -> Verdict:
        return worst([Finding("a", "b", verdict, "c") for verdict in verdicts])

    assert of() is Verdict.PASS
    assert of(Verdict.PASS, Verdict.WAIVED, Verdict.NOT_RUN) is Verdict.PASS
    assert of(Verdict.WARN, Verdict.PASS) is Verdict.WARN
    assert of(Verdict.WARN, Verdict.FAIL) is Verdict.FAIL


def test_verdicts_come_first_worst_first_like_with_like() -> None:
    found = [
        Finding("a", "hole 1", Verdict.WARN, "small", remedy="drill"),
        Finding("b", "runner 1", Verdict.PASS, "fine"),
        Finding("a", "hole 2", Verdict.WARN, "small", remedy="drill"),
        Finding("c", "runner 2", Verdict.FAIL, "touches", remedy="move"),
        Finding("d", "runner 3", Verdict.WAIVED, "near; waived: wrapped"),
    ]
    assert verdict_lines(found) == [
        "FAIL    c: runner 2: touches",
        "        -> move",
        "WARN    a: hole 1, hole 2: small",
        "        -> drill",
        "WAIVED  d: runner 3: near; waived: wrapped",
    ]


def test_summary_has_every_runner_and_check(demo_design: Design, facts: Facts) -> None:
    text = summary(replace(demo_design, waivers=(Waiver("gone", None, "x"),)), facts.findings)
    assert text.splitlines()[2].startswith("FAIL    x: y: z")
    assert "waiver of gone covers nothing" in text
    for finding in facts.findings:
        assert finding.name in text
    for runner in demo_design.runners:
        assert f"{runner.account.total:.2f}" in text


def test_targets_show_formula_inputs_lift_and_source(facts: Facts) -> None:
    text = "\n".join(target_lines(facts.targets))
    for row in facts.targets:
        for shown in (row.rule, row.formula, ", ".join(row.inputs), row.source, row.datum):
            assert shown in text
    assert "1.27 mm lift" in text
    odd = replace(facts.targets[0], warning="timing at another lift")
    assert target_lines([odd])[0] == "WARN    timing at another lift"


def test_tables_line_up() -> None:
    lines = table(("name", "value"), [("a", "1.5"), ("long name", "10.25")])
    assert lines == ["name       value", "a            1.5", "long name  10.25"]


def test_no_number_is_nan(demo_design: Design, facts: Facts) -> None:
    odd = replace(facts, findings=(Finding("a", "b", Verdict.PASS, "c", math.inf, math.nan),))
    row = json.loads(result(demo_design, odd))["checks"][0]
    assert row["value"] is None
    assert row["limit"] is None
