"""Windows: styles, leaning ports, corners that a process cuts; what a spec says of a flange."""

import math

import pytest
from flat_demo import OVAL, flange

from geomgen.design.fixed import fixed_parts
from geomgen.design.windows import TOLERANCE, opened
from geomgen.errors import SpecError
from geomgen.profiles.convex import hull_of_circles, offset
from geomgen.profiles.distances import inside, loop_to_loop
from geomgen.profiles.loops import Arc, area, bounding_box, circle, slot
from geomgen.spec.load import load

LEAN = (0.0, -math.tan(math.radians(20.0)), 1.0)


@pytest.fixture(scope="module")
def text(demo_file):
    return demo_file.read_text(encoding="utf-8")


def fixed(text, *changes):
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return fixed_parts(load(text, "x.yaml").required())


def test_a_leaning_window_is_as_long_as_its_tube_sweeps():
    # oval of 37 + 3.3 high at 20 degrees down: 40.3 / cos 20 and 10 tan 20 below
    lean = math.radians(20.0)
    window = flange(ports=1, directions=[LEAN]).windows[0]
    box = bounding_box(window)
    half = 40.3 / math.cos(lean) / 2.0
    assert box.top == pytest.approx(half, abs=TOLERANCE / math.cos(lean))
    assert box.bottom == pytest.approx(
        -half - 10.0 * math.tan(lean), abs=TOLERANCE / math.cos(lean)
    )
    assert box.width == pytest.approx(48.3, abs=2 * TOLERANCE)
    assert box.width >= 48.3


def test_a_straight_port_gives_the_plain_window():
    assert flange(ports=1).windows[0] == flange(ports=1, directions=[(0.0, 0.0, 2.0)]).windows[0]


def test_a_port_along_the_face_is_refused():
    with pytest.raises(ValueError, match="port 1: its axis leans 85 degrees"):
        flange(ports=1, directions=[(0.0, math.tan(math.radians(85.0)), 1.0)])


def test_a_round_socket_is_the_tube_with_its_fit_under_the_port_s_roof():
    window = flange(ports=1, window="round-socket").windows[0]
    assert area(window) == pytest.approx(math.pi * (22.5 + 0.15) ** 2)
    assert bounding_box(window).top == pytest.approx(18.5 + 1.5 + 0.15)


def corner_radii(loop):
    return sorted({round(p.radius, 6) for p in loop if isinstance(p, Arc)})


def rectangle(radius):
    places = [(x, y) for x in (-20 + radius, 20 - radius) for y in (-15 + radius, 15 - radius)]
    return hull_of_circles([(place, radius) for place in places])


def test_corners_are_opened_to_the_process_where_the_tube_lets_them():
    # tube's own corner 1.0 + 1.5 = 2.5; window 2.65; what a 2.9 tool leaves, 0.1 mm, is less
    # than the play there
    part = flange(ports=1, loop=rectangle(1.0), corner=2.9)
    assert corner_radii(part.windows[0]) == [2.9]
    tube = offset(rectangle(1.0), 1.5)
    assert all(inside(piece.start, part.windows[0]) for piece in tube)
    # left in a corner: (sqrt 2 - 1) times the difference of the radii
    lost = (4 - math.pi) * (2.9**2 - 2.65**2)
    plain = flange(ports=1, loop=rectangle(1.0)).windows[0]
    assert area(plain) - area(part.windows[0]) == pytest.approx(lost, abs=1e-6)


def test_a_corner_that_would_cut_into_the_tube_is_left_for_the_checks():
    part = flange(ports=1, loop=rectangle(1.0), corner=4.0)
    assert corner_radii(part.windows[0]) == [2.65]
    butt = flange(ports=1, loop=rectangle(1.0), corner=2.0, window="butt")
    assert corner_radii(butt.windows[0]) == [1.0]


def test_wide_corners_stay_as_they_are():
    loop = circle((0.0, 0.0), 20.0)
    assert opened(loop, offset(loop, -0.15), 2.0) is loop
    assert loop_to_loop(loop, offset(loop, -0.15)) == pytest.approx(0.15)


# what a spec says

FANNED = "pitch: 92, directions: [[0, -0.2, 1], [0, -0.3, 1], [0, -0.3, 1], [0.1, -0.2, 1]]}"

ALL_KEYS = """land: 9
  outline: bar
  relief: {width: 3}
  facing: 2
  growth: {register: 3a, head_material: steel}
  dowels: [{at: [46, 5], diameter: 6}]
  tapped: [{at: [138, 5], size: M6, name: shield}]
  slots: [{stud: 1a, length: 3, angle: 90}]
"""


