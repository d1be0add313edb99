"""Left and right never confused: every confusion is refused at the key that holds it.

Engines are built here from bores that lean in a vee, in a frame turned at random, by trigonometry
of its own: the ports of a bank lie on the flank of its cylinders, so which side they are on, and
which way they run, is known before any rule is asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from geomgen.cli.reading import beside
from geomgen.errors import Problem
from geomgen.spec.contradictions import Sections, contradictions
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load

Said = dict[str, Any]

SPECS = Path(__file__).parents[2] / "specs"
FLAT = SPECS / "wexcombe-20-flat.yaml"
LEFT = SPECS / "oakhanger-30-left.yaml"
OTHER_END = {"flywheel": "front", "front": "flywheel"}
BASE = YAML(typ="safe", pure=True).load(FLAT.read_text(encoding="utf-8"))


def keys(said: Said) -> set[str]:
    """Keys that are complained of."""
    spec = HeaderSpec.model_validate(said)
    sections = {name: getattr(spec, name) for name in HeaderSpec.model_fields}
    found = contradictions(Sections.of(sections, {}))
    return {".".join(map(str, problem.path)) for problem in found}


def turned(angles: tuple[float, float, float]) -> np.ndarray:
    """A rotation matrix from three angles, by Rodrigues' factors."""
    whole = np.eye(3)
    for axis, angle in enumerate(angles):
        c, s = math.cos(angle), math.sin(angle)
        i, j = (axis + 1) % 3, (axis + 2) % 3
        step = np.eye(3)
        step[i, i] = step[j, j] = c
        step[i, j], step[j, i] = -s, s
        whole = step @ whole
    return whole


@st.composite
def engines(draw) -> Said:
    """A spec of a whole vee or flat engine: banks, two heads, any frame, any end as flywheel.

    In the engine's own axes: x to the flywheel, y up, z to the left as seen from the flywheel.
    """
    half = math.radians(draw(st.floats(30.0, 90.0)))  # of the vee
    each = draw(st.integers(2, 4))
    pitch = draw(st.floats(90.0, 130.0))
    height, flank = draw(st.floats(220.0, 380.0)), draw(st.floats(60.0, 110.0))
    tilt = math.radians(draw(st.floats(-25.0, 25.0)))  # of the face, out of line with the bores
    inboard = draw(st.booleans()) and flank + 30.0 < height * math.tan(half)
    stagger, seen = draw(st.floats(0.0, 30.0)), draw(st.sampled_from(["flywheel", "front"]))
    frame = turned(tuple(draw(st.floats(-math.pi, math.pi)) for _ in range(3)))
    crank = np.array([draw(st.floats(-300.0, 300.0)) for _ in range(3)])
    numbers = draw(st.permutations(range(1, 2 * each + 1)))
    rows = {"left": list(numbers[:each]), "right": list(numbers[each:])}

    heads = []
    for bank in draw(st.permutations(["left", "right"])):
        is_z = (bank == "left") == (seen == "flywheel")  # on the +z side
        hand = 1.0 if is_z else -1.0
        bore = np.array([0.0, math.cos(half), hand * math.sin(half)])
        out = np.array([0.0, -math.sin(half), hand * math.cos(half)]) * (-1.0 if inboard else 1.0)
        z = math.cos(tilt) * out + math.sin(tilt) * bore
        y = math.cos(tilt) * bore - math.sin(tilt) * out
        x = np.cross(y, z)
        assert abs(x[0]) == pytest.approx(1.0)
        middle = height * bore + flank * out
        along = [40.0 + (stagger if is_z else 0.0) + k * pitch for k in range(each)]
        row, first = (rows[bank], along[0]) if x[0] > 0 else (rows[bank][::-1], along[-1])
        at = middle + np.array([first, 0.0, 0.0])
        heads.append(
            {
                **deepcopy(BASE["heads"][0]),
                "bank": bank,
                "cylinders": list(row),
                "ports": {"shape": "round", "diameter": 30, "pitch": pitch},
                "place": {
                    "at": (frame @ at + crank).tolist(),
                    "x": (frame @ x).tolist(),
                    "z": (frame @ z).tolist(),
                },
            }
        )
    engine = {
        **BASE["engine"],
        "layout": "vee",
        "cylinders": 2 * each,
        "firing_order": list(numbers),
        "banks": {
            **rows,
            "seen_from": seen,
            "to_flywheel": (frame @ [1.0, 0.0, 0.0]).tolist(),
            "crank": crank.tolist(),
        },
    }
    vertical = (frame @ [0.0, 1.0, 0.0]).tolist()
    collector = {"family": "merge", **{k: BASE["collector"][k] for k in ("at", "direction")}}
    collector |= {"merge_angle": 10, "outlet": BASE["collector"]["outlet"]}
    return {**BASE, "engine": engine, "heads": heads, "vertical": vertical, "collector": collector}


