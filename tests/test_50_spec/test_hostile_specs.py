"""No text, however broken or hostile, does anything but give problems, and soon."""

from __future__ import annotations

import io
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from geomgen.spec.load import Loaded, load

BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8")
WORDS = sorted(set(BASE.replace("{", " ").replace("}", " ").replace(",", " ").split()))

quick = settings(deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow])


def assert_answered(loaded: Loaded, lines: int) -> None:
    """Either a spec or problems, each with a place in the file and words."""
    assert (loaded.spec is None) == bool(loaded.problems)
    for problem in loaded.problems:
        assert 1 <= problem.line <= lines + 1
        assert problem.column >= 1
        assert problem.found
        assert problem.allowed
        assert problem.remedy
        assert len(str(problem)) < 2000
        assert "\n" not in str(problem)


@quick
@given(st.binary(max_size=300))
def test_any_bytes(content):
    assert_answered(load(content, "x.yaml"), content.count(b"\n") + content.count(b"\r") + 1)


@quick
@given(st.text(alphabet=st.sampled_from("ab:-[]{},&*!|>'\"%@`#?\n\t \\<0.~"), max_size=80))
def test_any_text_of_yaml_signs(text):
    assert_answered(load(text, "x.yaml"), text.count("\n") + 1)


@quick
@given(
    st.integers(0, len(BASE)),
    st.integers(0, 40),
    st.text(alphabet=st.sampled_from("a1:-[]{},&*!|'\"#\n\t .~"), max_size=12),
)
def test_any_cut_and_splice_of_a_sound_spec(start, length, insert):
    text = BASE[:start] + insert + BASE[start + length :]
    assert_answered(load(text, "x.yaml"), text.count("\n") + 1)


scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**30), 10**30),
    st.floats(),
    st.sampled_from(WORDS),
    st.text(max_size=10),
)
trees = st.recursive(
    scalars,
    lambda below: st.one_of(
        st.lists(below, max_size=4),
        st.dictionaries(st.one_of(st.sampled_from(WORDS), st.text(max_size=6)), below, max_size=4),
    ),
    max_leaves=12,
)
SECTIONS = ("engine", "heads", "flange", "runners", "shelf", "collector", "tools", "obstacles")


@quick
@given(st.sampled_from((*SECTIONS, "vertical", "limits", "waive", "name", "format")), trees)
def test_any_tree_in_place_of_a_section(section, tree):
    data = YAML(typ="safe", pure=True).load(BASE)
    data[section] = tree
    stream = io.StringIO()
    YAML(typ="safe", pure=True).dump(data, stream)
    text = stream.getvalue()
    assert_answered(load(text, "x.yaml"), text.count("\n") + 1)


@quick
@given(
    st.dictionaries(st.sampled_from(["1a", "1b", "2a", "2b", "9z"]), scalars, max_size=5),
    st.sampled_from(["out", "in", "face", "up"]),
    scalars,
)
def test_any_tapes(studs, side, error):
    data = YAML(typ="safe", pure=True).load(BASE)
    data["collector"]["at"] = {"tape": {"studs": studs, "side": side, "error": error}}
    data["collector"]["direction"] = {"towards": [1, 0, 0], "below_level": error}
    stream = io.StringIO()
    YAML(typ="safe", pure=True).dump(data, stream)
    text = stream.getvalue()
    assert_answered(load(text, "x.yaml"), text.count("\n") + 1)


def bomb(levels: int) -> str:
    lines = ["a0: &a0 [1, 1, 1, 1, 1, 1, 1, 1, 1, 1]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, levels)]
    return "\n".join(lines)


def tower(storeys: int, deep: int = 15) -> str:
    """Aliases that stand on one another: few values, but very deep."""
    lines = ["a0: &a0 1"]
    lines += [f"a{i}: &a{i} {'[' * deep}*a{i - 1}{']' * deep}" for i in range(1, storeys)]
    return "\n".join(lines)


HOSTILE = {
    "tower of aliases": (tower(400), "nested"),
    "aliases of aliases": (bomb(12), "values"),
    "deep brackets": ("a: " + "[" * 100_000, "nested"),
    "deep braces": ("a: " + "{a: " * 100_000, "nested"),
    "deep indentation": ("\n".join(" " * i + "a:" for i in range(300)), "nested"),
    "deep dashes": ("a: \n" + "- " * 100_000, "nested"),
    "many items": ("a:\n" + "- 1\n" * 200_000, "values"),
    "many keys": ("\n".join(f"k{i}: 1" for i in range(60_000)), "values"),
    "too large": ("# " + "x" * 1_000_001, "bytes"),
    "long scalar": ("name: " + "x" * 900_000, "xxx"),
    "long digits": ("engine: {bore: " + "9" * 100_000 + "}", "999"),
    "long comment": ("# " + "y" * 900_000 + "\nname: A b", "A b"),
    "long key": ("? " + "k" * 500_000 + "\n: 1", "letters"),
    "empty key": ('"": 1', "empty key"),
    "key over two lines": ('"a\\nb": 1', "letters"),
    "null byte": ("name: a\x00b", "YAML"),
    "lone surrogate": ("name: \ud800", "UTF-8"),
    "bell": ("name: \x07", "YAML"),
    "python object": ("name: !!python/object/apply:os.system ['true']", "tag"),
    "directive": ("%YAML 3.0\n---\nname: x", "directive"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile(name):
    text, words = HOSTILE[name]
    began = time.perf_counter()
    loaded = load(text, "x.yaml")
    assert time.perf_counter() - began < 20.0
    assert loaded.spec is None
    assert_answered(loaded, text.count("\n") + 1)
    told = " ".join(str(problem) for problem in loaded.problems)
    assert words in told
