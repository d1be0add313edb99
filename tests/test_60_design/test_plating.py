"""Plates of a spec in the design: where they stand, what for, and what keeps clear of them."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.checks import edge_and_web, window_fit
from geomgen.design.fixed import fixed_parts
from geomgen.design.lock import fingerprint
from geomgen.design.model import Limits
from geomgen.design.plating import RINGS, plating, upright
from geomgen.design.resolve import resolve
from geomgen.errors import SpecError, Verdict
from geomgen.geometry.frames import Frame, cross, dot, norm, scale, sub, unit
from geomgen.plates import Plate
from geomgen.profiles.loops import area, bounding_box, circle, slot
from geomgen.recipe.nodes import parts_of
from geomgen.spec.limits import Limits as SaidLimits
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"
DEMO = (SPECS / "brackenhall-20-sprint.yaml").read_text(encoding="utf-8").rstrip() + "\n"
LOCK = (SPECS / "brackenhall-20-sprint.lock.yaml").read_text(encoding="utf-8")
LIMITS = Limits(tuple((key, float(v)) for key, v in SaidLimits().model_dump().items()))
TAIL = """{kind: round, name: tail_flange, at: outlet, thickness: 10, material: "304",
    process: laser, bolts: {count: 3, circle: 98, thread: M10}}"""
ENTRY = """{kind: collector, name: entry, tube: 45, count: 4, pitch: 54, cylinders: [1, 3, 4, 2],
    thickness: 8, material: "304"}"""
LOOSE = (
    "{kind: gasket, name: head_gasket, of: head_flange, thickness: 1.5, material: graphite}",
    """{kind: rectangular, name: inlet, thickness: 12, material: "304", process: waterjet,
    bolts: {pitch: [104, 66], thread: M10}, width: 76, height: 52, corner: 8, divider: 6}""",
    "{kind: test, name: air_plate, of: inlet, thickness: 10, material: mild}",
)


def spec_with(*plates, change=()):
    text = DEMO + ("plates:\n" + "".join(f"  - {plate}\n" for plate in plates) if plates else "")
    for old, new in change:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return load(text, "demo.yaml").required()


@pytest.fixture(scope="module")
def bare():
    """The demo without plates: spec and what is fixed."""
    spec = spec_with()
    return spec, fixed_parts(spec)


@pytest.fixture(scope="module")
def made(bare):
    """Every plate of a list, for the demo's flange and collector."""
    _, fixed = bare

    def plates(*texts, layout=fixed.layout, **more):
        return plating(spec_with(*texts, **more), fixed.flanges, layout, LIMITS)

    return plates


def refused(make, *texts):
    with pytest.raises(SpecError) as caught:
        make(*texts)
    (problem,) = caught.value.problems
    assert problem.found
    assert problem.allowed
    assert problem.remedy
    return problem


@given(
    z=st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: norm(v) > 0.1),
    up=st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: norm(v) > 0.1),
)
def test_upright_frames_are_right_handed_with_y_up(z, up):
    frame = upright((1.0, 2.0, 3.0), z, up)
    assert norm(sub(cross(frame.x, frame.y), frame.z)) < 1e-9
    assert norm(sub(frame.z, unit(z))) < 1e-9
    if norm(cross(unit(z), unit(up))) > 1e-6:
        assert abs(dot(frame.x, unit(up))) < 1e-7
        assert dot(frame.y, unit(up)) > 0


def test_a_socket_flange_goes_over_the_end_of_the_outlet(bare, made):
    _, fixed = bare
    (part,) = made(TAIL).flats
    end = fixed.layout.outlet
    assert not part.loose
    # seen from the tube side one looks the way the gas goes
    assert norm(sub(part.frame.z, scale(end.z, -1.0))) < 1e-12
    x, y, z = part.frame.local(end.origin)
    assert (x, y) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert z == pytest.approx(2.0)  # the tube stops 2 mm short of the gasket face, in the plate
    assert abs(part.frame.x[1]) < 1e-12  # y is as far up as the face allows
    assert part.frame.y[1] > 0
    assert part.window_wall == pytest.approx(1.5)
    # demo: 63.5 mm tube with 0.3 mm over both sides
    assert bounding_box(part.windows[0]).width == pytest.approx(63.8)


def test_a_butt_flange_stands_behind_the_end_of_the_outlet(bare, made):
    _, fixed = bare
    (part,) = made(TAIL.replace("at: outlet", "at: outlet, window: butt")).flats
    assert part.frame.local(fixed.layout.outlet.origin)[2] == pytest.approx(10.0)
    assert bounding_box(part.windows[0]).width == pytest.approx(60.5)  # 63.5 less two walls


def test_a_plate_may_stand_anywhere(made):
    stand = "stand: {at: [1, 2, 3], tube_side: [0, 0, 2], up: [1, 0, 0]}, bore: 60"
    (part,) = made(TAIL.replace("at: outlet", stand)).flats
    assert part.frame.origin == (1, 2, 3)
    assert part.frame.z == (0, 0, 1)
    assert part.frame.y == pytest.approx((1, 0, 0))


