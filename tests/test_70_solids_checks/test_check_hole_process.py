"""Holes against plate and process."""

from dataclasses import replace

import pytest
from cut_plates import around as plates_around
from cut_plates import cut
from flat_demo import around, flange

from geomgen.checks import hole_process
from geomgen.design.cutting import Cutter
from geomgen.errors import Verdict


def test_marked_holes_warn_and_say_what_to_drill():
    found = hole_process.run(around(flange()))
    assert len(found) == 8
    assert {f.verdict for f in found} == {Verdict.WARN}
    assert found[0].value == pytest.approx(0.9)
    assert found[0].limit == 1.5
    assert found[0].remedy == "drill to 9.0 after cutting, see hole table"
    assert found[0].where == pytest.approx((-32.0, 34.0, 0.0))
    assert found[0].subject == "head_flange / stud 1a"


def test_holes_that_can_be_cut_pass():
    found = hole_process.run(around(flange(process="laser", thread="M10")))
    assert {f.verdict for f in found} == {Verdict.PASS}


def test_a_hole_that_would_be_burnt_fails():
    part = flange(ports=1)
    burnt = replace(part, holes=tuple(replace(h, how="cut") for h in part.holes))
    assert {f.verdict for f in hole_process.run(around(burnt))} == {Verdict.FAIL}


def test_the_limit_is_the_spec_s():
    part = flange(ports=1, cutter=Cutter(0.8, 0.8))
    found = hole_process.run(around(part, hole_ratio_plasma=0.8))
    assert {f.verdict for f in found} == {Verdict.PASS}
    found = hole_process.run(around(part, hole_ratio_plasma=0.95))
    assert {f.verdict for f in found} == {Verdict.FAIL}


def test_waterjet_has_a_floor_in_mm():
    part = flange(process="waterjet", thickness=3.0, ports=1)
    assert hole_process.run(around(part))[0].limit == pytest.approx(1.8 / 3.0)


def found_on(process, **holes):
    part = cut(process)
    part = replace(part, holes=tuple(replace(h, **holes.get(h.name[:5], {})) for h in part.holes))
    return {f.subject.split(" / ")[1]: f for f in hole_process.run(plates_around(part))}


def test_pilots_are_cut_where_the_process_holds_them():
    found = found_on("laser")
    verdicts = {name: str(f.verdict) for name, f in found.items()}
    # 10 mm as cut: a laser cuts 10 and more to size, pilots of 5 on; tapped and dowel never
    assert verdicts == {
        "stud 1a": "warn",
        "stud 1b": "pass",
        "stud 2a": "warn",
        "stud 2b": "pass",
        "tapped 1": "pass",
        "dowel 1": "pass",
    }
    assert "cut to 7.0" in found["stud 1a"].message
    assert found["stud 2a"].remedy.startswith("drill both ends and mill the slot 9.0 wide")
    # 6.8 less 1 mm all round is 4.8: below half the plate, so it is marked
    assert found["tapped 1"].remedy.startswith("drill 6.8 and tap M8")
    assert "centre mark only" in found["tapped 1"].message
    assert "cut to 12.0" in found["dowel 1"].message


def test_holes_that_must_not_be_cut_fail():
    found = found_on("laser", tappe={"how": "cut"}, dowel={"how": "cut"})
    assert found["tapped 1"].verdict is found["dowel 1"].verdict is Verdict.FAIL
    found = found_on("laser", dowel={"pilot": 13.0})
    assert "only 0.5 mm" in found["dowel 1"].message
    assert found["dowel 1"].verdict is Verdict.FAIL
    found = found_on("plasma", dowel={"pilot": 9.0})
    assert "pilot is too small" in found["dowel 1"].message
    assert found["dowel 1"].verdict is Verdict.FAIL


def test_the_pilot_is_the_largest_that_leaves_its_stock():
    for diameter in (6.6, 9.0, 11.0, 13.5):
        how, pilot = Cutter(1.5, 0.5, 1.0).made("clearance", diameter, 10.0)
        assert how == ("pilot" if diameter >= 7.0 else "mark")
        assert pilot == pytest.approx(diameter - 2.0 if diameter >= 7.0 else 0.0)
