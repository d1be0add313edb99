"""Bars, pieces a port, relief slots, dowels and taps, facing; any pattern is sound or told of."""

import math
from itertools import pairwise

import pytest
from flat_demo import Cutter, around, flange, flanges, wanted
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.checks import edge_and_web
from geomgen.design.flange import Slotted, dowel, head_plates, tapped
from geomgen.design.growth import HotGrowth
from geomgen.design.outlines import Relief
from geomgen.errors import Verdict
from geomgen.profiles.distances import (
    gap,
    inside,
    is_simple,
    loop_to_loop,
    point_to_loop,
)
from geomgen.profiles.loops import Arc, Line, area, bounding_box, circle, slot

IN_LINE = ((-34.0, 30.0), (34.0, 30.0), (-34.0, -30.0), (34.0, -30.0))


def assert_sound(part):
    outer = part.profile.outer
    assert gap(outer) < 1e-6
    assert is_simple(outer)
    assert area(outer) > 0.0
    assert all(inside(window[0].start, outer) for window in part.windows)
    assert all(inside(hole.at, outer) for hole in part.holes)


# bars


def test_a_bar_is_as_large_as_what_it_holds():
    part = flange(outline="bar")
    box = bounding_box(part.profile.outer)
    assert (box.left, box.right) == pytest.approx((-32 - 13.5, 276 + 32 + 13.5))
    assert (box.bottom, box.top) == pytest.approx((-34 - 13.5, 34 + 13.5))
    lines = [piece for piece in part.profile.outer if isinstance(piece, Line)]
    assert {
        round(math.sin(2 * math.atan2(m.end[1] - m.start[1], m.end[0] - m.start[0])), 9)
        for m in lines
    } == {0.0}
    assert all(piece.sweep > 0 for piece in part.profile.outer if isinstance(piece, Arc))
    assert_sound(part)


def test_a_bar_s_corners_are_the_bosses_where_bosses_stand_there():
    part = flange(outline="bar", studs=IN_LINE)
    arcs = [piece for piece in part.profile.outer if isinstance(piece, Arc)]
    assert [arc.radius for arc in arcs] == pytest.approx([13.5] * 4, abs=1e-6)
    # rectangle less what four corners of that radius take off: (4 - pi) r^2
    box = bounding_box(part.profile.outer)
    assert area(part.profile.outer) == pytest.approx(
        box.width * box.height - (4 - math.pi) * 13.5**2, abs=1e-3
    )


def test_a_bar_of_studs_in_one_row_has_half_round_ends():
    part = flange(outline="bar", studs=((-46.0, 0.0), (46.0, 0.0)), pitch=120.0, land=5.0)
    box = bounding_box(part.profile.outer)
    radii = {round(piece.radius, 6) for piece in part.profile.outer if isinstance(piece, Arc)}
    assert radii == {round(box.height / 2.0, 6)} or max(radii) <= box.height / 2.0
    assert_sound(part)


def test_a_bar_keeps_its_land_and_bosses():
    part = flange(outline="bar", growth=HotGrowth(), process="waterjet")
    for window in part.windows:
        assert loop_to_loop(window, part.profile.outer) >= 9.0 - 1e-6
    for hole in part.holes:
        boss = circle(hole.at, hole.boss)
        assert all(
            inside(p.at(0.3), part.profile.outer)
            or point_to_loop(p.at(0.3), part.profile.outer) < 1e-6
            for p in boss
        )


# pieces


def test_one_piece_a_port_has_its_own_bolts_and_name():
    parts = flanges(outline="separate", land=8.0)
    assert [part.name for part in parts] == [f"head_flange_{k}" for k in (1, 2, 3, 4)]
    for k, part in enumerate(parts):
        assert part.cylinders == (k + 1,)
        assert [hole.name for hole in part.holes] == [f"stud {k + 1}a", f"stud {k + 1}b"]
        assert_sound(part)
        # each is the first one, a pitch on
        assert area(part.profile.outer) == pytest.approx(area(parts[0].profile.outer), rel=1e-9)
    for part, after in pairwise(parts):
        assert loop_to_loop(part.profile.outer, after.profile.outer) > 1.0


def test_a_stud_between_two_ports_cannot_be_shared():
    with pytest.raises(ValueError, match="stud 1b stands between cylinders 1 and 2"):
        flanges(outline="separate", studs=((-46.0, 20.0), (46.0, -20.0)))


