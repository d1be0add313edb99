"""Attachments in whole designs: any family, locks that hold, tables that know of steps."""

import csv
import io
import math
import re
from pathlib import Path

import pytest

from geomgen.design.attaching import with_attachments
from geomgen.design.fixed import fixed_parts, laid_out
from geomgen.design.joints import welded
from geomgen.design.lock import fingerprint
from geomgen.design.model import Design
from geomgen.design.resolve import resolve
from geomgen.errors import SpecError
from geomgen.exports import bend_table_csv
from geomgen.geometry.centreline import Straight
from geomgen.geometry.frames import distance
from geomgen.recipe.nodes import Fuse, parts_of
from geomgen.routing import stations
from geomgen.solids.build import build
from geomgen.solids.measure import volume
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"


def text(name: str) -> str:
    return (SPECS / f"{name}.yaml").read_text(encoding="utf-8")


def read(said: str):
    return load(said, "x.yaml").required()


@pytest.fixture(scope="module")
def stepped() -> Design:
    lock = (SPECS / "brackenhall-20-stepped.lock.yaml").read_text(encoding="utf-8")
    return resolve(read(text("brackenhall-20-stepped")), lock).design


def bare(said: str) -> str:
    """A spec without its attachments."""
    return re.sub(r"(?m)^attachments:.*\n(?: .*\n|\n)*", "", said)


def with_(said: str, *rows: str) -> str:
    """A spec with these attachments, and no others."""
    block = "attachments:\n" + "".join(f"  - {row}\n" for row in rows)
    return bare(said).replace("tools:\n", block + "\ntools:\n", 1)


BUNG = "{kind: bung, name: o2, use: oxygen, at: 150, toward: [0, 1, 0.6]}"
EGT = "{kind: bung, name: egt, use: egt, on: runners, at: 80}"
FLEX = "{kind: flex, length: 90, od: 82, tail: 80}"
SLIP = "{kind: end, form: slip}"
RING = (
    "{kind: end, form: vband, ring: {kind: vband, name: ring, thickness: 14, "
    'material: "304", od: 84}}'
)


def key(said: str) -> str:
    spec = read(said)
    fixed = fixed_parts(spec)
    return fingerprint(spec, fixed.targets, {}, fixed.plates.envelopes)


def test_a_lock_holds_for_whatever_no_runner_has_to_know_of():
    plain = text("brackenhall-20-sprint")
    assert "attachments" not in plain
    lock = (SPECS / "brackenhall-20-sprint.lock.yaml").read_text(encoding="utf-8")
    assert f"inputs: {key(plain)}\n" in lock
    assert key(with_(plain, EGT)) == key(plain)
    others = [key(with_(plain, row)) for row in (BUNG, FLEX, SLIP)]
    assert len({key(plain), *others}) == 4


def test_a_lock_does_not_hold_for_other_steps():
    said = text("brackenhall-20-stepped")
    assert key(said) != key(said.replace("to: 260", "to: 270"))


def test_a_lock_knows_how_far_steps_may_stand_off_and_not_what_comes_of_it():
    said = text("brackenhall-20-stepped")
    assert "    within: 3 " in said
    plain = said.replace("    within: 3 ", "    # ")
    assert key(plain) == key(said.replace("within: 3 ", "within: 15 ")) != key(said)
    by_limit = plain.replace("\nlimits:\n", "\nlimits:\n  step_moved: 3\n")
    assert by_limit != plain
    assert key(by_limit) == key(said)
    assert key(said.replace("within: 3 ", "must: true\n    within: 3 ")) == key(said)


@pytest.mark.parametrize(
    ("name", "places"),
    [
        ("brackenhall-20-stepped", (260.0, 500.0)),
        ("larkfield-18-pairs", (200.0,)),
        ("thornby-12-triple", (230.0, 455.0)),
    ],
)
def test_steps_stand_at_the_same_place_on_every_cylinder(name, places):
    lock = (SPECS / f"{name}.lock.yaml").read_text(encoding="utf-8")
    made = resolve(read(text(name)), lock)
    assert not made.solved
    design = made.design
    tubes = tuple(tube.path for tube in design.tubes)
    off = stations.moved(design.problem, tubes)
    for runner, asked in zip(design.runners, off, strict=False):
        at, middles = runner.account.plate + runner.account.transition, []
        for section in runner.sections:
            if section.is_step:
                assert all(isinstance(piece, Straight) for piece in section.path.pieces)
                middles.append(at + section.path.length / 2.0)
            at += section.path.length
        assert middles == pytest.approx(places, abs=3.0)
        # what the router saw is what came of it
        found = [abs(a - b) for a, b in zip(middles, places, strict=True)]
        assert found == pytest.approx(asked, abs=1e-6)
    assert not any(off[len(design.runners) :])


