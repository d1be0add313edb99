"""Edges, lands and webs; distances worked by hand from the demo's numbers."""

import math
from dataclasses import replace

import pytest
from flat_demo import around, flange

from geomgen.checks import edge_and_web
from geomgen.errors import Verdict
from geomgen.profiles.convex import hull_of_circles
from geomgen.profiles.loops import Profile, slot


def by_kind(design):
    return {f.subject.split(" / ")[1]: f for f in edge_and_web.run(design)}


def test_the_demo_by_hand():
    found = by_kind(around(flange()))
    assert {f.verdict for f in found.values()} == {Verdict.PASS}
    # common practice, no source: 1.5 d from centre to edge
    assert found["hole to edge"].value == pytest.approx(1.5)
    assert found["window land"].value == pytest.approx(9.0)
    # pitch less the window's width: 92 - (45 + 2 * 1.65)
    assert found["window to window"].value == pytest.approx(92 - 48.3)
    assert found["window to window"].limit == pytest.approx(15.0)
    # stud (-32, 34) to the oval's left end centre (-4, 0), radius 18.5 + 1.65; hole 4.5
    assert found["hole to window"].value == pytest.approx(math.hypot(28, 34) - 20.15 - 4.5)
    # studs (32, -34) and (60, 34) a pitch on
    assert found["hole to hole"].value == pytest.approx(math.hypot(28, 68) - 9.0)
    assert found["inside corner"].value == pytest.approx(15.0)


@pytest.mark.parametrize(
    ("changes", "kind"),
    [
        ({"edge_factor": 1.6}, "hole to edge"),
        ({"land_min": 9.5}, "window land"),
        ({"web_ratio_plasma": 4.5}, "window to window"),
        ({"land_min": 20.0}, "hole to window"),
        ({"land_min": 65.0}, "hole to hole"),
        ({"corner_plasma": 16.0}, "inside corner"),
    ],
)
def test_each_kind_fails_on_its_own_limit(changes, kind):
    found = by_kind(around(flange(), **changes))
    assert found[kind].verdict is Verdict.FAIL
    assert found[kind].remedy


def test_cut_holes_need_the_web_and_drilled_ones_the_land():
    part = flange(process="laser", thread="M10")
    assert by_kind(around(part))["hole to window"].limit == pytest.approx(10.0)
    assert by_kind(around(flange(process="laser")))["hole to window"].limit == pytest.approx(5.0)


def test_a_hole_in_a_window_and_windows_in_one_another_fail():
    part = flange()
    sunk = replace(part, holes=(replace(part.holes[0], at=(0.0, 0.0)), *part.holes[1:]))
    found = by_kind(around(sunk))
    assert found["hole to window"].verdict is Verdict.FAIL
    assert found["hole to window"].value < 0
    swallowed = replace(part, windows=(slot(10, 8), *part.windows[1:], slot(45, 37)))
    swallowed = replace(swallowed, cylinders=(1, 2, 3, 4, 5))
    assert by_kind(around(swallowed))["window to window"].value == 0.0


def test_a_window_outside_the_plate_fails():
    part = flange(ports=2)
    lost = replace(part, profile=Profile(slot(40, 30), part.profile.holes))
    assert by_kind(around(lost))["window land"].verdict is Verdict.FAIL


def test_a_sharp_window_corner_is_an_inside_corner_of_no_radius():
    square = hull_of_circles([((x, y), 0.0) for x in (-20, 20) for y in (-15, 15)])
    part = flange(window="butt", loop=square)
    assert by_kind(around(part))["inside corner"].value == 0.0
