"""The head flange: outline, windows, holes, marks."""

import math

import pytest
from flat_demo import OVAL, flange
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union

from geomgen.design.lettering import GLYPHS, Block, layouts, spelled
from geomgen.fasteners import FASTENERS
from geomgen.geometry.frames import Frame
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import gap, inside, is_simple, loop_to_loop, point_to_loop
from geomgen.profiles.loops import (
    Arc,
    Line,
    area,
    bounding_box,
    perimeter,
    profile_area,
    slot,
)


@pytest.fixture(scope="module")
def demo():
    return flange()


def test_clearance_holes_are_those_of_iso_273():
    # ISO 273:1979 fine, medium, coarse, by public reprints; M12 is 13.5 and 14.5 there
    assert {t: (f.fine, f.medium, f.coarse) for t, f in FASTENERS.items()} == {
        "M6": (6.4, 6.6, 7.0),
        "M8": (8.4, 9.0, 10.0),
        "M10": (10.5, 11.0, 12.0),
        "M12": (13.0, 13.5, 14.5),
    }


def test_nuts_and_washers_are_those_of_iso_4032_and_7089():
    table = {t: (f.across_flats, f.washer_od) for t, f in FASTENERS.items()}
    assert table == {"M6": (10, 12), "M8": (13, 16), "M10": (16, 20), "M12": (18, 24)}


def test_socket_radius_agrees_with_practice():
    # common practice, no source: 9 to 10 mm for AF 13, 11 to 12 for 16, 13 for 18, plus play
    radii = {f.across_flats: f.socket_radius for f in FASTENERS.values()}
    assert 9 <= radii[13] <= 10
    assert 11 <= radii[16] <= 12
    assert 13 <= radii[18] <= 15


def test_windows_take_the_tube_formed_to_the_port(demo):
    # Steiner: an offset d adds 2 pi d to the perimeter and P d + pi d^2 to the area
    d = 1.5 + 0.15
    for window in demo.windows:
        assert perimeter(window) == pytest.approx(perimeter(OVAL) + math.tau * d, rel=1e-12)
        grown = area(OVAL) + perimeter(OVAL) * d + math.pi * d * d
        assert area(window) == pytest.approx(grown, rel=1e-12)
    middles = [bounding_box(w) for w in demo.windows]
    assert [(b.left + b.right) / 2 for b in middles] == pytest.approx([0, 92, 184, 276])


def test_butt_windows_are_the_port():
    part = flange(window="butt")
    assert area(part.windows[0]) == pytest.approx(area(OVAL), rel=1e-12)
    assert part.window_fit == 0.0


def test_overall_size_follows_from_the_outer_bosses(demo):
    # 1.5 d of the 9.0 hole is more than washer and socket need: bosses of 13.5
    box = bounding_box(demo.profile.outer)
    assert {hole.boss for hole in demo.holes} == {13.5}
    assert (box.left, box.right) == pytest.approx((-32 - 13.5, 276 + 32 + 13.5))
    assert (box.bottom, box.top) == pytest.approx((-34 - 13.5, 34 + 13.5))


def test_outline_is_simple_lines_and_arcs_round_everything(demo):
    outer = demo.profile.outer
    assert all(isinstance(piece, Line | Arc) for piece in outer)
    assert gap(outer) < 1e-9
    assert is_simple(outer)
    for window in demo.windows:
        assert inside(window[0].start, outer)
        assert loop_to_loop(window, outer) == pytest.approx(9.0, abs=1e-9)
    for hole in demo.holes:
        assert inside(hole.at, outer)
        assert point_to_loop(hole.at, outer) == pytest.approx(hole.boss, abs=1e-9)


def fillets_of(part):
    arcs = [piece for piece in part.profile.outer if isinstance(piece, Arc)]
    return {round(arc.radius, 9) for arc in arcs if arc.sweep < 0}


