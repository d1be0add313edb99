"""Two banks: heads where the spec puts them, and left and right never confused.

Places are worked out by hand from the specs' numbers: right-handed frames, x along the crank to
the rear, y up, z to the engine's left.
"""

import csv
import io
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from shapely.affinity import scale
from shapely.geometry import Polygon

from geomgen.checks import removal, stud_access
from geomgen.design.heads import titled
from geomgen.design.laying import task
from geomgen.design.model import Design
from geomgen.design.resolve import resolve
from geomgen.errors import Verdict
from geomgen.exports import bend_table_csv, dxf
from geomgen.geometry.frames import Frame, distance
from geomgen.profiles.crossings import point_at
from geomgen.proofs import dxf as dxf_proof
from geomgen.report.result_json import Facts, document
from geomgen.report.summary import summary
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load
from geomgen.targets.firing import intervals

NAMES = ("oakhanger-30-left", "oakhanger-30-right", "wexcombe-20-flat")


@pytest.fixture(scope="module")
def specs(demo_file) -> dict[str, HeaderSpec]:
    folder = demo_file.parent

    def read(name: str) -> HeaderSpec:
        file = folder / f"{name}.yaml"
        loaded = load(
            file.read_bytes(), file.name, read=lambda other: (folder / other).read_bytes()
        )
        return loaded.required()

    return {name: read(name) for name in NAMES}


@pytest.fixture(scope="module")
def designs(demo_file, specs) -> dict[str, Design]:
    found = {}
    for name, spec in specs.items():
        lock = demo_file.with_name(f"{name}.lock.yaml").read_text(encoding="utf-8")
        resolved = resolve(spec, lock)
        assert not resolved.solved
        found[name] = resolved.design
    return found


def edited(spec: HeaderSpec, **sections) -> HeaderSpec:
    return HeaderSpec.model_validate({**spec.model_dump(by_alias=True), **sections})


# Port of each cylinder: head origin and pitch of the specs, along the head's x.
PORTS = {
    "oakhanger-30-left": {c: (60 + a, 238, 247) for c, a in ((1, 0), (3, 104), (5, 212))},
    "oakhanger-30-right": {c: (296 - a, 238, -247) for c, a in ((6, 0), (4, 104), (2, 212))},
    "wexcombe-20-flat": {
        3: (196, -70, -225),
        1: (83, -70, -225),
        2: (107, -70, 225),
        4: (220, -70, 225),
    },
}


