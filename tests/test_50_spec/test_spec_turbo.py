"""What a spec may say of a turbine: frames of its own, the schema, names that are taken."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML

from geomgen.spec.load import load
from geomgen.spec.schema import json_schema

FILE = Path(__file__).parents[2] / "specs" / "marlock-20-turbo.yaml"
TEXT = FILE.read_text(encoding="utf-8")
TAPE = "{tape: {studs: {1a: 400, 2b: 380, 4a: 390}, side: out}}"
FINDER = "{towards: [1, 0, 0], below_level: 80}"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("from: [-62, -55, -120]", f"from: {TAPE}"),
        ("direction: [0, 0, 1]", f"direction: {FINDER}"),
        ("at: [0, -60, -70]", f"at: {TAPE}"),
    ],
)
def test_no_tape_reaches_into_the_turbines_own_frame(old, new) -> None:
    """A tape gives a point in the head frame; taken for one of the turbine's it is wrong."""
    assert TEXT.count(old) == 1
    text = TEXT.replace(old, new)
    problems = load(text, FILE.name).problems
    assert problems
    assert any("own inlet" in problem.allowed for problem in problems)
    validator = jsonschema.Draft202012Validator(json_schema())
    assert list(validator.iter_errors(YAML(typ="safe", pure=True).load(text)))


def test_where_the_turbine_stands_can_be_taped() -> None:
    loaded = load(TEXT.replace("at: [135, 240, 200]", f"at: {TAPE}"), FILE.name)
    assert loaded.problems == ()
    assert len(loaded.measured) == 1


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("mass: 9.5", "mass: 9.5 kg", "mass"),
        ("kind: line, cylinder", "kind: wire, cylinder", "kind"),
        ("kind: rectangular", "kind: square", "inlet"),
        (
            "cylinder: {from: [62, 0, -70], to: [150, 0, -70]",
            "cylinder: {from: [62, 0, -70], to: [62, 0, -70]",
            "3",
        ),
        ("  merge_angle: 14", "  groups: [[1, 4]]\n  merge_angle: 14", "groups"),
        ("  merge_angle: 14", "  merge_angle: 14\n  outlet: {od: 60, wall: 2}", "outlet"),
        ("roll: 0", "rol: 0", "rol"),
    ],
)
def test_what_is_wrong_is_named_in_its_place(old, new, where) -> None:
    assert TEXT.count(old) == 1
    problems = load(TEXT.replace(old, new), FILE.name).problems
    assert problems
    assert where in map(str, problems[0].path)
    assert problems[0].line
