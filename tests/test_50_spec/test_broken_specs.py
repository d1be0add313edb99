"""Specs that are wrong in one way: the complaint names line, column, key and cure."""

from __future__ import annotations

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from geomgen.spec.load import load

HERE = Path(__file__).parent
BASE = (HERE / "base.yaml").read_text(encoding="utf-8")
CASES = YAML(typ="safe", pure=True).load((HERE / "broken.yaml").read_text(encoding="utf-8"))
CHECKS = ("runner-gap", "runner-length")
MARK = "«"


def broken(case: dict) -> tuple[str, tuple[int, int] | None]:
    """The broken text, and the line and column where its mark was."""
    text = BASE
    for key in ("swap", "swap2"):
        if key in case:
            old, new = case[key]
            assert text.count(old) == 1, f"{old!r} must stand once in base.yaml"
            text = text.replace(old, new)
    if "mark" in case:
        plain = case["mark"].replace(MARK, "")
        assert text.count(plain) == 1
        text = text.replace(plain, case["mark"])
    if MARK not in text:
        return text, None
    before, after = text.split(MARK)
    return before + after, (before.count("\n") + 1, len(before) - before.rfind("\n"))


def test_the_base_is_sound():
    loaded = load(BASE, "base.yaml", checks=CHECKS)
    assert loaded.problems == ()
    assert loaded.required().name == "wrenfield-16"


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_broken_spec(case):
    text, place = broken(case)
    loaded = load(text, "header.yaml", checks=CHECKS)
    assert loaded.spec is None
    if place is None:
        hits = list(loaded.problems)
    else:
        hits = [p for p in loaded.problems if abs(p.line - place[0]) <= case.get("near", 0)]
        if "near" not in case:
            hits = [p for p in hits if p.column == place[1]]
    assert hits, f"nothing at {place}: {[str(p) for p in loaded.problems]}"
    problem = hits[0]
    if case["key"]:
        assert ".".join(str(part) for part in problem.path) == case["key"]
    for part in ("found", "allowed", "remedy"):
        assert case.get(part, "") in getattr(problem, part)
    assert problem.found
    assert problem.allowed
    assert problem.remedy
    assert str(problem).startswith(f"header.yaml:{problem.line}:{problem.column}: ")
    assert len(loaded.problems) <= 1 + case.get("others", 0), [str(p) for p in loaded.problems]


def test_every_complaint_in_one_run_sorted_by_line():
    text = (
        BASE.replace("  bore: 79", "  boer: 79")
        .replace("process: laser", "process: lazer")
        .replace("od: 42.4", "od: 42.4 kg")
        .replace("normal: [0, 1, 0]", "normal: [0, 0, 0]")
        .replace("{runner_gap: 7}", "{runner_gap: -7}")
        .replace("[1, 3, 4, 2]", "[1, 3, 4]")
        .replace("set_back", "set_back")
    )
    problems = load(text, "header.yaml").problems
    keys = [".".join(str(part) for part in problem.path) for problem in problems]
    assert keys == [
        "engine.bore",
        "engine.boer",
        "flange.process",
        "runners.tube.od",
        "obstacles.2.plane.normal",
        "limits.runner_gap",
    ]
    assert [p.line for p in problems] == sorted(p.line for p in problems)


def test_a_broken_section_does_not_hide_contradictions_in_the_others():
    text = BASE.replace("process: laser", "process: lazer").replace(
        "firing_order: [1, 3, 4, 2]", "firing_order: [1, 3, 3, 2]"
    )
    keys = [problem.path for problem in load(text, "header.yaml").problems]
    assert keys == [("engine", "firing_order"), ("flange", "process")]


@pytest.mark.parametrize("text", ["", "  \n\n", "# only a comment\n", "---\n", "null\n"])
def test_empty(text):
    (problem,) = load(text, "header.yaml").problems
    assert "geomgen new" in problem.remedy
    assert problem.line == 1


@pytest.mark.parametrize("text", ["- a\n- b\n", "42\n", "just text\n", "[1, 2]\n"])
def test_root_is_no_mapping(text):
    (problem,) = load(text, "header.yaml").problems
    assert problem.allowed == "keys and values"
    assert (problem.line, problem.column) == (1, 1)


def test_bytes_that_are_no_utf8_are_placed():
    text = BASE.encode().replace(b"bore: 79", b"bore: \xb2")
    (problem,) = load(text, "header.yaml").problems
    assert (problem.line, problem.column) == (8, 9)
    assert "0xb2" in problem.found


def test_utf16_is_named():
    (problem,) = load(BASE.encode("utf-16"), "header.yaml").problems
    assert "UTF-16" in problem.found


def test_byte_order_mark_and_windows_line_ends_are_fine():
    text = BASE.replace("\n", "\r\n").encode("utf-8-sig")
    assert load(text, "header.yaml").problems == ()