def test_a_piece_needs_two_bolts():
    with pytest.raises(ValueError, match="fewer than two bolts"):
        flanges(outline="separate", studs=((-32.0, 34.0),))


def test_pieces_that_would_lie_over_one_another_are_refused():
    with pytest.raises(ValueError, match="over one another"):
        flanges(outline="separate", pitch=62.0, land=9.0, studs=((-5.0, 38.0), (5.0, -38.0)))


# relief


def stops(part):
    """Centre, radius and sweep of every round end in the outline."""
    found = {}
    for piece in part.profile.outer:
        if isinstance(piece, Arc) and piece.sweep < 0.0 and piece.radius < 9.0:
            key = (round(piece.centre[0], 6), round(piece.centre[1], 6), round(piece.radius, 6))
            found[key] = found.get(key, 0.0) + piece.sweep
    return sorted((x, y, r, sweep) for (x, y, r), sweep in found.items())


@pytest.mark.parametrize("outline", ["bar", "hugging"])
def test_relief_slots_stand_between_the_windows_and_leave_the_web(outline):
    relief = Relief(3.0, 15.0, 5.0)
    plain, part = flange(outline=outline), flange(outline=outline, relief=relief)
    found = stops(part)
    assert len(found) == 3
    assert part.notes == plain.notes
    assert_sound(part)
    assert area(part.profile.outer) < area(plain.profile.outer)
    for k, (x, _, radius, sweep) in enumerate(found):
        assert radius == pytest.approx(2.5)
        assert sweep == pytest.approx(2 * math.asin(1.5 / 2.5) - math.tau)
        assert 92 * k + 24.15 + 9 <= x <= 92 * (k + 1) - 24.15 - 9
    for window in part.windows:
        assert loop_to_loop(window, part.profile.outer) >= 9.0 - 1e-6
    for hole in part.holes:  # no slot comes into a boss
        assert point_to_loop(hole.at, part.profile.outer) >= hole.boss - 1e-6
    web = {f.subject.split(" / ")[1]: f for f in edge_and_web.run(around(part))}["relief web"]
    assert web.verdict is Verdict.PASS
    assert web.value >= 15.0 - 1e-6
    if outline == "hugging":
        return
    thin = flange(
        outline="bar", ports=2, relief=Relief(3.0, 6.0, 5.0), studs=((-32, 34), (-20, -34))
    )
    web = {f.subject.split(" / ")[1]: f for f in edge_and_web.run(around(thin))}["relief web"]
    assert (web.verdict is Verdict.FAIL) == (web.value < 15.0)


def test_a_slot_without_a_larger_stop_ends_in_a_half_round():
    found = stops(flange(outline="bar", relief=Relief(4.0, 15.0, 4.0)))
    assert [radius for _, _, radius, _ in found] == pytest.approx([2.0] * 3)
    assert [sweep for *_, sweep in found] == pytest.approx([-math.pi] * 3)


def test_a_slot_that_finds_no_room_is_told_of():
    part = flange(
        relief=Relief(3.0, 15.0, 4.0),
        pitch=66.0,
        process="laser",
        studs=((-5.0, 36.0), (5.0, -36.0)),
    )
    assert stops(part) == []
    assert sum("relief slot" in note and "left out" in note for note in part.notes) == 3


def test_a_row_that_climbs_is_relieved_square_to_itself():
    from dataclasses import replace

    from geomgen.geometry.frames import Frame

    asked = wanted(outline="bar", relief=Relief(3.0, 15.0, 5.0))
    tilt = Frame(x=(math.cos(0.1), -math.sin(0.1), 0.0))
    (level,) = head_plates(asked, Cutter(1.5, 1.5))
    (plate,) = head_plates(replace(asked, frame=tilt), Cutter(1.5, 1.5))
    assert replace(asked, frame=tilt).row == pytest.approx(0.1)
    assert area(plate.outer) == pytest.approx(area(level.outer), rel=1e-6)


# holes and stock


def test_dowels_and_taps_are_drilled_and_have_their_bosses():
    more = (dowel("dowel 1", (46.0, 4.0), 6.0, 1.5), tapped("tapped 1", (138.0, 0.0), "M6", 1.5))
    part = flange(more=more, process="waterjet")
    kinds = {hole.name: (hole.kind, hole.diameter, hole.how == "cut") for hole in part.holes[-2:]}
    # tap drill of M6 coarse: ISO 2306, by public tables
    assert kinds == {"dowel 1": ("dowel", 6.0, False), "tapped 1": ("tapped", 5.0, False)}
    assert [hole.note for hole in part.holes[-2:]] == ["ream H7", "tap M6"]
    for hole in part.holes[-2:]:
        assert point_to_loop(hole.at, part.profile.outer) >= hole.boss - 1e-6