def test_outline_agrees_with_shapely(demo):
    # the same closing on facets, R 15: inflate, unite, deflate
    assert fillets_of(demo) == {15.0}
    shapes = [
        Polygon([point_at(p, i / 90) for p in w for i in range(90)]).buffer(9, quad_segs=90)
        for w in demo.windows
    ]
    shapes += [Point(hole.at).buffer(hole.boss, quad_segs=90) for hole in demo.holes]
    twin = unary_union([s.buffer(15, quad_segs=90) for s in shapes]).buffer(-15, quad_segs=90)
    sagitta = (30 + 15) * (1 - math.cos(math.pi / 360))
    assert abs(twin.area - area(demo.profile.outer)) < 2 * sagitta * perimeter(demo.profile.outer)


def test_plasma_m8_in_10_mm_is_marked_and_drilled(demo):
    assert {hole.how for hole in demo.holes} == {"mark"}
    assert demo.profile.holes == demo.windows
    assert len(demo.drilled.holes) == 4 + 8
    for hole in demo.holes:
        crosses = [m for m in demo.marks if math.dist(point_at(m, 0.5), hole.at) < 1e-9]
        assert len(crosses) == 2
    drilled = 8 * math.pi * 4.5**2
    assert profile_area(demo.profile) - profile_area(demo.drilled) == pytest.approx(drilled)


@pytest.mark.parametrize(
    ("process", "thread", "thickness", "how"),
    [
        # plasma cutters' guides: 1.5 x plate, so t 8/10/12 wants 12/15/18 mm; M10 coarse
        # just equals it at 8 mm, M12 is below it from 10 mm
        ("plasma", "M10", 8.0, "mark"),
        ("plasma", "M12", 8.0, "cut"),
        ("plasma", "M12", 10.0, "mark"),
        # laser shops: 1.0 x plate; 9.0 in 10 mm is not, 11.0 is
        ("laser", "M8", 10.0, "mark"),
        ("laser", "M10", 10.0, "cut"),
        ("waterjet", "M6", 12.7, "cut"),
    ],
)
def test_hole_verdicts(process, thread, thickness, how):
    part = flange(process=process, thread=thread, thickness=thickness, ports=1)
    assert {hole.how for hole in part.holes} == {how}


def test_m10_coarse_just_equals_the_plasma_limit_at_8_mm():
    part = flange(thread="M10", thickness=8.0, hole_class="coarse", ports=1)
    assert {hole.how for hole in part.holes} == {"cut"}


def strokes_clear(part):
    """Least distance from any lettering stroke to a cut edge or a finished hole."""
    crosses = {
        m for hole in part.holes for m in part.marks if math.dist(point_at(m, 0.5), hole.at) < 1e-9
    }
    letters = tuple(m for m in part.marks if m not in crosses)
    edges = (part.drilled.outer, *part.drilled.holes)
    apart = [loop_to_loop((m,), edge) for m in letters for edge in edges]
    return letters, min(apart, default=math.inf)


def test_lettering_is_clear_and_in_the_metal(demo):
    letters, apart = strokes_clear(demo)
    assert apart >= 2.0 - 1e-9
    for stroke in letters:
        assert inside(stroke.start, demo.profile.outer)
        assert not any(inside(stroke.start, hole) for hole in demo.drilled.holes)
    assert demo.notes == ()


def test_lettering_says_what_it_should(demo):
    wanted = "UP^~" + "TUBESIDE" + "BRACKENHALL-20-SPRINTA" + "HEADFLANGE" + "1234"
    strokes = sum(len(Block((c,)).strokes((0, 0), 1.0)) for c in wanted)
    assert len(strokes_clear(demo)[0]) == strokes


def test_each_cylinder_number_is_nearest_its_own_port(demo):
    for k in range(4):
        strokes = Block((str(k + 1),)).strokes((0, 0), 1.0)
        tail = demo.marks[len(demo.marks) - sum(_count(c) for c in "1234"[k:]) :][: len(strokes)]
        x = sum(point_at(m, 0.5)[0] for m in tail) / len(tail)
        assert round(x / 92.0) == k


def _count(character):
    return len(Block((character,)).strokes((0, 0), 1.0))


