"""Holes against plate and process."""

from dataclasses import replace

import pytest
from flat_demo import around, flange

from geomgen.checks import hole_process
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
    part = flange(ports=1, hole_ratio=0.8)
    found = hole_process.run(around(part, hole_ratio_plasma=0.8))
    assert {f.verdict for f in found} == {Verdict.PASS}
    found = hole_process.run(around(part, hole_ratio_plasma=0.95))
    assert {f.verdict for f in found} == {Verdict.FAIL}


def test_waterjet_has_a_floor_in_mm():
    part = flange(process="waterjet", thickness=3.0, ports=1)
    assert hole_process.run(around(part))[0].limit == pytest.approx(1.8 / 3.0)
