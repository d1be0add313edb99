"""Any one thing wrong in the demo is told on its own line; positions come from ruamel's own."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from geomgen.spec.load import load

DEMO = Path(__file__).parents[2] / "specs" / "brackenhall-20-sprint.yaml"
TEXT = DEMO.read_text(encoding="utf-8")

OPTIONAL = {
    *("revision", "title", "tools", "obstacles", "vertical", "limits", "waive", "runner_gap"),
    *("cam", "peak_torque_rpm", "peak_power_rpm", "use", "gas_temperature", "valve_to_face"),
    *("gasket", "window", "fit", "set_back", "land", "hole_class"),
    *("length_to", "tolerance", "leg", "min_straight", "min_straight_at_flange", "min_angle"),
    *("saw_kerf", "roll", "merge_angle", "entry_gap", "extension", "swing", "end", "bend"),
}
"""Keys of the demo that a spec may leave out."""
OPTIONAL_PATHS = {("collector", "outlet", "length"), ("tools", "name")}


def round_trip() -> YAML:
    yaml = YAML()
    yaml.width = 4096
    return yaml


def read(text: str = TEXT) -> Any:
    return round_trip().load(text)


def write(data: Any) -> str:
    stream = io.StringIO()
    round_trip().dump(data, stream)
    return stream.getvalue()


def keys(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every key path of the document."""
    if isinstance(node, CommentedMap):
        return [p for key in node for p in [(*path, key), *keys(node[key], (*path, key))]]
    if isinstance(node, CommentedSeq):
        return [p for i, item in enumerate(node) for p in keys(item, (*path, i))]
    return []


def scalars(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(node, CommentedMap):
        return [p for key in node for p in scalars(node[key], (*path, key))]
    if isinstance(node, CommentedSeq):
        return [p for i, item in enumerate(node) for p in scalars(item, (*path, i))]
    return [path]


def at(node: Any, path: tuple[Any, ...]) -> Any:
    for part in path:
        node = node[part]
    return node


def line_of(data: Any, path: tuple[Any, ...]) -> int:
    """Line of a key or list item, by ruamel's own round-trip positions."""
    parent, last = at(data, path[:-1]), path[-1]
    where = parent.lc.key(last) if isinstance(parent, CommentedMap) else parent.lc.item(last)
    return int(where[0]) + 1


DATA = read()
KEYS = keys(DATA)
SCALARS = scalars(DATA)
NUMBERS = [
    p
    for p in SCALARS
    if isinstance(at(DATA, p), int | float) and p != ("format",) and "firing_order" not in p
]


def assert_told(text: str, line: int) -> None:
    problems = load(text, "demo.yaml").problems
    assert any(p.line == line for p in problems), f"line {line}: {[str(p) for p in problems]}"


def test_the_demo_is_sound():
    loaded = load(TEXT, DEMO.name)
    assert loaded.problems == ()
    assert loaded.spec is not None


@settings(deadline=None, max_examples=30)
@given(st.sampled_from(KEYS), st.sampled_from("xq_"), st.booleans())
def test_a_typo_is_told_on_its_line(path, letter, at_end):
    parent, key = at(DATA, path[:-1]), path[-1]
    wrong = key + letter if at_end else letter + key
    line, column = parent.lc.key(key)
    lines = TEXT.split("\n")
    assert lines[line][column:].startswith(key)
    lines[line] = lines[line][:column] + wrong + lines[line][column + len(key) :]
    assert_told("\n".join(lines), line + 1)


@settings(deadline=None, max_examples=30)
@given(st.sampled_from(KEYS))
def test_a_key_twice_is_told_on_the_second_line(path):
    parent, key = at(DATA, path[:-1]), path[-1]
    line, column = parent.lc.key(key)
    lines = TEXT.split("\n")
    if parent.fa.flow_style():
        lines[line] = f"{lines[line][:column]}{key}: 1, {lines[line][column:]}"
        second = line + 1
    else:
        before = lines[line][:column]
        lines[line] = f"{before}{key}: 1\n{' ' * column}{lines[line][column:]}"
        second = line + 2
    assert_told("\n".join(lines), second)


def with_value(path: tuple[Any, ...], new: str) -> tuple[str, int]:
    """The demo with one scalar's text replaced, and the line where it stands."""
    parent, last = at(DATA, path[:-1]), path[-1]
    flow = parent.fa.flow_style()
    line, column = (
        parent.lc.value(last) if isinstance(parent, CommentedMap) else parent.lc.item(last)
    )
    lines = TEXT.split("\n")
    old = re.match(r"[^,\]}#]+" if flow else r"[^#]+", lines[line][column:])
    assert old is not None
    said = old[0].rstrip()
    lines[line] = lines[line][:column] + new + lines[line][column + len(said) :]
    return "\n".join(lines), line + 1


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(SCALARS), st.sampled_from(["{wrong: 1}", "[[1]]", "«?»"]))
def test_a_wrong_type_is_told_on_its_line(path, wrong):
    if wrong == "«?»" and path[-1] in ("title", "name", "revision"):
        wrong = "{wrong: 1}"
    assert_told(*with_value(path, wrong))


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(NUMBERS), st.sampled_from([".nan", ".inf", "-.inf", "1e999"]))
def test_a_number_that_is_none_is_told_on_its_line(path, number):
    assert_told(*with_value(path, number))


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(KEYS))
def test_a_missing_key_is_told_on_its_parents_line(path):
    data = read()
    del at(data, path[:-1])[path[-1]]
    text = write(data)
    names = tuple(part for part in path if isinstance(part, str))
    if path[-1] in OPTIONAL or names in OPTIONAL_PATHS:
        assert not any("found nothing" in str(p) for p in load(text, "demo.yaml").problems)
        return
    parent = path[:-1]
    assert_told(text, line_of(read(text), parent) if parent else first_line(text))


def first_line(text: str) -> int:
    return int(read(text).lc.line) + 1


@pytest.mark.parametrize("path", SCALARS[:40:3], ids=str)
def test_places_agree_with_ruamel(path):
    parent, last = at(DATA, path[:-1]), path[-1]
    where = parent.lc.value(last) if isinstance(parent, CommentedMap) else parent.lc.item(last)
    assert load(TEXT, DEMO.name).place(path) == (where[0] + 1, where[1] + 1)