def minus(vector: list[float]) -> list[float]:
    return [-v for v in vector]


def mirrored(said: Said, point: list[float]) -> list[float]:
    """A point on the other side of the upright plane through the crank."""
    banks = said["engine"]["banks"]
    across = np.cross(banks["to_flywheel"], said["vertical"])
    off = np.dot(np.subtract(point, banks["crank"]), across)
    return np.subtract(point, 2.0 * off * across).tolist()


def lone(said: Said, **changes: Any) -> Said:
    """The first head alone, changed."""
    return {**said, "heads": [{**said["heads"][0], **changes}]}


def first(said: Said, **changes: Any) -> Said:
    """Both heads, the first changed."""
    return {**said, "heads": [{**said["heads"][0], **changes}, said["heads"][1]]}


def placed(said: Said, **changes: Any) -> dict[str, Any]:
    return {**said["heads"][0]["place"], **changes}


def exchanged(said: Said, key: str) -> Said:
    """Both heads, with what they say by a key exchanged."""
    one, two = said["heads"]
    return {**said, "heads": [{**one, key: two[key]}, {**two, key: one[key]}]}


def called(said: Said, **changes: Any) -> Said:
    """Other words in ``engine.banks``."""
    return {**said, "engine": {**said["engine"], "banks": {**said["engine"]["banks"], **changes}}}


def other_place(said: Said) -> dict[str, Any]:
    """The first head turned about the upright line through the crank's middle of its row."""
    place, head = said["heads"][0]["place"], said["heads"][0]
    length = (len(head["cylinders"]) - 1) * head["ports"]["pitch"]
    far = np.add(place["at"], np.multiply(length, place["x"])).tolist()
    tip = np.add(place["at"], place["z"]).tolist()
    z = np.subtract(mirrored(said, tip), mirrored(said, place["at"])).tolist()
    return {"at": mirrored(said, far), "x": minus(place["x"]), "z": z}


@settings(max_examples=25)
@given(engines())
def test_an_engine_as_it_is_is_not_refused(said: Said) -> None:
    assert keys(said) == set()
    assert keys(lone(said)) == set()


ROW = "heads.0.cylinders"
CONFUSIONS: dict[str, tuple[Callable[[Said], Said], set[str]]] = {
    "two cylinders swapped": (
        lambda s: first(
            s, cylinders=[*s["heads"][0]["cylinders"][1::-1], *s["heads"][0]["cylinders"][2:]]
        ),
        {ROW},
    ),
    "the row turned round": (lambda s: first(s, cylinders=s["heads"][0]["cylinders"][::-1]), {ROW}),
    "a cylinder of the other bank": (
        lambda s: lone(
            s, cylinders=[s["heads"][1]["cylinders"][0], *s["heads"][0]["cylinders"][1:]]
        ),
        {ROW},
    ),
    "all cylinders of the other bank": (
        lambda s: lone(s, cylinders=s["heads"][1]["cylinders"]),
        {ROW},
    ),
    "the other bank's name": (lambda s: lone(s, bank=s["heads"][1]["bank"]), {"heads.0.bank"}),
    "x turned round, one head": (
        lambda s: lone(s, place=placed(s, x=minus(s["heads"][0]["place"]["x"]))),
        {"heads.0.place.x"},
    ),
    "x turned round": (
        lambda s: first(s, place=placed(s, x=minus(s["heads"][0]["place"]["x"]))),
        {"heads.0.place.x"},
    ),
    "x across the crank": (
        lambda s: first(
            s,
            place=placed(
                s, x=np.cross(s["heads"][0]["place"]["z"], s["heads"][0]["place"]["x"]).tolist()
            ),
        ),
        {"heads.0.place.x"},
    ),
    "the place mirrored": (
        lambda s: first(s, place=placed(s, at=mirrored(s, s["heads"][0]["place"]["at"]))),
        {"heads.0.place.at"},
    ),
    "the other bank's place, one head": (
        lambda s: lone(s, place=other_place(s)),
        {"heads.0.place"},
    ),
    "two heads in one place": (
        lambda s: {
            **s,
            "heads": [s["heads"][0], {**s["heads"][1], "place": s["heads"][0]["place"]}],
        },
        {"heads.1.place"},
    ),
    "names exchanged": (lambda s: exchanged(s, "bank"), {"heads.0.bank", "heads.1.bank"}),
    "cylinders exchanged": (lambda s: exchanged(s, "cylinders"), {ROW, "heads.1.cylinders"}),
    "places exchanged": (lambda s: exchanged(s, "place"), {"engine.banks.to_flywheel"}),
    "two of one bank": (
        lambda s: {**s, "heads": [s["heads"][0], {**s["heads"][1], "bank": s["heads"][0]["bank"]}]},
        {"heads.1.bank"},
    ),
    "seen from the other end": (
        lambda s: called(s, seen_from=OTHER_END[s["engine"]["banks"]["seen_from"]]),
        {"engine.banks.seen_from"},
    ),
    "seen from the other end, one head": (
        lambda s: lone(called(s, seen_from=OTHER_END[s["engine"]["banks"]["seen_from"]])),
        {"engine.banks.seen_from"},
    ),
    "the flywheel at the other end": (
        lambda s: called(s, to_flywheel=minus(s["engine"]["banks"]["to_flywheel"])),
        {"engine.banks.to_flywheel"},
    ),
    "left and right exchanged in the engine": (
        lambda s: called(s, left=s["engine"]["banks"]["right"], right=s["engine"]["banks"]["left"]),
        {ROW, "heads.1.cylinders"},
    ),
    "the world upside down": (
        lambda s: {**s, "vertical": minus(s["vertical"])},
        {"engine.banks.seen_from"},
    ),
}
"""What may be confused, and the keys that are to be complained of, no others but for a port in
another's place."""


