"""Port to round: length chosen by us, roof in line, walls and areas, for every port shape."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.checks import area_continuity, transition_length, transition_wall
from geomgen.design.model import Port
from geomgen.design.transitions import shortest_length, transition
from geomgen.errors import Verdict
from geomgen.geometry.frames import Frame
from geomgen.ports import dee, rectangle
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Arc, area, bounding_box, circle, placed, slot
from geomgen.spec.limits import Limits
from geomgen.spec.load import load
from geomgen.spec.runners import Transition as Said

OUTER, INNER = 22.5, 21.0


def kidney():
    """A slot of width 24 bent round a circle of radius 40."""
    half, down = 0.5, -math.pi / 2
    ends = [(40 * math.cos(down + s * half), 40 * math.sin(down + s * half)) for s in (1, -1)]
    loop = (
        Arc((0.0, 0.0), 52.0, down - half, 2 * half),
        Arc(ends[0], 12.0, down + half, math.pi),
        Arc((0.0, 0.0), 28.0, down + half, -2 * half),
        Arc(ends[1], 12.0, down - half + math.pi, math.pi),
    )
    return placed(loop, (0.0, 40.0))


SHAPES = {
    "round": circle((0.0, 0.0), 20.0),
    "oval": slot(45.0, 37.0),
    "upright oval": slot(34.0, 46.0),
    "rectangle": rectangle.loop(
        rectangle.Spec(shape="rectangle", width=42, height=32, corner_radii=[5, 8, 6, 9])
    ),
    "d": dee.loop(dee.Spec(shape="d", width=42, height=34, corner_radius=6)),
    "flat d": dee.loop(
        dee.Spec(shape="d", width=30, height=42, corner_radius=5, flat="left", arc_radius=30)
    ),
    "kidney": kidney(),
}


def made(loop, length=45.0, **said):
    return transition(Port(1, Frame(), loop, "any"), OUTER, INNER, 10.0, 2.0, length, **said)


def design(blend, **limits):
    runner = SimpleNamespace(cylinder=1, transition=blend, entry_outer=OUTER, entry_inner=INNER)
    return SimpleNamespace(
        runners=(runner,),
        transitions=((1, blend),),
        limits={**Limits().model_dump(), **limits},
        collector=SimpleNamespace(areas=blend.areas[-1:]),
    )


def judged(check, blend, **limits):
    return next(f for f in check.run(design(blend, **limits)) if f.subject == "runner 1")


def steepest(blend, count=400):
    """Farthest that a ruling goes aside, straight from points of both loops."""
    near, far = blend.bore
    return max(
        math.dist(point_at(a, i / count), point_at(b, i / count))
        for a, b in zip(near, far, strict=True)
        for i in range(count + 1)
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_roof_is_in_line_walls_are_measured_and_no_area_is_lost(shape):
    loop = SHAPES[shape]
    blend = made(loop)
    near, far = blend.bore
    assert bounding_box(far).top == pytest.approx(bounding_box(loop).top, abs=1e-9)
    assert area(near) == pytest.approx(area(loop), rel=1e-9)
    assert math.tan(blend.wall_angle) * 45.0 == pytest.approx(steepest(blend), rel=1e-5)
    least = min(station.area for station in blend.areas)
    assert least >= min(area(loop), math.pi * INNER**2) - 1e-6
    assert judged(area_continuity, blend).verdict is Verdict.PASS


@pytest.mark.parametrize("shape", SHAPES)
def test_auto_is_the_shortest_whole_mm_that_keeps_the_wall(shape):
    loop = SHAPES[shape]
    length = shortest_length(loop, INNER, math.radians(15.0), 31.5, 67.5)
    assert length == int(length)
    assert 32.0 <= length <= 67.0
    blend = made(loop, length, chosen=True)
    if blend.wall_angle > math.radians(15.0):
        assert length == 67.0
        finding = judged(transition_wall, blend)
        assert finding.verdict is Verdict.FAIL
        assert "longest that auto takes" in finding.message
        assert "tube" in finding.remedy
        return
    assert judged(transition_wall, blend).verdict is Verdict.PASS
    assert length == 32.0 or made(loop, length - 1.0).wall_angle > math.radians(15.0)
    assert judged(transition_length, blend).verdict is Verdict.PASS


@settings(max_examples=30)
@given(st.floats(25, 70), st.floats(25, 60), st.floats(3, 40), st.floats(20, 40))
def test_auto_by_hand_for_ovals(width, height, limit, least):
    loop = slot(width, height)
    length = shortest_length(loop, INNER, math.radians(limit), least, 2 * least)
    needed = steepest(made(loop)) / math.tan(math.radians(limit))
    wanted = max(math.ceil(least - 1e-9), min(math.ceil(needed - 1e-4), math.floor(2 * least)))
    assert length == wanted or abs(needed - round(needed)) < 1e-3


def test_a_port_that_no_usual_length_suits_is_told_so():
    loop = slot(90.0, 30.0)
    length = shortest_length(loop, INNER, math.radians(15.0), 31.5, 67.5)
    assert length == 67.0
    finding = judged(transition_wall, made(loop, length, chosen=True))
    assert finding.verdict is Verdict.FAIL
    assert "longest that auto takes" in finding.message


@pytest.mark.parametrize(("length", "verdict"), [(30, "warn"), (45, "pass"), (70, "warn")])
def test_lengths_out_of_the_usual_warn(length, verdict):
    finding = judged(transition_length, made(SHAPES["oval"], float(length)))
    assert finding.verdict == verdict
    assert bool(finding.remedy) == (verdict == "warn")


@pytest.mark.parametrize("where", [2, 5, 8])
def test_a_dip_inside_the_transition_is_caught(where):
    blend = made(SHAPES["oval"])
    ends = min(blend.areas[0].area, blend.areas[-1].area)
    rows = list(blend.areas)
    rows[where] = replace(rows[where], area=0.98 * ends)
    finding = judged(area_continuity, replace(blend, areas=tuple(rows)))
    assert finding.verdict is Verdict.FAIL
    assert finding.value == pytest.approx(2.0)
    assert rows[where].what in finding.message


def test_a_dip_between_round_end_and_throat_is_caught():
    blend = made(SHAPES["oval"])
    whole = design(blend)
    tube = blend.areas[-1].area
    rows = [(0.0, tube, "slot"), (9.0, 0.9 * tube, "first join"), (20.0, 2 * tube, "throat")]
    whole.collector.areas = tuple(SimpleNamespace(station=s, area=a, what=w) for s, a, w in rows)
    finding = next(f for f in area_continuity.run(whole) if f.subject == "runner 1")
    assert finding.verdict is Verdict.FAIL
    assert finding.value == pytest.approx(10.0)
    assert "first join" in finding.message


def test_what_a_spec_may_say_of_the_length():
    assert Said(length="auto").length == "auto"
    assert Said(length="2 in").length == pytest.approx(50.8)
    for wrong in (0, -4, "long", "16 ga", None):
        with pytest.raises(ValueError, match=r"length|auto"):
            Said(length=wrong)


def test_studs_cannot_be_traced(demo_file):
    text = demo_file.read_text().replace(
        "at_each_port: [[-32, 34], [32, -34]]", "dxf: parts/gasket.dxf"
    )
    (problem,) = load(text, "x.yaml").problems
    assert "oversize" in problem.allowed
    assert "measure the studs" in problem.remedy
    assert problem.path[:3] == ("heads", 0, "studs")
    assert np.isfinite(problem.line)