def test_runners_keep_clear_of_what_is_attached():
    plain = fixed_parts(read(text("brackenhall-20-sprint"))).layout
    fixed = fixed_parts(read(with_(text("brackenhall-20-sprint"), BUNG, FLEX)))
    new = [bar for bar in fixed.layout.envelopes if bar not in plain.envelopes]
    assert [bar.name for bar in new] == ["flex", "flex_tail", "o2"]
    # No tube's last straight is spared.
    assert all(bar.takes == (-1,) for bar in new)
    assert distance(plain.outlet.origin, fixed.layout.outlet.origin) == pytest.approx(170.0)
    (scroll,) = fixed.layout.scrolls
    assert scroll.outlets[0].point == fixed.layout.outlet.origin


def test_a_plate_at_the_outlet_stands_behind_the_flex_joint():
    fixed = fixed_parts(read(with_(text("brackenhall-20-sprint"), RING, FLEX)))
    (flat,) = fixed.plates.flats
    # A tube in a socket ends 2 mm short of the gasket face.
    assert distance(flat.frame.origin, fixed.layout.outlet.origin) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("name", "rows", "path"),
    [
        ("brackenhall-20-sprint", (SLIP, SLIP), ("attachments", 1, "kind")),
        ("brackenhall-20-sprint", (BUNG, BUNG), ("attachments", 1, "name")),
        ("dunmore-16-cast", (BUNG,), ("attachments", 0)),
        (
            "dunmore-16-log",
            ("{kind: steps, sizes: [{od: 38, wall: 2, to: 80}]}",),
            ("attachments", 0),
        ),
        (
            "brackenhall-20-sprint",
            ("{kind: wastegate, name: g, on: runners, od: 38, wall: 2}",),
            ("attachments", 0, "on"),
        ),
        (
            "brackenhall-20-sprint",
            ("{kind: bung, name: cone, use: oxygen}",),
            ("attachments", 0),
        ),
        (
            "brackenhall-20-sprint",
            ("{kind: bung, name: o2, use: oxygen, on: cone}",),
            ("attachments", 0, "on"),
        ),
        (
            "brackenhall-20-sprint",
            ("{kind: support, name: s, on: runner 1, at: 1}",),
            ("attachments", 0, "at"),
        ),
        (
            "brackenhall-20-sprint",
            ("{kind: bung, name: tube_1, use: oxygen}",),
            ("attachments", 0),
        ),
        (
            "brackenhall-20-sprint",
            (EGT, "{kind: bung, name: egt_2, use: egt, on: runner 3, at: 140}"),
            ("attachments", 1),
        ),
        (
            "brackenhall-20-sprint",
            (RING, "{kind: support, name: s, at: 236}"),
            ("attachments", 0, "ring", "thickness"),
        ),
        (
            # a 16 mm boss reaches to 243 of 271 mm, and the next pipe goes 40 mm over them
            "brackenhall-20-sprint",
            (SLIP, "{kind: bung, name: p, use: pressure, at: 235}"),
            ("attachments", 0, "slip", "overlap"),
        ),
        (
            "skelby-16-stubs",
            (SLIP,),
            ("attachments", 0, "kind"),
        ),
    ],
)
def test_what_does_not_go_together_is_refused(name, rows, path):
    loaded = load(with_(text(name), *rows), "x.yaml")
    if loaded.problems:
        assert loaded.problems[0].path == path
        return
    file = SPECS / f"{name}.lock.yaml"
    with pytest.raises(SpecError) as error:
        resolve(loaded.required(), file.read_text(encoding="utf-8") if file.exists() else None)
    assert error.value.problems[0].path == path


def test_a_ring_stands_clear_of_a_bracket_by_what_it_takes_of_the_pipe():
    """14 mm of ring, 2 of them before the tube's end; 30 mm of doubler behind the bracket."""
    plain = fixed_parts(read(text("brackenhall-20-sprint"))).layout
    outlet = next(bar.path.length for bar in plain.envelopes if bar.name == "outlet")
    said = "{kind: support, name: s, at: AT}"
    clear, over = (said.replace("AT", str(outlet - 30.0 - off)) for off in (12.01, 11.99))
    fixed_parts(read(with_(text("brackenhall-20-sprint"), RING, clear)))
    with pytest.raises(SpecError, match="where s ends"):
        fixed_parts(read(with_(text("brackenhall-20-sprint"), RING, over)))


def test_attachments_are_put_on_in_the_order_of_their_kinds(stepped):
    spec = read(with_(text("brackenhall-20-sprint"), SLIP, FLEX))
    fixed = fixed_parts(spec)
    names = [piece.name for piece in fixed.layout.pieces]
    assert names.index("flex") < names.index("tab_1")
    again = laid_out(spec, fixed.asked)
    assert [piece.name for piece in again.pieces] == names
    assert with_attachments(read(text("brackenhall-20-sprint")), fixed.asked, again) == again
    assert stepped.attachments