@pytest.mark.parametrize("name", CONFUSIONS)
@settings(max_examples=20)
@given(said=engines())
def test_every_confusion_is_refused_at_its_key(name: str, said: Said) -> None:
    change, expected = CONFUSIONS[name]
    assert keys(change(said)) - {"heads.1.place"} == expected - {"heads.1.place"}
    assert expected <= keys(change(said))


@settings(max_examples=25)
@given(engines())
def test_a_head_that_looks_into_its_bank_is_refused(said: Said) -> None:
    """By x where its face leans so far back that z turned round leads away from the crank."""
    place, banks = said["heads"][0]["place"], said["engine"]["banks"]
    found = keys(first(said, place=placed(said, z=minus(place["z"]))))
    away = np.dot(np.subtract(place["at"], banks["crank"]), place["z"])
    assert found == {"heads.0.place.z" if away > 0.0 else "heads.0.place.x"}


def problems(file: Path, *changes: tuple[str, str]) -> list[Problem]:
    """What is complained of in a demo after some changes of its text."""
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return list(load(text, file.name, read=beside(file)).problems)


SAID = "banks: {left: [2, 4], right: [1, 3], seen_from: flywheel, to_flywheel: [1, 0, 0]}"


@pytest.mark.parametrize(
    ("old", "new", "key", "found"),
    [
        ("left: [2, 4]", "left: [2]", "left", "no cylinder 4 in either bank"),
        ("right: [1, 3]", "right: [1, 4]", "right", "cylinder 4 twice"),
        ("right: [1, 3]", "right: [1, 5]", "right", "cylinder 5 of an engine with 4"),
        (
            "left: [2, 4], right: [1, 3]",
            "left: [1, 2, 3], right: [4]",
            "right",
            "3 cylinders left and 1 right",
        ),
        ("[1, 0, 0]}", "[0.3, 1, 0]}", "to_flywheel", "[0.3, 1.0, 0.0], within 30 deg of"),
        ("seen_from: flywheel", "seen_from: driver", "seen_from", "driver"),
        ("seen_from: flywheel, ", "", "seen_from", ""),
        ("layout: flat", "layout: inline", None, "banks of an engine that is inline"),
    ],
)
def test_what_the_engine_says_of_its_banks_is_whole(old, new, key, found) -> None:
    told = problems(FLAT, (old, new))
    path = ("engine", "banks") if key is None else ("engine", "banks", key)
    (problem,) = [p for p in told if p.path == path]
    assert problem.found.startswith(found)
    assert problem.file == FLAT.name
    line = FLAT.read_text(encoding="utf-8").split("\n")[problem.line - 1]
    assert line.strip() == SAID or old == "layout: flat"


def test_a_fault_in_a_shared_engine_is_told_in_its_own_file() -> None:
    text = (SPECS / "parts" / "oakhanger.yaml").read_text(encoding="utf-8")
    spec = LEFT.read_text(encoding="utf-8")

    def read(_: str) -> bytes:
        return text.replace("seen_from: flywheel", "seen_from: front").encode()

    (problem,) = load(spec, LEFT.name, read=read).problems
    assert problem.path == ("engine", "banks", "seen_from")
    assert problem.file == "parts/oakhanger.yaml"
    assert "seen_from: flywheel" in text.split("\n")[problem.line - 1]
    assert (
        problem.found
        == "front, by which the left bank's ports are 247 mm to the right of the crank"
    )


