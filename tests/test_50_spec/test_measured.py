"""Points by tape and directions by angle finder, in place of numbers."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.spec.load import load
from geomgen.spec.positions import studs

BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8")
# By hand from base.yaml: pitch 88, studs at [-30, 26] and [30, -26], head face at z = -1.
STUDS = {"1a": (-30.0, 26.0, -1.0), "3b": (206.0, -26.0, -1.0), "4a": (234.0, 26.0, -1.0)}


def by_tape(point, more="", off=0.0):
    tapes = ", ".join(f"{name}: {math.dist(point, stud) + off:.9f}" for name, stud in STUDS.items())
    return BASE.replace("at: [280, -340, 180]", f"at: {{tape: {{studs: {{{tapes}}}{more}}}}}")


def test_studs_have_their_places():
    spec = load(BASE, "x.yaml").required()
    places = {stud.name: stud for stud in studs(spec.heads[0], (1, 2, 3, 4))}
    assert list(places) == ["1a", "1b", "2a", "2b", "3a", "3b", "4a", "4b"]
    for name, face in STUDS.items():
        assert places[name].face == face
        assert places[name].tip == (face[0], face[1], 24.0)


@given(st.floats(-300, 600), st.floats(-600, 300), st.floats(40, 500))
@settings(deadline=None, max_examples=15)
def test_a_point_by_tape_is_the_point(x, y, z):
    loaded = load(by_tape((x, y, z)), "x.yaml")
    assert loaded.problems == ()
    assert math.dist(loaded.required().collector.at, (x, y, z)) < 1e-4
    (measured,) = loaded.measured
    assert measured.path == ("collector", "at")
    assert measured.error >= 2.0  # every tape moves the point by at least its own error


def test_from_the_studs_tips():
    point = (280.0, -340.0, 180.0)
    higher = (280.0, -340.0, 205.0)  # 25 mm of stud further out
    text = by_tape(point, ", hooked_on: tip")
    assert math.dist(load(text, "x.yaml").required().collector.at, higher) < 1e-6


def test_behind_the_studs():
    text = by_tape((100.0, -200.0, 99.0), ", side: in")
    at = load(text, "x.yaml").required().collector.at
    assert math.dist(at, (100.0, -200.0, -101.0)) < 1e-6  # mirrored in the face, z = -1


def test_any_point_may_be_taped():
    text = BASE.replace(
        "to: [420, 60, 330]", "to: {tape: {studs: {1a: 400, 3b: 380, 4a: 390}}}"
    ).replace(
        "plane: {point: [0, -600, 0]", "plane: {point: {tape: {studs: {1a: 700, 1b: 650, 4a: 720}}}"
    )
    loaded = load(text, "x.yaml")
    assert loaded.problems == ()
    assert [m.path for m in loaded.measured] == [
        ("obstacles", 1, "cylinder", "to"),
        ("obstacles", 2, "plane", "point"),
    ]


@pytest.mark.parametrize(
    ("tape", "words", "key"),
    [
        ("{studs: {1a: 400, 3b: 380}}", "at least 3", "studs"),
        ("{studs: {1a: 400, 3b: 380, 9a: 390}}", "one of 1a, 1b", "9a"),
        ("{studs: {1a: 400, 2a: 380, 3a: 390}}", "triangle", "studs"),
        ("{studs: {1a: 40, 3b: 40, 4a: 40}}", "meet within the stated error", "studs"),
        ("{studs: {1a: 400, 3b: 380, 4a: 16 ga}}", "gauge", "4a"),
        ("{studs: {1a: 400, 3b: 380, 4a: -1}}", "more than 0", "4a"),
        ("{studs: {1a: 400, 3b: 380, 4a: 390}, side: up}", "out, in, face", "side"),
        ("{stds: {1a: 400, 3b: 380, 4a: 390}}", "did you mean studs", "stds"),
        ("[1, 2]", "a mapping of keys", "tape"),
    ],
)
def test_refused_with_its_place(tape, words, key):
    text = BASE.replace("at: [280, -340, 180]", f"at: {{tape: {tape}}}")
    problems = load(text, "x.yaml").problems
    told = [p for p in problems if p.path[-1] == key]
    assert len(told) == 1, [str(p) for p in problems]
    assert words in f"{told[0].allowed}; {told[0].remedy}"
    assert told[0].line == 35
    assert all(p.line == 35 for p in problems)


def test_ports_by_tape_want_studs_with_places_of_their_own():
    tape = "{tape: {studs: {1a: 30, 1b: 40, 2a: 50}, side: face}}"
    text = BASE.replace("pitch: 88", f"at: [[0, 0], {tape}, [176, 0], [264, 0]]")
    told = [p for p in load(text, "x.yaml").problems if "studs" in p.path]
    assert told[0].remedy == "give the studs by at"


def test_ports_by_tape_in_the_face():
    free = "{name: n1, at: [-30, 26]}, {name: n2, at: [30, -26]}, {name: n3, at: [294, -26]}"
    port = (88.5, 0.5, -1.0)
    taped = ", ".join(
        f"{name}: {math.dist(port, at):.9f}"
        for name, at in (("n1", (-30, 26, -1)), ("n2", (30, -26, -1)), ("n3", (294, -26, -1)))
    )
    text = BASE.replace(
        "pitch: 88",
        f"at: [[0, 0], {{tape: {{studs: {{{taped}}}, side: face}}}}, [176, 0], [264, 0]]",
    ).replace("at_each_port: [[-30, 26], [30, -26]]", f"at: [{free}]")
    at = load(text, "x.yaml").required().heads[0].ports.at
    assert at is not None
    assert math.dist(at[1], port) < 1e-6


@pytest.mark.parametrize(
    ("towards", "below", "vertical", "want"),
    [
        ("[1, 0, 0]", "30", "[0, 1, 0]", (math.sqrt(0.75), -0.5, 0.0)),
        ("[3, 99, 4]", "0", "[0, 2, 0]", (0.6, 0.0, 0.8)),
        ("[1, 0, 0]", "-90", "[0, 1, 0]", (0.0, 1.0, 0.0)),
        ("[1, 1, 0]", "45 deg", "[0, 0, 1]", (0.5, 0.5, -math.sqrt(0.5))),
    ],
)
def test_a_direction_by_angle_finder(towards, below, vertical, want):
    """Angles of 30, 45 and 90 degrees, and a 3-4-5 triangle, by hand."""
    text = BASE.replace(
        "direction: [0.9, -0.4, 0]", f"direction: {{towards: {towards}, below_level: {below}}}"
    ).replace("limits:", f"vertical: {vertical}\nlimits:")
    assert load(text, "x.yaml").required().collector.direction == pytest.approx(want, abs=1e-12)


def test_an_angle_finder_needs_a_level_part():
    text = BASE.replace(
        "direction: [0.9, -0.4, 0]", "direction: {towards: [0, 1, 0], below_level: 12}"
    )
    (problem,) = load(text, "x.yaml").problems
    assert problem.path == ("collector", "direction", "towards")
