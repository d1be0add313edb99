"""Pins, tacked tube and the shortest length, laid out for real and measured again."""

import csv
import io
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from geomgen.checks import run_all
from geomgen.design import lock as locks
from geomgen.design.laying import held as held_by
from geomgen.design.laying import task
from geomgen.design.model import CommonLength
from geomgen.design.resolve import NoRoute, resolve
from geomgen.design.standing import bend_part, place_of, straight_part
from geomgen.errors import SpecError, Verdict
from geomgen.exports import bend_table_csv
from geomgen.geometry.centreline import Bend, Straight
from geomgen.report import result_json
from geomgen.report.summary import summary
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load

NAMES = tuple(f"runner {i}" for i in (1, 2, 3, 4))
EXACT = 1e-9


@pytest.fixture(scope="module")
def spec(demo_file) -> HeaderSpec:
    return load(demo_file.read_bytes(), demo_file.name).required()


def said(spec: HeaderSpec, *, gap: float | None = None, **sections) -> HeaderSpec:
    tree = {**spec.model_dump(by_alias=True), **sections}
    if gap is not None:
        tree["limits"] = {**tree["limits"], "runner_gap": gap}
    return HeaderSpec.model_validate(tree)


def lengths_from_table(design) -> dict[str, float]:
    """Sum of straights and arcs of each runner, from the written bend table alone [mm]."""
    text = bend_table_csv.export(design)[bend_table_csv.LRA_FILE].decode()
    found: dict[str, float] = {}
    for row in csv.DictReader(io.StringIO(text)):
        arc = math.radians(float(row["angle_deg"])) * float(row["clr_mm"]) if row["clr_mm"] else 0.0
        found[row["part"]] = found.get(row["part"], 0.0) + float(row["straight_before_mm"]) + arc
    return found


def table_rows(design, part: str) -> list[dict[str, str]]:
    text = bend_table_csv.export(design)[bend_table_csv.LRA_FILE].decode()
    return [row for row in csv.DictReader(io.StringIO(text)) if row["part"] == part]


def assert_sound(design) -> None:
    """Every check but those that the demo's plate warns of, and the length from the table."""
    failing = [f for f in run_all(design) if f.verdict is Verdict.FAIL]
    assert failing == []
    tables = lengths_from_table(design)
    for runner in design.runners:
        account = runner.account
        rest = account.plate + account.transition + account.stub
        assert tables[f"runner_{runner.cylinder}"] + rest == pytest.approx(runner.target, abs=0.01)


def test_what_is_pinned_stands_and_the_rest_moves(spec, demo_resolved, demo_design) -> None:
    """Wider gaps, round a whole runner, a bend and a straight that must stay."""
    pins = [{"runner": 2}, {"runner": 3, "bend": 1}, {"runner": 4, "straight": 3}]
    found = resolve(said(spec, gap=7.0, pins=pins), demo_resolved.lock)
    assert found.solved
    one, two, three, four = (runner.path for runner in found.design.runners)
    was = [runner.path for runner in demo_design.runners]
    assert place_of(two, was[1], EXACT) is not None
    assert found.design.runners[1].slot == demo_design.runners[1].slot
    bend, straight = bend_part(was[2], 1), straight_part(was[3], 3)
    assert bend is not None
    assert straight is not None
    assert place_of(three, bend, EXACT) is not None
    assert place_of(four, straight, EXACT) is not None
    assert one != was[0]
    assert_sound(found.design)
    again = resolve(said(spec, gap=7.0, pins=pins), found.lock)
    assert not again.solved
    assert again.design == found.design


