"""Mouths of relief slots are rounded; what seals on the plate has none; the rest is warned of."""

import math

import pytest
from flat_demo import around, flange
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from geomgen.checks import relief_slots
from geomgen.design.outlines import Relief
from geomgen.design.plating import _plate_of
from geomgen.design.slot_mouths import HORN, MOUTH, blended
from geomgen.errors import Verdict
from geomgen.plates import blanking, gasket, test
from geomgen.profiles.convex import corner_turns
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import is_simple
from geomgen.profiles.loops import Arc, Line, area, bounding_box

SHEET = {"name": "it", "thickness": 6, "material": "mild"}
RELIEF = Relief(3.0, 15.0, 5.0)


def polygon(loop):
    return Polygon([point_at(piece, i / 60) for piece in loop for i in range(60)])


@settings(max_examples=6)
@given(st.floats(0.3, 2.6), st.floats(0.3, 2.6))
def test_corners_are_rounded_as_a_disc_rolls_in_them(lean, other):
    """A trapezium: of an angle a rounding takes r^2 (cot(a / 2) - (pi - a) / 2), by calculus."""
    height, wide = 30.0, 300.0
    a, b = (0.0, 0.0), (wide, 0.0)
    c = (wide - height / math.tan(other), height)
    d = (height / math.tan(lean), height)
    shape = (Line(a, b), Line(b, c), Line(c, d), Line(d, a))
    angles = (lean, other, math.pi - other, math.pi - lean)
    found, horns = blended(shape)
    lost = sum(MOUTH**2 * (1 / math.tan(x / 2) - (math.pi - x) / 2) for x in angles)
    assert area(shape) - area(found) == pytest.approx(lost, rel=1e-6)
    arcs = [piece for piece in found if isinstance(piece, Arc)]
    assert {round(arc.radius, 6) for arc in arcs} == {MOUTH}
    assert math.fsum(arc.sweep for arc in arcs) == pytest.approx(math.tau)
    assert sorted(horns) == pytest.approx(sorted(x for x in angles if x < HORN))


@pytest.mark.parametrize("outline", ["bar", "hugging"])
def test_a_slotted_outline_has_no_corner_that_sticks_out_and_is_else_as_it_was(outline):
    part = flange(outline=outline, relief=RELIEF)
    outer = part.profile.outer
    assert is_simple(outer)
    # metal keeps its corners at the stops, where slot and round end meet
    turns = [turn for turn in corner_turns(outer) if turn > 1e-6]
    assert turns == pytest.approx([math.acos(1.5 / 2.5)] * 6, abs=1e-6)
    assert bounding_box(outer) == bounding_box(part.whole)
    away = polygon(part.whole).symmetric_difference(polygon(outer))
    slots = [piece for piece in away.geoms if piece.area > 1.0]
    assert len(slots) == 3
    assert all(piece.bounds[2] - piece.bounds[0] < 5.0 + 4 * MOUTH for piece in slots)


def test_what_seals_on_a_slotted_plate_has_no_slots():
    plain, part = flange(), flange(relief=RELIEF)
    of = _plate_of(part)
    assert of.outer != plain.profile.outer == of.whole
    made = [
        blanking.plate(blanking.Spec(kind="blanking", of="head_flange", **SHEET), of),
        test.plate(test.Spec(kind="test", of="head_flange", **SHEET), of),
        gasket.plate(gasket.Spec(kind="gasket", of="head_flange", **SHEET), of),
    ]
    assert [plate.outer for plate in made] == [plain.profile.outer] * 3
    asked = gasket.Spec(kind="gasket", of="head_flange", relief=True, **SHEET)
    assert gasket.plate(asked, of).outer == part.profile.outer


def test_a_slot_without_room_and_a_horn_warn():
    assert relief_slots.run(around(flange())) == ()
    (good,) = relief_slots.run(around(flange(relief=RELIEF)))
    assert good.verdict is Verdict.PASS
    crowded = flange(relief=RELIEF, pitch=66.0, process="laser", studs=((-5.0, 36.0), (5.0, -36.0)))
    bad = relief_slots.run(around(crowded))
    assert [found.verdict for found in bad] == [Verdict.WARN] * 3
    assert all("left out" in found.message for found in bad)


def test_a_horn_is_told_with_its_angle():
    """A thin wedge, 20 deg at its tip."""
    tip, far = (0.0, 0.0), (200.0, 0.0)
    top = (200.0, 200.0 * math.tan(math.radians(20.0)))
    _, horns = blended((Line(tip, far), Line(far, top), Line(top, tip)))
    assert [round(math.degrees(horn), 6) for horn in horns] == [20.0]