def test_plates_are_cut_as_the_head_flange_unless_they_say_so(made):
    blank = "{kind: blanking, name: blank, of: head_flange, thickness: 6, material: mild}"
    flats = {part.name: part for part in made(*LOOSE, blank).flats}
    assert list(flats) == ["head_gasket", "inlet", "air_plate", "blank"]
    assert {name: part.process for name, part in flats.items()} == {
        "head_gasket": "waterjet",
        "inlet": "waterjet",
        "air_plate": "plasma",
        "blank": "plasma",
    }
    assert all(part.loose for part in flats.values())
    assert flats["head_gasket"].sheet
    (port,) = (hole for hole in flats["air_plate"].holes if hole.name == "air port")
    assert port.how == "mark"  # a thread is never cut


def test_plates_for_the_head_flange_have_its_outline_and_every_hole(bare, made):
    _, fixed = bare
    flange = fixed.flanges[0]
    blank = "{kind: blanking, name: blank, of: head_flange, thickness: 6, material: mild}"
    gasket, plate = made(LOOSE[0], blank).flats
    for part in (gasket, plate):
        assert part.profile.outer == flange.profile.outer
        assert part.frame == flange.frame
        assert [hole.at for hole in part.holes] == [hole.at for hole in flange.holes]
    assert [
        hole.diameter - plain.diameter
        for hole, plain in zip(gasket.holes, flange.holes, strict=True)
    ] == pytest.approx([1.0] * len(flange.holes))
    assert [hole.diameter for hole in plate.holes] == [hole.diameter for hole in flange.holes]
    assert len(gasket.windows) == len(flange.windows)
    assert all(area(a) > area(b) for a, b in zip(gasket.windows, flange.windows, strict=True))
    assert plate.windows == ()
    assert gasket.cylinders == flange.cylinders


def test_both_rings_of_a_v_band_are_made_and_one_stands(made):
    ring = """{kind: vband, name: ring, at: outlet, od: 92, thickness: 14, material: "304",
    spigot: {diameter: 76, height: 2}, pair: true}"""
    first, second = made(ring).flats
    assert (first.name, second.name) == ("ring", "ring_mate")
    assert (first.loose, second.loose) == (False, True)
    assert first.cut_thickness == pytest.approx(16.0)
    assert second.cut_thickness == pytest.approx(14.0)
    metal = area(first.profile.outer) - area(first.windows[0])
    assert metal == pytest.approx(math.pi / 4 * (92**2 - 63.8**2))


@pytest.mark.parametrize(
    ("plates", "key", "allowed"),
    [
        ([LOOSE[0].replace("head_flange", "hed_flange")], ("of",), "one of head_flange"),
        ([TAIL.replace("tail_flange", "head_flange")], ("name",), "no other part"),
        ([TAIL.replace("tail_flange", "cone")], ("name",), "no other part"),
        ([TAIL.replace("tail_flange", "tube_1")], ("name",), "no other part"),
        ([TAIL.replace("at: outlet,", "")], ("bore",), "diameter"),
        ([TAIL.replace("circle: 98", "circle: 60")], ("bolts",), "apart"),
        ([ENTRY.replace("4, 2]", "4, 5]")], ("cylinders",), "from 1 to 4"),
        ([ENTRY.replace("4, 2]", "4, 1]")], ("cylinders",), "each once"),
        ([LOOSE[1].replace("width: 76", "at: outlet, width: 76")], ("at",), "round window"),
        ([TAIL.replace("at: outlet", "at: outlet, od: 100")], ("od",), "within the plate"),
    ],
)
def test_what_cannot_be_made_is_refused_with_its_key(made, plates, key, allowed):
    problem = refused(made, *plates)
    assert problem.path == ("plates", 0, *key)
    assert allowed in problem.allowed


def test_plates_of_a_family_become_flat_parts_too(bare, made):
    _, fixed = bare
    own = Plate(
        "scroll_flange",
        "Scroll flange",
        Frame(),
        12.0,
        "304",
        slot(120.0, 90.0),
        windows=(circle((0.0, 0.0), 25.0),),
        process="laser",
    )
    layout = replace(fixed.layout, plates=(own,))
    seal = "{kind: gasket, name: seal, of: scroll_flange, thickness: 1, material: graphite}"
    first, second = made(seal, layout=layout).flats
    assert (first.name, first.process, first.loose) == ("scroll_flange", "laser", False)
    assert area(second.windows[0]) == pytest.approx(math.pi * 26.5**2)


@given(
    across=st.floats(0.0, 1.0),
    deep=st.floats(0.0, 1.0),
    round_=st.floats(0.0, math.tau),
    thickness=st.sampled_from([4.0, 10.0, 16.0]),
)
def test_the_rings_hold_the_whole_disc(rings_of, across, deep, round_, thickness):
    """A point of the disc lies in one of them: its distance from their circles is known."""
    part, rings, inner, outer = rings_of(thickness)
    rho, z = inner + across * (outer - inner), deep * thickness
    point = part.frame.point((rho * math.cos(round_), rho * math.sin(round_), z))
    x, y, height = part.frame.local(point)
    within = []
    for ring in rings:
        (cx, cy, cz) = part.frame.local(ring.path.start.origin)
        circle_radius = math.hypot(cx, cy)
        if circle_radius > 1e-9:
            apart = math.hypot(math.hypot(x, y) - circle_radius, height - cz)
        else:
            apart = math.hypot(x, y)
        within.append(apart <= ring.radius + 1e-9)
        # and none of them reaches out of the plate by more than it says
        wide = (outer - inner) / RINGS
        assert ring.radius - thickness / 2 <= (wide / 2 if wide > thickness else 0.21 * thickness)
        assert circle_radius + ring.radius <= outer + thickness / 2
    assert any(within)