def test_pin_solve_pin_another(spec, demo_resolved, demo_design) -> None:
    first = resolve(said(spec, gap=9.0, pins=[{"runner": 3, "bend": 1}]), demo_resolved.lock)
    part = bend_part(demo_design.runners[2].path, 1)
    assert part is not None
    path = first.design.runners[2].path
    assert place_of(path, part, EXACT) is not None
    # The next pins count as the new layout does.
    (index,) = place_of(path, part, EXACT) or ()
    number = sum(isinstance(piece, Bend) for piece in path.pieces[: index + 1])
    pins = [{"runner": 3, "bend": number}, {"runner": 1}]
    second = resolve(said(spec, gap=12.0, pins=pins), first.lock)
    assert place_of(second.design.runners[2].path, part, EXACT) is not None
    assert place_of(second.design.runners[0].path, first.design.runners[0].path, EXACT) is not None
    third = resolve(said(spec, gap=6.0, pins=pins), second.lock)
    assert place_of(third.design.runners[2].path, part, EXACT) is not None
    assert_sound(third.design)


@pytest.mark.parametrize("runner", [1, 2])
def test_what_was_tacked_is_the_beginning_to_the_last_digit(
    spec, demo_resolved, demo_design, runner
) -> None:
    """The demo's own first pieces as a shop might have made them: a little off."""
    straight, bend = demo_design.runners[runner - 1].path.pieces[:2]
    tacked = [
        {"straight": round(straight.length + 1.4, 1)},
        {
            "bend": 67.5,
            "angle": round(math.degrees(bend.angle) - 1.3, 1),
            "clock": round(math.degrees(bend.roll) + 1.7, 1),
        },
        {"straight": 20.5},
    ]
    bench = [{"runner": runner, "tacked": tacked}]
    found = resolve(said(spec, bench=bench), demo_resolved.lock)
    assert found.solved
    path = found.design.runners[runner - 1].path
    assert path.pieces[0] == Straight(tacked[0]["straight"])
    made = Bend(67.5, math.radians(tacked[1]["angle"]), math.radians(tacked[1]["clock"]))
    assert path.pieces[1] == made
    assert isinstance(path.pieces[2], Straight)
    assert path.pieces[2].length >= 20.5
    assert f"straight: {tacked[0]['straight']!r}}}" in found.lock
    assert f"angle: {tacked[1]['angle']!r}, roll: {tacked[1]['clock']!r}}}" in found.lock
    row = table_rows(found.design, f"runner_{runner}")[0]
    assert float(row["straight_before_mm"]) == pytest.approx(tacked[0]["straight"], abs=1e-6)
    assert float(row["angle_deg"]) == pytest.approx(tacked[1]["angle"], abs=1e-5)
    assert_sound(found.design)


def test_the_first_clock_shows_in_the_points_of_the_bend_table(spec, demo_resolved) -> None:
    """From the written XYZ table: the second leg turns off to where the clock says."""
    bench = [
        {"runner": 2, "tacked": [{"straight": 146}, {"bend": 67.5, "angle": 104, "clock": -72}]}
    ]
    found = resolve(said(spec, bench=bench), demo_resolved.lock)
    text = bend_table_csv.export(found.design)[bend_table_csv.XYZ_FILE].decode()
    rows = [r for r in csv.DictReader(io.StringIO(text)) if r["part"] == "runner_2"]
    points = np.array([[float(r[f"{axis}_mm"]) for axis in "xyz"] for r in rows])
    leg = points[2] - points[1]
    assert math.degrees(math.atan2(leg[1], leg[0])) == pytest.approx(-72.0, abs=1e-4)
    turn = math.degrees(math.acos(leg[2] / np.linalg.norm(leg)))
    assert turn == pytest.approx(104.0, abs=1e-4)


def test_a_tacked_bend_that_nobody_stocks_warns(spec, demo_resolved) -> None:
    tacked = [{"straight": 146}, {"bend": 70, "angle": 104, "clock": -73}]
    found = resolve(said(spec, bench=[{"runner": 2, "tacked": tacked}]), demo_resolved.lock)
    told = [f for f in run_all(found.design) if f.name == "bends-on-shelf"]
    assert [f.verdict for f in told] == [Verdict.PASS, Verdict.WARN, Verdict.PASS, Verdict.PASS]
    assert_sound(found.design)


