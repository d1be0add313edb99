"""Window fit against the process, both ways; hot growth against the holes, both ways."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest
from flat_demo import OVAL, around, flange, flanges, wanted

from geomgen.checks import hot_growth, window_fit, window_perimeter
from geomgen.design.growth import HotGrowth
from geomgen.errors import Verdict
from geomgen.profiles.loops import bounding_box, perimeter


@pytest.mark.parametrize(
    ("process", "thickness", "changes", "verdict", "words"),
    [
        ("plasma", 10.0, {}, "warn", "cut 0.9 mm small over both sides"),
        # over 10 mm class 2 is 1.8 mm wide: 1.95 a side is to be ground away
        ("plasma", 12.7, {"file_most": 1.5}, "fail", "finer process"),
        ("laser", 10.0, {}, "warn", "file up to 0.2 mm a side"),
        ("waterjet", 10.0, {}, "warn", "as drawn"),
        ("laser", 10.0, {"window_tolerance": 0.1, "window_taper": 0.04}, "pass", ""),
        ("plasma", 20.0, {}, "warn", "window_tolerance"),
    ],
)
def test_fit_by_process(process, thickness, changes, verdict, words):
    part = flange(process=process, thickness=thickness, ports=1)
    (found,) = window_fit.run(around(part, **changes))
    assert found.verdict.value == verdict
    assert words in found.remedy
    assert (found.remedy == "") == (verdict == "pass")


def test_facing_stock_counts_as_thickness():
    (thin,) = window_fit.run(around(flange(ports=1, process="plasma")))
    (thick,) = window_fit.run(around(flange(ports=1, process="plasma", facing=2.0)))
    # class 2: 1.3 in 10 mm, 1.8 in 12
    assert thin.value - thick.value == pytest.approx(0.5 + 2 * 0.02)


def test_a_window_drawn_far_too_wide_fails_however_it_is_cut():
    (found,) = window_fit.run(around(flange(ports=1, process="waterjet", fit=30.0)))
    assert found.verdict is Verdict.FAIL
    assert "make the fit smaller" in found.remedy


def test_a_leaning_tube_leaves_its_square_cut_window_open():
    # by hand: 10 mm of plate at 1 in 4 go 2.5 mm aside; a quarter of 1.5 can be welded
    asked = wanted(ports=1, directions=[(0.25, 0.0, 1.0)])
    part = flange(ports=1, directions=((0.25, 0.0, 1.0),), process="laser")
    design = SimpleNamespace(**{**vars(around(part)), "ports": asked.ports})
    _, found = window_fit.run(design)
    assert found.verdict is Verdict.WARN
    assert found.value == pytest.approx(2.5 + 0.15)
    assert found.limit == pytest.approx(0.375)
    # measured on the window: the tube's section on the face is 48.3 / cos lean wide
    box, tube = bounding_box(part.windows[0]), 48.3 / math.cos(math.atan(0.25))
    assert box.width - tube == pytest.approx(2.5, abs=0.05)
    straight = SimpleNamespace(**{**vars(design), "ports": wanted(ports=1).ports})
    assert len(window_fit.run(straight)) == 1


def test_butt_windows_take_no_tube():
    assert window_fit.run(around(flange(window="butt", ports=1))) == ()


def test_the_note_on_the_part_says_what_the_check_says():
    fits = window_fit.fit_of(
        flange(ports=1).windows[0],
        fit=0.3,
        wall=1.5,
        process="plasma",
        thickness=10.0,
        limit=around(flange(ports=1)).limits.__getitem__,
    )
    part = flange(ports=1, fits=(fits,))
    (found,) = window_fit.run(around(part))
    assert found.remedy in part.notes
    assert any("small side of the taper to the gasket face" in note for note in part.notes)


# growth


def grown(part, **said):
    design = around(part)
    return hot_growth.run(SimpleNamespace(**{**vars(design), **said}))


def test_the_demo_s_opened_holes_let_it_grow():
    part = flange(growth=HotGrowth())
    found = grown(part)
    assert len(found) == 7  # all but the register
    assert {f.verdict for f in found} == {Verdict.PASS}
    by_stud = {f.subject.split("stud ")[1]: f for f in found}
    # stud 4b is 184 mm from the register, 2b: 17.6e-6 x 400 - 21e-6 x 80 of it
    assert by_stud["4b"].limit == pytest.approx(184 * (17.6e-6 * 400 - 21e-6 * 80), rel=1e-6)


def test_holes_that_were_not_opened_fail_unless_the_spec_says_no():
    plain = flange()
    found = grown(plain)
    # from the middle, 138: stud 1a is 170 along and 34 up, and 0.5 mm is all it has
    assert {f.verdict for f in found} == {Verdict.PASS, Verdict.FAIL}
    worst = max(found, key=lambda f: f.limit - f.value)
    assert worst.value == pytest.approx(0.5)
    strain = 17.6e-6 * 400 - 21e-6 * 80
    assert worst.limit == pytest.approx(strain * math.hypot(170, 34), rel=1e-6)
    assert worst.remedy
    said_no = grown(plain, growth=HotGrowth(wanted=False))
    assert {f.verdict for f in said_no} == {Verdict.PASS, Verdict.WARN}


def test_a_hole_that_is_too_small_by_a_hair_fails():
    part = flange(growth=HotGrowth())
    tight = replace(part.holes[-1], diameter=8.0 + 2 * 0.98)
    found = grown(replace(part, holes=(*part.holes[:-1], tight)))
    assert [f.verdict for f in found].count(Verdict.FAIL) == 1


def test_short_flanges_and_single_pieces_have_room():
    assert {f.verdict for f in grown(flange(ports=2))} <= {Verdict.PASS, Verdict.WARN}
    parts = flanges(outline="separate", land=8.0)
    design = around(*parts)
    found = hot_growth.run(design)
    assert len(found) == 8
    assert {f.verdict for f in found} == {Verdict.PASS}


def test_an_unknown_grade_is_said():
    (found,) = grown(flange(material="4130"))
    assert found.verdict is Verdict.WARN
    assert "flange.growth.expansion" in found.remedy


# leaning ports


def test_a_leaning_window_is_judged_by_its_tube():
    direction = (0.0, -0.5, 1.0)
    part = flange(ports=1, directions=[direction])
    ports = wanted(ports=1, directions=[direction]).ports
    design = SimpleNamespace(**{**vars(around(part)), "ports": ports})
    (found,) = window_perimeter.run(design)
    tube = perimeter(OVAL) + math.tau * 1.5
    assert found.value == pytest.approx(100 * (tube / (45 * math.pi) - 1), abs=1e-9)
    assert found.verdict is Verdict.PASS