def test_a_stepped_runner_has_its_length_and_its_parts(stepped):
    names = [part.name for part in parts_of(stepped.assembly)]
    for runner in stepped.runners:
        n = runner.cylinder
        assert runner.account.total == pytest.approx(670.20, abs=0.01)
        assert math.fsum(s.path.length for s in runner.sections) == pytest.approx(
            runner.account.tube, abs=1e-9
        )
        assert runner.tube_parts == (
            f"tube_{n}a", f"step_{n}a", f"tube_{n}b", f"step_{n}b", f"tube_{n}c",
        )  # fmt: skip
        assert set(runner.tube_parts) <= set(names)
        # Window and transition are the first size's.
        assert 2.0 * runner.entry_inner == pytest.approx(42.0)
        assert runner.transition.areas[-1].area == pytest.approx(math.pi / 4.0 * 42.0**2)
        steps = [row for row in runner.areas if "step" in row.what]
        bores = [2.0 * math.sqrt(row.area / math.pi) for row in steps]
        assert bores == pytest.approx([42.0, 45.0, 45.0, 48.0])
        at = [row.station for row in steps]
        assert at == sorted(at)
        assert at[1] - at[0] == pytest.approx(20.0)


def test_each_bend_is_listed_in_the_size_that_it_is_in(stepped):
    rows = list(
        csv.DictReader(io.StringIO(bend_table_csv.export(stepped)["bend_table_lra.csv"].decode()))
    )
    for runner in stepped.runners:
        own = [r for r in rows if r["part"] == f"runner_{runner.cylinder}" and r["bend"] != "end"]
        placed = []
        for section in runner.sections:
            placed += [2.0 * section.outer[0]] * len(section.path.bends)
        assert [float(row["od_mm"]) for row in own] == pytest.approx(placed)


def test_expanders_are_welded_at_both_ends(stepped):
    for runner in stepped.runners:
        joints = [joint for joint in welded(stepped, runner) if joint.what]
        assert len(joints) == 4
        for joint in joints:
            assert joint.before >= -1e-9
            assert joint.behind >= -1e-9
        one, two = joints[:2]
        assert one.straight == two.straight
        assert two.before - one.before == pytest.approx(20.0)
        legs = [0.0]
        for piece in runner.path.pieces:
            if hasattr(piece, "radius"):
                legs.append(0.0)
            else:
                legs[-1] += piece.length
        for joint in welded(stepped, runner):
            assert joint.before + joint.behind == pytest.approx(legs[joint.straight], abs=1e-9)


def test_a_hole_for_a_sensor_is_no_gas(stepped):
    (gas,) = stepped.gases
    assert isinstance(gas.node, Fuse)
    assert {face.name for face in gas.faces} == {*(f"INLET_{n}" for n in range(1, 5)), "OUTLET"}
    plain = sum(runner.tube_gas for runner in stepped.runners)
    frustums = 0.0
    for runner in stepped.runners:
        for section in runner.sections:
            a, b = section.inner
            mean = (a * a + a * b + b * b) / 3.0
            frustums += math.pi * mean * section.path.length
    assert plain == pytest.approx(frustums)


def test_a_log_with_attachments_still_says_what_it_comes_to():
    """Volumes against the kernel's own, piece by piece; with holes, brackets, tail and tabs."""
    rows = (
        "{kind: flex, length: 80, od: 76, tail: 120}",
        SLIP,
        "{kind: bung, name: p, use: pressure, on: log, at: 165}",
        "{kind: support, name: s, on: outlet, at: 24, doubler_length: 30, bracket_width: 20}",
    )
    said = with_(text("dunmore-16-log").replace("    length: 75\n", "    length: 60\n"), *rows)
    layout = fixed_parts(read(said)).layout
    assert layout.amounts is not None
    metal = sum(volume(build(piece.node)) for piece in layout.pieces)
    assert sum(v for _, v in layout.amounts.metal) == pytest.approx(metal, rel=1e-6)
    gas = sum(volume(build(node)) for scroll in layout.scrolls for node in scroll.gas)
    assert layout.amounts.gas == pytest.approx(gas, rel=1e-6)


def test_a_boss_on_a_runner_counts_with_the_rest():
    egt = "{kind: bung, name: egt, use: egt, on: runner 1, at: 52, od: 12, height: 10}"
    said = bare(text("dunmore-16-log")).replace("{length: 35}", "{length: 30}")
    made = [resolve(read(one)).design for one in (said, with_(said, egt))]
    plain, bossed = (dict(design.collector.facts) for design in made)
    (boss,) = (part for part in parts_of(made[1].assembly) if part.name == "egt")
    tubes = [
        next(part.node for part in parts_of(design.assembly) if part.name == "tube_1")
        for design in made
    ]
    more = volume(build(boss.node)) + volume(build(tubes[1])) - volume(build(tubes[0]))
    assert bossed["metal_volume_cc"] - plain["metal_volume_cc"] == pytest.approx(
        more / 1000.0, rel=1e-5
    )
    assert bossed["gas_volume_cc"] == plain["gas_volume_cc"]