def test_a_spec_with_leaning_ports_is_laid_out(text):
    found = fixed(text, ("pitch: 92}", FANNED))
    lean = math.atan(0.3)
    second = found.transitions[1]
    # thickness / cos + what the outside reaches aside + a wall for the bead
    assert second.plate == pytest.approx(
        10.0 / math.cos(lean) + 24.0 * math.tan(lean) + 1.5, abs=1e-6
    )
    assert second.exit.z == pytest.approx((0.0, -math.sin(lean), math.cos(lean)))
    (part,) = found.flanges
    assert bounding_box(part.windows[1]).bottom < bounding_box(part.windows[0]).bottom


def test_a_butted_tube_stands_on_the_plate(text):
    found = fixed(text, ("window: socket", "window: butt"))
    assert {t.set_back for t in found.transitions} == {10.0}
    assert area(found.flanges[0].windows[0]) == pytest.approx(area(OVAL))


def test_a_round_tube_in_an_oval_port_makes_a_step_that_the_check_sees(text):
    from geomgen.checks.inward_step import steps

    found = fixed(text, ("window: socket", "window: round-socket"))
    inward, _ = steps(found.ports[0].loop, found.transitions[0].bore[0])
    # the port's round ends stand 22.5 from its middle, the bore 21 from its own, 2.5 lower
    assert inward > 1.0


def test_separate_pieces_are_parts_of_their_own(text):
    found = fixed(text, ("land: 9", "land: 8\n  outline: separate"))
    assert [part.name for part in found.flanges] == [f"head_flange_{k}" for k in (1, 2, 3, 4)]


def test_every_key_of_the_flange_is_heard(text):
    found = fixed(text, ("process: plasma", "process: waterjet"), ("land: 9", ALL_KEYS))
    (part,) = found.flanges
    names = {hole.name: hole for hole in part.holes}
    assert names["stud 3a"].note == "register"
    assert names["dowel 1"].kind == "dowel"
    assert names["tapped shield"].kind == "tapped"
    assert names["stud 1a"].turn == pytest.approx(math.pi / 2)
    assert part.cut_thickness == 12.0
    assert sum(isinstance(p, Arc) and p.sweep < -3.0 for p in part.profile.outer) == 3
    assert any("small side of the taper" in note for note in part.notes)


@pytest.mark.parametrize(
    ("said", "path"),
    [
        ("outline: separate\n  relief: {width: 3}", "flange.relief"),
        ("growth: {register: 9z}", "flange.growth.register"),
        ("slots: [{stud: 9z, length: 3}]", "flange.slots.0.stud"),
        ("outline: round", "flange.outline"),
        ("relief: {width: 0}", "flange.relief.width"),
        ("growth: {flange_temperature: 2 K}", "flange.growth.flange_temperature"),
        ("dowels: [{at: [1], diameter: 6}]", "flange.dowels.0.at"),
        ("tapped: [{at: [1, 2], size: M7}]", "flange.tapped.0.size"),
    ],
)
def test_what_cannot_be_is_refused_with_its_key(text, said, path):
    broken = text.replace("land: 9", f"land: 9\n  {said}", 1)
    loaded = load(broken, "x.yaml")
    problems = loaded.problems
    if not problems:
        with pytest.raises(SpecError) as refused:
            fixed_parts(loaded.required())
        problems = refused.value.problems
    assert path in {".".join(map(str, problem.path)) for problem in problems}


ASKEW = "{at: [10, 20, 30], x: [1, 0, 0], z: [0, 0.6, 0.8]}"


def test_a_head_that_stands_askew_has_straight_ports_all_the_same(text):
    askew = fixed(
        text,
        (
            "gasket: {thickness: 1.2}",
            f"gasket: {{thickness: 1.2}}\n    place: {ASKEW}",
        ),
    )
    assert [t.face for t in askew.transitions] == [None] * 4
    assert [t.plate for t in askew.transitions] == pytest.approx([10.0] * 4)
    for window in askew.flanges[0].windows:
        assert area(window) == pytest.approx(area(slot(48.3, 40.3)), rel=1e-9)


def test_a_sheet_says_what_a_leaning_tube_leaves_free(text):
    """10 mm of plate and a lean of atan 0.3: the window is 10 x 0.3 mm longer than the tube."""
    from geomgen.report.flat_words import notes

    (leans,) = fixed(text, ("pitch: 92}", FANNED)).flanges
    (square,) = fixed(text).flanges
    said = {
        part.name + str(part.lean > 0.0): next(n for n in notes(part) if "free over both" in n)
        for part in (leans, square)
    }
    assert "free over both sides. Grey" in said["head_flangeFalse"]
    assert "across its lean" in said["head_flangeTrue"]
    assert "16.7 deg" in said["head_flangeTrue"]
    assert "3.0 mm more is free, all of it on one side at each face" in said["head_flangeTrue"]
    tall = [
        box.top - box.bottom for box in map(bounding_box, (leans.windows[1], square.windows[1]))
    ]
    lean = math.atan(0.3)
    assert tall[0] - tall[1] / math.cos(lean) == pytest.approx(3.0, abs=2 * TOLERANCE)
