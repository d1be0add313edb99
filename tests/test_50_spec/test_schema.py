"""The JSON Schema: sound by its own dialect, agrees with the loader, and is current."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from geomgen.cli.reading import beside
from geomgen.spec.header import FORMAT, HeaderSpec
from geomgen.spec.load import load
from geomgen.spec.reference import kinds, reference
from geomgen.spec.schema import json_schema, schema_text
from geomgen.targets.rules import LENGTH_RULES

ROOT = Path(__file__).parents[2]
BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8")
SCHEMA = json_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
SPECS = sorted(p for p in (ROOT / "specs").glob("*.yaml") if not p.name.endswith(".lock.yaml"))

UPDATE = "write it anew: geomgen schema > specs/geomgen.schema.json"
UPDATE_README = (
    'write it anew: python -c "from geomgen.spec.reference import reference as r; '
    "print(r(), end='')\" > specs/README.md"
)


def errors(text: str) -> list[str]:
    data = YAML(typ="safe", pure=True).load(text)
    return [f"{list(e.absolute_path)}: {e.message}" for e in VALIDATOR.iter_errors(data)]


def test_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"].endswith("2020-12/schema")


@pytest.mark.parametrize("spec", SPECS, ids=lambda p: p.name)
def test_demo_specs_load_and_are_valid(spec):
    text = spec.read_text(encoding="utf-8")
    assert load(text, spec.name, read=beside(spec)).problems == ()
    assert errors(text) == []
    assert text.startswith("# yaml-language-server: $schema=geomgen.schema.json\n")


def test_the_base_is_valid():
    assert errors(BASE) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("at: [280, -340, 180]", "at: {tape: {studs: {1a: 400, 3b: 380, 4a: 390}, side: in}}"),
        ("direction: [0.9, -0.4, 0]", "direction: {towards: [1, 0, 0], below_level: 12}"),
        ("at_each_port: [[-30, 26], [30, -26]]", "at: [[-30, 26], {name: n1, at: [30, -26]}]"),
        ("pitch: 88", "at: [[0, 0], [88, 0, 1], [176, 0], [264, 0]]"),
        ("wall: 1.6,", "wall: 1.6 mm,"),
        ("od: 42.4", "od: 1-3/4 in"),
        ("length: tuned", "length: 780 mm"),
        ("length: tuned", "length: [780, 78 cm, 780, 780]"),
        ('material: "304"', "material: 304"),
        ("  gasket", "  take: ports/x.yaml#head\n    gasket"),
    ],
)
def test_what_loads_is_valid(old, new):
    text = BASE.replace(old, new)
    assert text != BASE
    assert errors(text) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("bore: 79", "boer: 79"),
        ("process: laser", "process: lazer"),
        ("wall: 1.6,", "wall: 16 ga,"),
        ("od: 42.4", "od: -42.4"),
        ("cylinders: 4", "cylinders: 4.5"),
        ("shape: rectangle", "shape: ovl"),
        ("at: [280, -340, 180]", "at: [280, -340]"),
        ("name: wrenfield-16", "name: ../x"),
        ("format: 1", "format: 2"),
        ("{runner_gap: 7}", "{runnr_gap: 7}"),
        ("  stroke: 81.5\n", ""),
        (", reason: two runners touch a shield", ""),
    ],
)
def test_what_does_not_load_is_not_valid(old, new):
    text = BASE.replace(old, new)
    assert text != BASE
    assert load(text, "x.yaml").spec is None
    assert errors(text) != []


def required(schema: dict) -> list[str]:
    return schema["else"]["required"]


@settings(deadline=None, max_examples=20)
@given(st.sampled_from(sorted(HeaderSpec.model_fields)))
def test_loader_and_schema_agree_on_what_must_be_there(section):
    data = YAML(typ="safe", pure=True).load(BASE)
    data.pop(section, None)
    valid = not list(VALIDATOR.iter_errors(data))
    assert valid == (section not in required(SCHEMA))
    assert valid != HeaderSpec.model_fields[section].is_required()


def test_plug_ins_that_a_spec_may_name():
    """Pinned: a rename that nobody meant fails here. Add what you add."""
    assert kinds() == {
        "attachments": ("bung", "end", "flex", "steps", "support", "wastegate"),
        "families": ("log", "merge", "4-2-1", "stubs", "turbo"),
        "plates": (
            "blanking",
            "collector",
            "gasket",
            "rectangular",
            "round",
            "test",
            "vband",
            "wastegate",
        ),
        "ports": ("d", "oval", "rectangle", "round", "traced"),
        "shelf": ("bend", "die", "elbow"),
    }


def test_no_key_of_a_plug_in_is_named_like_a_plug_in():
    """Validation errors name the plug-in in their place; a key of that name would mislead."""
    from geomgen.spec.kinds import specs

    for package in ("attachments", "families", "plates", "ports", "shelf"):
        models = specs(f"geomgen.{package}")
        for model in models.values():
            assert not set(model.model_fields) & set(models)


def test_every_key_is_described():
    bare = [
        f"{name}.{key}"
        for name, definition in (*SCHEMA["$defs"].items(), ("root", SCHEMA))
        for key, node in definition.get("properties", {}).items()
        if not node.get("description")
    ]
    assert bare == []


def test_every_limit_says_where_it_comes_from():
    for name, node in SCHEMA["$defs"]["Limits"]["properties"].items():
        if name != "take":
            assert node["x-source"], name
            assert "default" in node, name


def test_rules_of_length_are_those_of_the_targets():
    rules = SCHEMA["$defs"]["Runners"]["properties"]["tuned_by"]["enum"]
    assert tuple(rules) == LENGTH_RULES


def test_format_is_the_one_that_is_read():
    assert SCHEMA["properties"]["format"]["const"] == FORMAT


def test_schema_file_is_current():
    committed = (ROOT / "specs" / "geomgen.schema.json").read_text(encoding="utf-8")
    assert committed == schema_text(), UPDATE


def test_spec_reference_is_current():
    committed = (ROOT / "specs" / "README.md").read_text(encoding="utf-8")
    assert committed == reference(), UPDATE_README


def test_reference_names_every_key():
    text = reference()
    for definition in SCHEMA["$defs"].values():
        for key in definition.get("properties", {}):
            assert f"`{key}`" in text, key


def test_same_text_whatever_the_hash_seed():
    code = (
        "import hashlib; from geomgen.spec.schema import schema_text; "
        "from geomgen.spec.reference import reference; "
        "print(hashlib.sha256((schema_text() + reference()).encode()).hexdigest())"
    )
    seen = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PATH": ""},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(seen) == 1


def test_schema_text_is_plain_json():
    assert json.loads(schema_text()) == SCHEMA
    assert schema_text().isascii()