@pytest.mark.parametrize("name", NAMES)
def test_frames_are_right_handed_and_ports_stand_where_said(designs, name) -> None:
    design = designs[name]
    for frame in (*(h.frame for h in design.heads), *(p.frame for p in design.ports)):
        axes = np.array([frame.x, frame.y, frame.z])
        assert np.allclose(axes @ axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(axes) == pytest.approx(1.0)
    assert {p.cylinder for p in design.ports} == set(PORTS[name])
    for port in design.ports:
        assert distance(port.frame.origin, PORTS[name][port.cylinder]) < 1e-9


def test_heads_lean_as_the_banks_do(designs) -> None:
    """60 degrees of vee: exhaust faces look 30 degrees below level, left to +z, right to -z."""
    for name, side in (("oakhanger-30-left", 1.0), ("oakhanger-30-right", -1.0)):
        (head,) = designs[name].heads
        assert head.frame.z[2] * side == pytest.approx(math.cos(math.radians(30)))
        assert head.frame.z[1] == pytest.approx(-0.5)
        # Up the head face is up and outwards, along the cylinders of the bank.
        assert head.frame.y[1] == pytest.approx(math.cos(math.radians(30)))
        assert head.frame.y[2] * side == pytest.approx(0.5)


def test_studs_stand_where_said(designs) -> None:
    flat = designs["wexcombe-20-flat"]
    right, left = flat.heads
    by_name = {stud.name: stud for stud in flat.studs}
    # 1a is 30 behind port 1 as the right head's x runs, and 30 outwards; 1.2 up in the gasket.
    assert distance(right.frame.point(by_name["1a"].at), (83 + 30, -70 + 1.2, -225 - 30)) < 1e-9
    assert distance(left.frame.point(by_name["2a"].at), (107 - 30, -70 + 1.2, 225 + 30)) < 1e-9
    assert len(by_name) == 8


@pytest.mark.parametrize(
    ("name", "group", "gap"),
    [
        ("oakhanger-30-left", (1, 3, 5), 240),
        ("oakhanger-30-right", (2, 4, 6), 240),
        ("wexcombe-20-flat", (1, 2), 360),
        ("wexcombe-20-flat", (3, 4), 360),
        ("wexcombe-20-flat", (1, 2, 3, 4), 180),
    ],
)
def test_intervals_of_the_groups(designs, name, group, gap) -> None:
    """Tables of firing orders: an even-firing V6 has 240 in a bank, a flat four 360 a pair."""
    design = designs[name]
    assert group in design.collector.groups
    found = [math.degrees(angle) for _, angle in intervals(design.firing_order, group)]
    assert found == pytest.approx([gap] * len(group))
    assert sum(found) == pytest.approx(720)
    told = document(design, Facts(()))["collector"]["groups"]
    (row,) = [row for row in told if row["cylinders"] == list(group)]
    assert row["intervals_deg"] == pytest.approx([gap] * len(group))
    assert row["firing_order"] == [c for c in design.firing_order if c in group]


def test_pairs_of_the_flat_four_have_a_cylinder_in_each_bank(designs) -> None:
    design = designs["wexcombe-20-flat"]
    for tube in design.secondaries:
        banks = {head.name for head in design.heads if set(head.cylinders) & set(tube.cylinders)}
        assert banks == {"left", "right"}
        assert design.bank_of(tube) == ""
    assert {r.cylinder: design.bank_of(r) for r in design.runners} == {
        1: "right",
        2: "left",
        3: "right",
        4: "left",
    }


def test_collectors_are_mirrored_and_flanges_are_not(designs) -> None:
    left, right = (designs[f"oakhanger-30-{side}"] for side in ("left", "right"))

    def mirrored(point):
        return (point[0], point[1], -point[2])

    assert distance(mirrored(left.collector.outlet.origin), right.collector.outlet.origin) < 1e-9
    assert distance(mirrored(left.collector.outlet.z), right.collector.outlet.z) < 1e-12
    one, two = (_outline(design) for design in (left, right))
    middle = 0.5 * (one.bounds[0] + one.bounds[2])
    turned = scale(two, -1.0, 1.0, origin=(middle, 0.0))
    assert one.symmetric_difference(two).area > 50.0
    assert one.symmetric_difference(turned).area > 500.0
    # The window pattern is that of one casting.
    windows = [[p.frame.origin for p in design.ports] for design in (left, right)]
    gaps = [[math.dist(a, b) for a, b in pairwise(w)] for w in windows]
    assert gaps[0] == pytest.approx(gaps[1])


def _outline(design: Design) -> Polygon:
    (flat,) = design.head_flanges
    steps = np.linspace(0.0, 1.0, 24, endpoint=False)
    return Polygon([point_at(piece, f) for piece in flat.profile.outer for f in steps])


@pytest.mark.parametrize(("own", "other"), [("left", "right"), ("right", "left")])
def test_the_other_banks_flange_does_not_go_on_the_studs(designs, own, other) -> None:
    """Laid on this bank's studs, some hole of the other's flange misses its stud."""
    here, there = (designs[f"oakhanger-30-{side}"] for side in (own, other))
    studs = [(s.at[0], s.at[1]) for s in here.studs]

    def misses(design: Design) -> float:
        (flat,) = design.head_flanges
        play = {h.name: (h.diameter - 8.0) / 2.0 for h in flat.holes}
        return max(min(math.dist(h.at, s) for s in studs) - play[h.name] for h in flat.holes)

    assert misses(here) < 0.0
    assert misses(there) > 2.0


def test_the_other_banks_dxf_is_found_out(designs) -> None:
    left, right = (designs[f"oakhanger-30-{side}"] for side in ("left", "right"))
    files = {**dxf.export(left)}
    (name,), (other,) = files, dxf.export(right).items()
    assert not any(f.verdict is Verdict.FAIL for f in dxf_proof.prove(left, files))
    found = dxf_proof.prove(left, {name: other[1]})
    failed = {f.name for f in found if f.verdict is Verdict.FAIL}
    assert {"dxf-shape", "dxf-holes"} <= failed


def test_everything_says_its_bank(designs) -> None:
    for side in ("left", "right"):
        design = designs[f"oakhanger-30-{side}"]
        assert [f.name for f in design.head_flanges] == [f"head_flange_{side}"]
        assert all(f"_{side}_" in name for name in dxf.export(design))
        tables = bend_table_csv.export(design)
        for content in tables.values():
            rows = list(csv.DictReader(io.StringIO(content.decode())))
            assert {row["manifold"] for row in rows} == {
                f"oakhanger-30-{side}, {side} bank seen from the flywheel end"
            }
        tree = document(design, Facts(()))
        assert [head["bank"] for head in tree["heads"]] == [side]
        assert [head["seen_from"] for head in tree["heads"]] == ["flywheel"]
        row = {"left": [1, 3, 5], "right": [2, 4, 6]}[side]
        assert [head["front_to_flywheel"] for head in tree["heads"]] == [row]
        words = f"{side} bank seen from the flywheel end"
        told = f"{words}: cylinders {' '.join(map(str, row))}, front to flywheel"
        assert summary(design, ()).split("\n").count(told) == 1
        assert [flat.notes[0] for flat in design.head_flanges] == [told]
        assert {row["bank"] for row in tree["runners"]} == {side}
        assert {row["bank"] for row in tree["studs"]} == {side}
        assert tree["title"] == f"3-1 header, Oakhanger 3.0, {words}"


@pytest.mark.parametrize(
    ("title", "seen", "whole"),
    [
        ("Three into one", "flywheel", "Three into one, left bank seen from the flywheel end"),
        ("Three into one", None, "Three into one, left bank"),
        ("Left bank, short", "flywheel", "Left bank, short, seen from the flywheel end"),
        ("Left bank, short", None, "Left bank, short"),
        ("Left bank seen from the flywheel end", "flywheel", None),
        ("Left bank seen from the driver's seat", "flywheel", None),
    ],
)
def test_a_title_without_the_bank_and_its_end_gets_them(specs, title, seen, whole) -> None:
    said = edited(specs["oakhanger-30-left"], title=title)
    if seen is None:
        said = edited(said, engine={**said.engine.model_dump(by_alias=True), "banks": None})
    assert titled(said) == (whole or title)


def test_a_title_of_both_banks_gets_each_parts_own(specs) -> None:
    flat = edited(specs["wexcombe-20-flat"], title="Four")
    end = "seen from the flywheel end"
    assert [titled(flat), titled(flat, "left")] == [f"Four, banks {end}", f"Four, left bank {end}"]
    unsaid = edited(flat, engine={**flat.engine.model_dump(by_alias=True), "banks": None})
    assert [titled(unsaid), titled(unsaid, "left")] == ["Four", "Four, left bank"]


def test_both_flanges_of_a_flat_four_say_which_they_are(designs) -> None:
    design = designs["wexcombe-20-flat"]
    assert [f.name for f in design.head_flanges] == ["head_flange_right", "head_flange_left"]
    holes = [{hole.name for hole in flat.holes} for flat in design.head_flanges]
    assert holes == [
        {f"stud {c}{k}" for c in cylinders for k in "ab"} for cylinders in ((1, 3), (2, 4))
    ]


def test_a_manifold_on_heads_that_face_one_way_comes_off_whole(designs) -> None:
    design = designs["wexcombe-20-flat"]
    (found,) = removal.run(design)
    assert found.subject == "whole manifold"
    assert found.verdict is Verdict.PASS
    right, left = design.heads
    frame = Frame.facing(left.frame.origin, (0.0, -0.7, 0.7), left.frame.x)
    turned = replace(design, heads=(right, replace(left, frame=frame)))
    assert [f.subject for f in removal.run(turned)] == ["right bank", "left bank"]


def test_every_stud_of_both_heads_is_looked_at(designs) -> None:
    found = stud_access.run(designs["wexcombe-20-flat"])
    assert sorted(f.subject for f in found) == [f"stud {c}{k}" for c in (1, 2, 3, 4) for k in "ab"]


def test_an_obstacle_in_the_engines_frame_bars_the_studs_that_it_is_at(specs) -> None:
    """A box under stud 2a, by hand at (77, -69, 255) looking down."""
    spec = specs["wexcombe-20-flat"]
    box = {"name": "heat shield", "kind": "head", "gap": 0.0}
    box["box"] = {"from": [60, -130, 240], "to": [90, -98, 275]}
    said = [*(o.model_dump(by_alias=True) for o in spec.obstacles), box]
    reached = {p.stud for p in task(edited(spec, obstacles=said), None, {}).problem.places}
    before = {p.stud for p in task(spec, None, {}).problem.places}
    assert before - reached == {"2a"}


def test_tapes_may_be_hooked_on_the_studs_of_both_heads(demo_file) -> None:
    """Distances by Pythagoras from studs 1a, 1b, 2a, 4b where they stand in the engine."""
    studs = {
        "1a": (113, -68.8, -255),
        "1b": (53, -68.8, -195),
        "2a": (77, -68.8, 255),
        "4b": (250, -68.8, 195),
    }
    point = (400.0, -300.0, 60.0)
    tape = {name: math.dist(point, at) for name, at in studs.items()}
    text = demo_file.with_name("wexcombe-20-flat.yaml").read_text(encoding="utf-8")
    said = ", ".join(f"{name}: {length!r}" for name, length in tape.items())
    new = text.replace("at: [720, -290, 0]", f"at: {{tape: {{studs: {{{said}}}, side: out}}}}")
    assert new != text
    spec = load(new.encode(), "flat.yaml").required()
    assert distance(spec.collector.at, point) < 1e-6


def test_named_studs_of_two_heads_are_told_apart_by_bank(demo_file) -> None:
    text = demo_file.with_name("wexcombe-20-flat.yaml").read_text(encoding="utf-8")
    each = "at_each_port: [[-30, 30], [30, -30]]"
    named = text.replace(each, "at: [[-30, 30], [30, -30], [83, 30], [143, -30]]")
    point = (400.0, -300.0, 60.0)
    studs = {
        "right s1": (226, -68.8, -255),
        "left s1": (77, -68.8, 255),
        "left s4": (250, -68.8, 195),
    }
    said = ", ".join(f"{name}: {math.dist(point, at)!r}" for name, at in studs.items())
    new = named.replace("at: [720, -290, 0]", f"at: {{tape: {{studs: {{{said}}}}}}}")
    spec = load(new.encode(), "flat.yaml").required()
    assert distance(spec.collector.at, point) < 1e-6
    loose = load(new.replace("right s1:", "s1:").encode(), "flat.yaml")
    (problem,) = loose.problems
    assert problem.found == "stud s1"
    assert "right s1" in problem.allowed
