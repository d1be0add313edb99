"""The plates of a spec: what may be said, and what is refused with its key and line."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML

from geomgen.spec.load import load
from geomgen.spec.schema import json_schema

BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8").rstrip() + "\n"
VALIDATOR = jsonschema.Draft202012Validator(json_schema())

FLANGE = (
    "{kind: round, name: tail, at: outlet, bolts: {count: 3, circle: 3.5 in, thread: M10}, "
    'thickness: 10, material: "304"}'
)
GOOD = (
    FLANGE,
    """{kind: round, name: oval, bore: 60, bolts: {count: 2, circle: 96, phase: 90, thread: M8},
    thickness: 3/8 in, material: 304, waist: 30, process: laser, quantity: 2, label: REAR}""",
    """{kind: rectangular, name: inlet, bolts: {pitch: [92, 58], thread: M10, hole: tapped},
    width: 62, height: 46, corner: 8, divider: 5, divided: top-bottom, thickness: 12,
    material: 321, roll: 15, stand: {at: [300, -200, 150], tube_side: [0, 1, 0]}}""",
    """{kind: vband, name: ring, od: 90, bore: 60, thickness: 14, material: 304, pair: true,
    spigot: {diameter: 74, height: 2}}""",
    """{kind: wastegate, name: gate, seat: 38, thickness: 12, material: 304, facing: 1,
    bolts: {places: [[28, 24], [-28, 24], [0, -38]], thread: M8}}""",
    """{kind: collector, name: entry, tube: 42.4, count: 4, array: diamond, pitch: 50,
    entry: slip, cylinders: [1, 3, 4, 2], thickness: 8, material: 304}""",
    "{kind: blanking, name: blank, of: head_flange, thickness: 6, material: mild}",
    """{kind: test, name: air, of: inlet, thickness: 10, material: mild,
    air: {thread: M10x1, at: [1, 2]}}""",
    """{kind: gasket, name: seal, of: inlet, thickness: 1.5, material: graphite,
    window_clearance: 2, hole_clearance: 0.5}""",
)


def text(*plates: str) -> str:
    return BASE + "plates:\n" + "".join(f"  - {plate}\n" for plate in plates)


def test_every_kind_loads_and_is_valid():
    said = text(*GOOD)
    loaded = load(said, "x.yaml")
    assert loaded.problems == ()
    kinds = [plate.kind for plate in loaded.required().plates]
    assert sorted(set(kinds)) == sorted(
        ["round", "rectangular", "vband", "wastegate", "collector", "blanking", "test", "gasket"]
    )
    data = YAML(typ="safe", pure=True).load(said)
    assert [e.message for e in VALIDATOR.iter_errors(data)] == []
    # 3/8 in is 9.525 mm, 3.5 in 88.9 mm: an inch is 25.4 mm by definition
    assert loaded.required().plates[1].thickness == pytest.approx(9.525)
    assert loaded.required().plates[0].bolts.circle == pytest.approx(88.9)


def test_a_spec_without_plates_has_none():
    assert load(BASE, "x.yaml").required().plates == ()


BOLTS = "bolts: {count: 3, circle: 90, thread: M10}"


@pytest.mark.parametrize(
    ("old", "new", "key", "said", "between_keys"),
    [
        ("kind: round", "kind: rond", "plates.0.kind", "did you mean round?", False),
        ("kind: round, ", "", "plates.0", "a mapping that says its kind", False),
        ("name: tail", "name: Tail End", "plates.0.name", "small letters", False),
        ("thread: M10", "thread: M9", "plates.0.bolts.thread", "M10", False),
        ("count: 3, ", "", "plates.0.bolts", "count with circle", True),
        ("count: 3", "count: 3, pitch: [50, 40]", "plates.0.bolts", "one of", True),
        ("circle: 3.5 in", "circle: -90", "plates.0.bolts.circle", "more than 0", False),
        ("bolts: {count: 3, circle: 3.5 in, thread: M10}, ", "", "plates.0.bolts", "bolts", False),
        (
            "thickness: 10",
            "thickness: 10, divder: 5",
            "plates.0.divder",
            "did you mean divider?",
            False,
        ),
        ("thickness: 10", "thickness: 16 ga", "plates.0.thickness", "gauge", False),
        ("thickness: 10", "thickness: 2, set_back: 2", "plates.0", "less than the thickness", True),
        ("at: outlet", "at: outlet, divider: 5, window: socket", "plates.0", "butt", True),
        ("at: outlet", "at: inlet", "plates.0.at", "outlet", False),
        (
            "at: outlet",
            "at: outlet, stand: {at: [0, 0, 0], tube_side: [0, 0, 1]}",
            "plates.0",
            "one of the two",
            True,
        ),
        ("thickness: 10", "thickness: 10, od: 120, waist: 20", "plates.0", "one of the two", True),
        (
            "thread: M10",
            "thread: M10, hole: tapped, diameter: 9",
            "plates.0.bolts",
            "the thread",
            True,
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_key(old, new, key, said, between_keys):
    assert FLANGE.count(old) == 1
    loaded = load(text(FLANGE.replace(old, new)), "x.yaml")
    assert loaded.spec is None
    (problem,) = loaded.problems
    assert ".".join(map(str, problem.path)) == key
    assert said in str(problem)
    assert problem.line == BASE.count("\n") + 2
    data = YAML(typ="safe", pure=True).load(text(FLANGE.replace(old, new)))
    # what keys say to one another no schema tells
    assert bool(list(VALIDATOR.iter_errors(data))) != between_keys


@pytest.mark.parametrize(
    ("plates", "key"),
    [
        ((FLANGE, FLANGE), {"plates.1.name", "plates.1.at"}),
        ((FLANGE, FLANGE.replace("tail", "other")), {"plates.1.at"}),
        ((GOOD[7], GOOD[2]), {"plates.0.of"}),
        ((GOOD[8].replace("of: inlet", "of: seal"),), {"plates.0.of"}),
    ],
)
def test_plates_that_contradict_each_other(plates, key):
    loaded = load(text(*plates), "x.yaml")
    assert {".".join(map(str, problem.path)) for problem in loaded.problems} == key


def test_what_else_is_wrong_is_found_beside_a_broken_plate():
    loaded = load(text(FLANGE.replace("M10", "M9")).replace("bore: 79", "boer: 79"), "x.yaml")
    keys = {".".join(map(str, problem.path)) for problem in loaded.problems}
    assert {"plates.0.bolts.thread", "engine.boer"} <= keys