@pytest.fixture(scope="module")
def rings_of(made):
    known = {}

    def rings(thickness):
        if thickness not in known:
            plates = made(TAIL.replace("thickness: 10", f"thickness: {thickness:g}"))
            outer = 49 + 16.5  # half the bolt circle and a boss of 1.5 times 11
            known[thickness] = (plates.flats[0], plates.envelopes, 63.5 / 2, outer)
        return known[thickness]

    return rings


def test_rings_close_and_lie_in_the_middle_of_the_plate(rings_of):
    part, rings, _, _ = rings_of(10.0)
    assert len(rings) > 1
    for ring in rings:
        assert norm(sub(ring.path.end.origin, ring.path.start.origin)) < 1e-9
        for frame in ring.path.frames:
            assert part.frame.local(frame.origin)[2] == pytest.approx(5.0)


def test_loose_plates_leave_lock_and_layout_alone(bare):
    spec, fixed = bare
    loose = spec_with(*LOOSE)
    solved = resolve(loose, LOCK)
    assert not solved.solved
    assert [part.name for part in solved.design.flats][1:] == ["head_gasket", "inlet", "air_plate"]
    names = {part.name for part in parts_of(solved.design.assembly)}
    assert not names & {"head_gasket", "inlet", "air_plate"}
    plain = fingerprint(spec, fixed.targets, {}, fixed.plates.envelopes)
    assert fingerprint(loose, fixed.targets, {}, ()) == plain


def test_a_plate_that_stands_is_an_input_of_the_routes(bare, made):
    spec, fixed = bare
    plain = fingerprint(spec, fixed.targets, {})
    seen = {plain}
    for text in (TAIL, TAIL.replace("circle: 98", "circle: 104"), TAIL.replace("10,", "12,")):
        seen.add(fingerprint(spec, fixed.targets, {}, made(text).envelopes))
    assert len(seen) == 4
    same = made(TAIL.replace('"304"', "321")).envelopes  # not the grade
    assert fingerprint(spec, fixed.targets, {}, same) in seen


def test_a_standing_plate_is_in_the_assembly_and_in_the_way():
    fixed = fixed_parts(spec_with(TAIL))
    assert [part.name for part in fixed.plates.flats] == ["tail_flange"]
    assert sum(e.name == "tail_flange" for e in fixed.layout.envelopes) > 1


def checked(flats, **changed):
    """Findings of the check on edges and webs, by subject."""
    limits = Limits(tuple({**dict(LIMITS.values), **changed}.items()))
    design = type("Some", (), {"flats": flats, "limits": limits})()
    return {finding.subject: finding for finding in edge_and_web.run(design)}


def test_gaskets_are_held_to_what_is_left_beside_their_holes(made):
    flats = made(*LOOSE).flats
    found = checked(flats)
    assert "head_gasket / hole to edge" not in found
    rim = found["head_gasket / rim to edge"]
    assert rim.verdict is Verdict.PASS
    assert rim.limit == 3.0
    # the boss round a stud is 1.5 holes or what a washer wants; the gasket's hole is 1 mm larger
    head = flats[0]
    assert rim.value == pytest.approx(
        min(hole.boss - hole.diameter / 2 for hole in head.holes), abs=0.01
    )
    assert checked(flats, gasket_neck=20.0)["head_gasket / rim to edge"].verdict is Verdict.FAIL


def test_a_bar_must_be_wide_enough_to_seal_whatever_cuts_it(made):
    bar = checked(made(LOOSE[1]).flats)["inlet / window to window"]
    assert (bar.verdict, bar.value) == (Verdict.PASS, pytest.approx(6.0))
    narrow = LOOSE[1].replace("divider: 6", "divider: 3")
    thin = checked(made(narrow).flats, web_ratio_waterjet=0.0)["inlet / window to window"]
    assert (thin.verdict, thin.limit) == (Verdict.FAIL, 4.0)


def test_the_fit_of_the_outlet_socket_is_judged_by_its_own_tube(made):
    def judged(flats):
        design = type("Some", (), {"flats": flats, "runners": (), "ports": (), "limits": LIMITS})()
        return window_fit.run(design)

    (found,) = judged(made(TAIL).flats)
    # ISO 9013 class 1, over 6.3 to 10 mm of plate, 35 to 125 mm: 0.30 mm either way
    assert "0.30 mm either way" in found.message
    assert found.subject == "tail_flange / windows"
    # nobody has said what wall these tubes have
    assert judged(made(ENTRY.replace("cylinders: [1, 3, 4, 2],", "")).flats) == ()