def test_arrow_points_up():
    strokes = Block(("^",)).strokes((0.0, 0.0), 6.0)
    tip = max((end for m in strokes for end in (m.start, m.end)), key=lambda p: p[1])
    assert sum(tip in (m.start, m.end) for m in strokes) == 3
    assert tip == pytest.approx((0.0, 3.0))


def test_what_does_not_fit_is_said():
    part = flange(ports=1, land=5.0, text="A-VERY-LONG-NAME-FOR-SO-SMALL-A-FLANGE B")
    assert any("A-VERY-LONG-NAME" in note and "no place" in note for note in part.notes)
    assert strokes_clear(part)[1] >= 2.0 - 1e-9


def test_every_character_a_name_may_have_can_be_drawn():
    for character in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-./+()":
        assert GLYPHS[character]
        for stroke in GLYPHS[character].split("|"):
            points = stroke.split()
            assert len(points) >= 2
            assert all(0 <= int(p[0]) <= 4 and 0 <= int(p[1]) <= 6 for p in points)
    assert spelled("brackenhall_20 rev é") == "BRACKENHALL-20 REV -"


def test_no_glyph_is_drawn_twice_over():
    for character in GLYPHS:
        strokes = Block((character,)).strokes((0, 0), 1.0) if character != " " else ()
        ends = {frozenset((m.start, m.end)) for m in strokes}
        assert len(ends) == len(strokes)


def test_text_is_broken_evenly():
    lines = [block.lines for block in layouts("BRACKENHALL-20-SPRINT A")]
    assert lines[0] == ("BRACKENHALL-20-SPRINT A",)
    assert lines[1] == ("BRACKENHALL-", "20-SPRINT A")
    assert layouts("UP")[0].lines == ("UP",)


def test_a_turned_and_moved_head_gives_the_same_plate():
    frame = Frame.facing((100.0, -50.0, 30.0), (0.0, -1.0, 0.2), (1.0, 0.0, 0.0))
    part, demo = flange(frame=frame), flange()
    assert area(part.profile.outer) == pytest.approx(area(demo.profile.outer), rel=1e-12)
    assert part.holes[3].at == pytest.approx(demo.holes[3].at, abs=1e-9)


def test_ports_may_run_the_other_way():
    part, demo = flange(pitch=-92.0), flange()
    assert part.cylinders == (1, 2, 3, 4)
    assert bounding_box(part.windows[3]).left < bounding_box(part.windows[0]).left
    assert abs(area(part.windows[0]) - area(demo.windows[0])) < 1e-9


def test_a_fillet_that_is_asked_for_is_used():
    part = flange(fillet=40.0)
    assert fillets_of(part) == {40.0}
    with pytest.raises(ValueError, match="several pieces"):
        flange(fillet=5.0)


@settings(max_examples=25)
@given(
    st.integers(1, 6),
    st.floats(30, 60),
    st.floats(28, 60),
    st.floats(1.2, 2.2),
    st.floats(4, 40),
    st.floats(5, 12),
    st.sampled_from(["M6", "M8", "M10", "M12"]),
    st.sampled_from(["plasma", "laser", "waterjet"]),
)
def test_any_row_of_ports_gives_a_sound_plate(ports, w, h, pitch, reach, land, thread, process):
    part = flange(
        ports=ports,
        loop=slot(w, h),
        pitch=round(w * pitch, 3),
        studs=((-w / 2 - reach / 2, h / 2 + 8), (w / 2 + reach / 2, -h / 2 - 8)),
        land=land,
        thread=thread,
        process=process,
    )
    outer = part.profile.outer
    assert gap(outer) < 1e-6
    assert is_simple(outer)
    assert area(outer) > 0
    for window in part.windows:
        assert inside(window[0].start, outer)
        assert loop_to_loop(window, outer) >= land - 1e-6
    for hole in part.holes:
        assert point_to_loop(hole.at, outer) >= hole.boss - 1e-6
    letters, apart = strokes_clear(part)
    assert letters or part.notes
    assert apart >= 2.0 - 1e-9