def test_a_slot_that_is_asked_for_is_made():
    part = flange(slotted=(Slotted("1a", 4.0, 0.5),), process="waterjet")
    (hole,) = [hole for hole in part.holes if hole.slot > 0.0]
    assert (hole.name, hole.slot, hole.turn) == ("stud 1a", 4.0, 0.5)
    # land along the slot as beside a round hole: a boss as long as the slot
    (edge,) = [f for f in edge_and_web.run(around(part)) if f.subject.endswith("hole to edge")]
    assert edge.value == pytest.approx(1.5)
    with pytest.raises(ValueError, match="no stud is called 9"):
        flange(slotted=(Slotted("9", 4.0, 0.0),))


def test_facing_stock_is_cut_thick_and_said():
    part = flange(facing=2.0)
    assert (part.thickness, part.cut_thickness) == (10.0, 12.0)
    assert any("cut from 12 mm" in note and "to 10 mm" in note for note in part.notes)
    # 9.0 in 12 mm as cut
    assert {round(hole.cut_ratio, 6) for hole in part.holes} == {0.75}


# any pattern


@settings(max_examples=6)
@given(
    st.integers(2, 5),
    st.floats(34, 50),
    st.floats(28, 44),
    st.floats(1.5, 2.4),
    st.floats(-6, 14),
    st.floats(4, 16),
    st.sampled_from(["M6", "M8", "M10"]),
    st.sampled_from(["plasma", "laser", "waterjet"]),
    st.sampled_from(["hugging", "bar", "separate"]),
    st.booleans(),
)
def test_any_pattern_gives_a_sound_flange_that_keeps_its_distances_or_says_so(
    ports, w, h, pitch, out, up, thread, process, outline, slotted
):
    x, y = w / 2 + out, h / 2 + up
    said = {
        "ports": ports,
        "loop": slot(w, h),
        "pitch": round(w * pitch, 3),
        "studs": ((-x, y), (x, -y)),
        "land": 7.0,
        "thread": thread,
        "process": process,
        "growth": HotGrowth(),
    }
    try:
        relief = Relief(3.0, 12.0, 5.0) if slotted and outline != "separate" else None
        parts = flanges(outline=outline, relief=relief, **said)
    except ValueError:
        # only what cannot be parted, and then it can be made as one
        assert outline == "separate"
        parts = flanges(outline="hugging", **said)
    found = edge_and_web.run(around(*parts))
    told = {f.subject for f in found if f.verdict is Verdict.FAIL}
    for part in parts:
        assert_sound(part)
        outer = part.profile.outer
        if f"{part.name} / window land" not in told:
            assert all(loop_to_loop(window, outer) >= 5.0 - 1e-6 for window in part.windows)
        if f"{part.name} / hole to edge" not in told:
            for hole in part.holes:
                ends = [point_to_loop(p, outer) for p in hole.centres]
                assert min(ends) >= 1.5 * hole.diameter - 1e-6
        if f"{part.name} / hole to window" not in told:
            assert all(
                loop_to_loop(hole.loop, window) >= 5.0 - 1e-6 and not inside(hole.at, window)
                for hole in part.holes
                for window in part.windows
            )
        if f"{part.name} / hole to hole" not in told:
            assert all(
                loop_to_loop(a.loop, b.loop) >= 5.0 - 1e-6
                for i, a in enumerate(part.holes)
                for b in part.holes[i + 1 :]
            )


@settings(max_examples=6)
@given(
    st.lists(st.tuples(st.floats(-0.4, 0.4), st.floats(-0.6, 0.2)), min_size=3, max_size=3),
    st.sampled_from(["hugging", "bar"]),
)
def test_any_lean_gives_a_sound_flange_with_its_land(leans, outline):
    asked = wanted(
        ports=3,
        pitch=110.0,
        directions=[(x, y, 1.0) for x, y in leans],
        outline=outline,
        studs=((-38.0, 42.0), (38.0, -42.0)),
    )
    (plate,) = head_plates(asked, Cutter(1.5, 1.5))
    assert gap(plate.outer) < 1e-6
    assert is_simple(plate.outer)
    for window in plate.windows:
        assert is_simple(window)
        assert loop_to_loop(window, plate.outer) >= 9.0 - 1e-6