def test_what_cannot_be_finished_is_refused_at_once(spec, demo_resolved) -> None:
    """560 mm straight out of the head: what is left is shorter than the way to any slot."""
    bench = [{"runner": 2, "tacked": [{"straight": 560}]}]
    with pytest.raises(SpecError) as caught:
        resolve(said(spec, bench=bench), demo_resolved.lock)
    (complaint,) = caught.value.problems
    assert complaint.path == ("bench", 0, "tacked")
    left, needed = (
        float(re.search(r"([\d.]+) mm (of tube|are left)", text)[1])
        for text in (complaint.found.split("leave ")[1], complaint.allowed)
    )
    # As the crow flies alone, from where the straight ends to the nearest slot.
    problem = demo_resolved.design.problem
    end = problem.edges[1].start.moved(560.0).origin
    crow = min(math.dist(end, slot.origin) for slot in problem.slots)
    assert left == pytest.approx(problem.edges[1].length - 560.0, abs=0.05)
    assert needed >= crow > left


def test_the_length_found_is_taken_from_the_lock(spec, demo_resolved, demo_design) -> None:
    """The demo's own layout as the answer to shortest: a build does not look for it again."""
    tree = spec.model_dump(by_alias=True)
    wanted = said(spec, runners={**tree["runners"], "length": "shortest"})
    held = locks.read(demo_resolved.lock, NAMES)
    assert held is not None
    found = demo_design.runners[0].target
    inputs = task(wanted, None, {}).inputs
    lock = replace(held, inputs=inputs, length=CommonLength(found, 600.25))
    text = locks.write(lock, NAMES)
    assert f"shortest: {{found: {found!r}, bound: 600.25}}" in text
    again = resolve(wanted, text)
    assert not again.solved
    assert again.design.shortest == CommonLength(found, 600.25)
    assert [runner.target for runner in again.design.runners] == [found] * 4
    assert [runner.path for runner in again.design.runners] == [r.path for r in demo_design.runners]
    assert (
        task(said(spec, runners={**tree["runners"], "length": 1000.0}), None, {}).inputs != inputs
    )
    shown = summary(again.design, ())
    assert "found 670.20 mm; bound 600.25 mm, which no layout beats" in shown
    document = result_json.document(again.design, result_json.Facts(()))
    assert document["shortest"] == {"found_mm": found, "bound_mm": 600.25}
    # A lock that found no length, or a bound above what was found, answers another question.
    for odd in (None, CommonLength(found, 671.0)):
        text = locks.write(replace(lock, length=odd), NAMES)
        assert held_by(task(wanted, text, {}), text) is None


def test_the_shortest_common_length_is_found_above_its_bound(spec) -> None:
    tree = spec.model_dump(by_alias=True)
    heads = [{**tree["heads"][0], "cylinders": [1, 4]}]  # two runners: few to move together
    outlet = {**tree["collector"]["outlet"], "od": 57.0}
    spec = said(spec, heads=heads, collector={**tree["collector"], "outlet": outlet})
    wanted = said(spec, runners={**tree["runners"], "length": "shortest"})
    found = resolve(wanted)
    design = found.design
    assert design.shortest is not None
    assert design.tuning.rule == "shortest"
    length, bound = design.shortest.found, design.shortest.bound
    assert bound <= length < 670.0
    assert [runner.target for runner in design.runners] == [length] * 2
    assert_sound(design)
    # The floor that a plain length below the bound is refused with says the same.
    below = said(spec, runners={**tree["runners"], "length": bound - 1.0})
    with pytest.raises(NoRoute):
        resolve(below)
    again = resolve(wanted, found.lock)
    assert not again.solved
    assert again.design == design
    held = locks.read(found.lock, ("runner 1", "runner 4"))
    assert held is not None
    assert held.length == design.shortest
