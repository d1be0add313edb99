"""Blanking and test plates and gaskets: made for another plate, and true to it."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.geometry.frames import Frame
from geomgen.plates import (
    NoPlate,
    Pipe,
    Plate,
    PlateHole,
    blanking,
    gasket,
    rectangular,
    test,
    vband,
)
from geomgen.plates import round as round_plate
from geomgen.profiles.distances import is_simple, loop_to_loop
from geomgen.profiles.loops import Arc, Line, area, bounding_box, circle, perimeter, slot

SHEET = {"name": "it", "thickness": 6, "material": "mild"}


def inlet(**said):
    spec = rectangular.Spec(
        kind="rectangular",
        name="turbine_inlet",
        thickness=12,
        material="321",
        bolts={"pitch": [104, 66], "thread": "M10", "hole": said.pop("hole", "clearance")},
        width=76,
        height=52,
        corner=8,
        divider=6,
        roll=20,
        **said,
    )
    return rectangular.plate(spec, Frame())


def blank(of, **said):
    return blanking.plate(blanking.Spec(kind="blanking", of=of.name, **{**SHEET, **said}), of)


def air_plate(of, **said):
    return test.plate(test.Spec(kind="test", of=of.name, **{**SHEET, **said}), of)


def sheet(of, **said):
    return gasket.plate(gasket.Spec(kind="gasket", of=of.name, **{**SHEET, **said}), of)


def key_of(make, *args, **said):
    with pytest.raises(NoPlate) as caught:
        make(*args, **said)
    return caught.value.key


def test_a_blanking_plate_has_the_outline_and_the_bolts_and_no_window():
    of = inlet()
    plate = blank(of)
    assert plate.outer == of.outer
    assert plate.holes == of.holes
    assert (plate.windows, plate.cuts) == ((), ())
    assert plate.reference == of.windows
    assert plate.loose
    assert plate.thickness == 6


def test_what_is_bolted_to_threads_has_clearance_holes():
    of = inlet(hole="tapped")
    assert {hole.diameter for hole in of.holes} == {8.5}
    for plate in (blank(of), air_plate(of)):
        bolts = [hole for hole in plate.holes if hole.name.startswith("bolt")]
        assert [hole.at for hole in bolts] == [hole.at for hole in of.holes]
        # ISO 273 medium
        assert {(hole.kind, hole.diameter) for hole in bolts} == {("clearance", 11.0)}
    assert {hole.diameter for hole in sheet(of).holes} == {12.0}


def test_a_plate_that_is_bolted_on_cold_says_nothing_of_growth():
    of = inlet()
    notes = ("opened for 0.98 mm of hot growth, with washer", "register")
    holes = tuple(replace(hole, note=note) for hole, note in zip(of.holes[:2], notes, strict=True))
    for plate in (blank(replace(of, holes=holes)), air_plate(replace(of, holes=holes))):
        bolts = [hole for hole in plate.holes if hole.name.startswith("bolt")]
        assert [hole.note for hole in bolts] == ["with washer", ""]
        assert [hole.diameter for hole in bolts] == [hole.diameter for hole in holes]


def test_a_test_plate_has_one_air_port_in_the_middle_of_a_window():
    of = inlet()
    for said, at in (({}, 0), ({"air": {"thread": "G1/4", "window": 2}}, 1)):
        plate = air_plate(of, **said)
        (port,) = (hole for hole in plate.holes if hole.name == "air port")
        box = bounding_box(of.windows[at])
        assert port.at == pytest.approx(((box.left + box.right) / 2, (box.bottom + box.top) / 2))
        assert port.kind == "tapped"
        assert port.thread == ("G1/8", "G1/4")[at]
        assert port.diameter == (8.8, 11.8)[at]
        assert len(plate.holes) == len(of.holes) + 1
    drilled = air_plate(of, air={"diameter": 10, "at": [1, 2]}).holes[-1]
    assert (drilled.kind, drilled.diameter, drilled.at) == ("clearance", 10, (1, 2))
    # builders' practice: 3 to 5 psi; a pound-force a square inch is 0.0689476 bar
    for psi, bar in ((3, 0.2), (5, 0.35)):
        assert abs(psi * 0.0689476 - bar) < 0.01
    assert any("0.2 to 0.35 bar" in note and "oxygen" in note for note in plate.notes)


def test_windows_are_named_by_cylinder_where_the_plate_has_cylinders():
    of = Plate(
        "head_flange",
        "",
        Frame(),
        10.0,
        "304",
        slot(300.0, 80.0),
        windows=(circle((-80.0, 0.0), 20.0), circle((80.0, 0.0), 20.0)),
        cylinders=(3, 1),
    )
    assert air_plate(of, air={"thread": "M10", "window": 1}).holes[-1].at == pytest.approx((80, 0))
    assert key_of(air_plate, of, air={"thread": "M10", "window": 2}) == ("air", "window")


def test_an_air_port_needs_a_place_on_the_plate():
    of = inlet()
    assert key_of(air_plate, of, air={"thread": "M6", "at": [200, 0]}) == ("air",)
    assert key_of(air_plate, of, air={"thread": "M6", "at": list(of.holes[0].at)}) == ("air",)
    assert key_of(air_plate, blank(of)) == ("air",)


@given(by=st.floats(0.0, 2.5), more=st.floats(0.0, 3.0))
def test_gasket_windows_grow_by_steiner_and_holes_by_their_share(by, more):
    of = inlet()
    made = sheet(of, window_clearance=by, hole_clearance=more)
    for window, plain in zip(made.windows, of.windows, strict=True):
        grown = area(plain) + perimeter(plain) * by + math.pi * by * by
        assert area(window) == pytest.approx(grown, rel=1e-10)
    for hole, plain in zip(made.holes, of.holes, strict=True):
        assert hole.diameter == pytest.approx(plain.diameter + more)
        assert hole.at == plain.at
    assert loop_to_loop(*made.windows) == pytest.approx(6 - 2 * by, abs=1e-9)
    assert made.sheet
    assert made.loose


def test_a_gasket_opened_too_far_is_refused():
    of = inlet()
    assert key_of(sheet, of, window_clearance=3) == ("window_clearance",)  # the bar is gone
    assert key_of(sheet, of, hole_clearance=40) == ("hole_clearance",)  # over the edge
    spec = round_plate.Spec(
        kind="round",
        name="small",
        thickness=8,
        material="304",
        bolts={"count": 3, "circle": 80, "thread": "M6", "diameter": 6.4},
        bore=66,
    )
    narrow = round_plate.plate(spec, Frame())
    assert key_of(sheet, narrow, hole_clearance=2, window_clearance=3) == ("hole_clearance",)


def test_a_window_with_a_dent_grows_too():
    """A dent shrinks as its window grows: an L of lines, corners in and out."""
    corners = [(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (20.0, 20.0), (20.0, 40.0), (0.0, 40.0)]
    dented = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    of = Plate("l_plate", "", Frame(), 8.0, "304", slot(160.0, 120.0), windows=(dented,))
    (window,) = sheet(of, window_clearance=2).windows
    # five corners turn left by 90 deg: five quarter discs; one turns right: its square is shared
    wanted = 1200 + 160 * 2 + 5 * math.pi - 4
    assert area(window) == pytest.approx(wanted, rel=1e-9)
    assert is_simple(window)
    assert sum(isinstance(piece, Arc) for piece in window) == 5


def test_slots_of_hot_flanges_stay_slots():
    slotted = PlateHole("stud 4a", (60.0, 0.0), 9.0, "M8", 14.0, slot=2.0, turn=0.4)
    of = Plate("head_flange", "", Frame(), 10.0, "304", slot(200.0, 80.0), holes=(slotted,))
    assert blank(of).holes == (slotted,)
    opened = sheet(of, hole_clearance=1).holes[0]
    assert (opened.diameter, opened.slot, opened.turn) == (10.0, 2.0, 0.4)


RING = {"kind": "vband", "name": "ring", "thickness": 12, "material": "304", "od": 92, "bore": 60}


def ring(**said):
    return vband.plate(vband.Spec(**RING, **{"fit": 0, **said}), Frame(), Pipe(60, 57))


@pytest.mark.parametrize("make", [blank, air_plate])
def test_what_closes_a_turned_ring_has_the_stock_and_the_words_of_its_mate(make):
    said = {"facing": 2, "spigot": {"diameter": 70, "height": 3}, "pair": True}
    spec = vband.Spec(**RING, fit=0, **said)
    of = vband.plate(spec, Frame(), Pipe(60, 57))
    mate = vband.mate(spec, of)
    plate = make(of)
    # 2 mm to face; the ring itself has 3 mm more, which its spigot is turned from
    assert (plate.facing, mate.facing, of.facing) == (2.0, 2.0, 5.0)
    assert set(mate.notes) <= set(plate.notes)
    assert any("Recess for a spigot 70 x 3 mm" in note for note in plate.notes)
    assert not any("Bolted" in note for note in plate.notes)


@pytest.mark.parametrize("make", [blank, air_plate])
def test_what_closes_a_bolted_plate_is_not_turned(make):
    plate = make(inlet(facing=2))
    assert plate.facing == 0.0
    assert not any("turned" in note or "Turned" in note for note in plate.notes)


def test_a_ring_without_a_spigot_wants_no_recess():
    plate = blank(ring())
    assert vband.TURNED in plate.notes
    assert not any("Recess" in note for note in plate.notes)