def test_a_manifold_of_three_of_a_v6_is_held_to_its_bank() -> None:
    (problem,) = problems(LEFT, ("cylinders: [1, 3, 5]", "cylinders: [1, 2, 5]"))
    assert problem.path == ("heads", 0, "cylinders")
    assert problem.found == "cylinders [1, 2, 5] on the left bank, which has no 2"
    assert problem.allowed == "cylinders of [1, 3, 5], as engine.banks.left has them"


def test_some_of_a_banks_cylinders_make_a_manifold_too() -> None:
    assert not problems(FLAT, ("cylinders: [2, 4] ", "cylinders: [4] "))
    (problem,) = problems(FLAT, ("cylinders: [2, 4] ", "cylinders: [4, 2] "))
    assert problem.path == ("heads", 1, "cylinders")
    assert problem.found == "[4, 2], which stand 4, 2 from the front to the flywheel"


def test_a_head_without_a_place_wants_the_crank_measured_from_its_port() -> None:
    place = "    place: {at: [60, 238, 247], x: [1, 0, 0], z: [0, -0.5, 0.8660254037844386]}\n"
    spec = LEFT.read_text(encoding="utf-8").replace(place, "")
    shared = (SPECS / "parts" / "oakhanger.yaml").read_text(encoding="utf-8")

    def keys_with(crank: str) -> set[str]:
        text = shared.replace("to_flywheel: [1, 0, 0]", f"to_flywheel: [1, 0, 0]{crank}")
        found = load(spec, LEFT.name, read=lambda _: text.encode()).problems
        return {".".join(map(str, p.path)) for p in found}

    assert keys_with("") == {"engine.banks.crank"}
    # The crank of the demo in the frame of its own head: 82.4 below, 332.9 behind.
    assert keys_with(", crank: [-60, -329.6, -94.9]") == set()


@pytest.mark.parametrize(
    ("x", "off"),
    [("[1, 0.05, 0]", None), ("[1, 0.1, 0]", "95.7 deg"), ("[1, -1, 0]", "45.0 deg")],
)
def test_a_heads_x_is_square_to_its_z(x: str, off: str | None) -> None:
    """By the arc tangent of 0.05, 0.1 and 1; z is [0, -1, 0]. Up to 5 deg are taken out of x."""
    told = problems(FLAT, ("x: [1, 0, 0], z: [0, -1, 0]", f"x: {x}, z: [0, -1, 0]"))
    assert [p.path for p in told] == ([] if off is None else [("heads", 1, "place", "x")])
    if off is not None:
        assert told[0].found.endswith(f"{off} from z [0.0, -1.0, 0.0]")
        assert told[0].remedy.endswith("square to this z, [1, 0, 0]")


@pytest.mark.parametrize(
    ("title", "refused"),
    [("from the front", True), ("from the flywheel end", False), ("by whoever asks", False)],
)
def test_a_title_of_the_other_end_is_refused(title: str, refused: bool) -> None:
    told = problems(FLAT, ("Wexcombe 2.0 flat four", f"Wexcombe 2.0, banks seen {title}"))
    assert [p.path for p in told] == ([("engine", "banks", "seen_from")] if refused else [])


@settings(max_examples=25)
@given(engines())
def test_one_head_on_the_wrong_side_is_refused(said: Said) -> None:
    """Of a narrow vee it may look as if left and right were called after the other end."""
    at = mirrored(said, said["heads"][0]["place"]["at"])
    found = keys(lone(said, place=placed(said, at=at)))
    assert found in ({"heads.0.place.at"}, {"engine.banks.seen_from"})


def test_two_heads_in_one_place_are_told_whatever_the_engine_says() -> None:
    there = "place: {at: [107, -70, 225], x: [1, 0, 0], z: [0, -1, 0]}"
    here = "place: {at: [196, -70, -225], x: [-1, 0, 0], z: [0, -1, 0]}"
    (problem,) = problems(FLAT, (f"  {SAID}\n", ""), (there, here))
    assert problem.path == ("heads", 1, "place")
    assert problem.found.startswith("the port of cylinder 4 in that of cylinder 1, 0.0 mm")
    near = here.replace("196", "235.1")  # 39.1 mm along, of ports of 39
    assert problems(FLAT, (f"  {SAID}\n", ""), (there, near)) == []


def test_an_engine_in_line_has_no_bank() -> None:
    said = YAML(typ="safe", pure=True).load(
        (SPECS / "brackenhall-20-sprint.yaml").read_text(encoding="utf-8")
    )
    assert keys(said) == set()
    said["heads"][0]["bank"] = "left"
    assert keys(said) == {"heads.0.bank"}


def test_a_second_head_without_a_place_is_told_once() -> None:
    said = deepcopy(BASE)
    del said["heads"][1]["place"]
    assert keys(said) == {"heads.1"}
