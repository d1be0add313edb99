"""Bend sources: what can be had from each line of a shelf."""

from __future__ import annotations

import math

import pytest
from fluids.piping import nearest_pipe
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from geomgen.registry import plugins
from geomgen.shelf import has, offers
from geomgen.shelf.bend import Spec as Bend
from geomgen.shelf.die import Spec as Die
from geomgen.shelf.elbow import CENTRE_TO_END_45, PIPES, radius_of
from geomgen.shelf.elbow import Spec as Elbow

KINDS = plugins("geomgen.shelf", "KIND")


def test_every_kind_of_source_is_there():
    assert list(KINDS) == ["bend", "die", "elbow"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_tag_is_the_kind(kind):
    assert KINDS[kind].Spec.model_fields["kind"].annotation.__args__ == (kind,)


def test_offers_keep_the_shelfs_order_and_its_numbers():
    shelf = (
        Bend(clr=67.5, angle=180, leg=100),
        Bend(clr=57, angle=90, leg=75, long_leg=300),
        Elbow(kind="elbow", clr=57, angle=90),
        Elbow(kind="elbow", clr=57, angle=45, cut=False),
        Die(kind="die", clr=76.2, grip=80, od=38.1),
    )
    found = offers(shelf)
    assert [o.clr for o in found] == [67.5, 57, 57, 57, 76.2]
    assert [o.most for o in found] == [180, 90, 90, 45, 180]
    assert [o.legs for o in found] == [(100, 100), (75, 300), (0, 0), (0, 0), (0, 0)]
    assert [o.angles for o in found] == [(), (), (), (45,), ()]
    assert [o.made for o in found] == ["cut", "cut", "cut", "cut", "bent"]
    assert [o.grip for o in found] == [0, 0, 0, 0, 80]
    assert found[0].label == "U-bend 180 deg, CLR 67.5 mm"
    assert found[1].label.startswith("J-bend")


def test_lines_for_another_tube_are_left_out():
    shelf = (Bend(clr=67.5, angle=180), Bend(clr=57, angle=180, od=38.1))
    assert [o.clr for o in offers(shelf, od=45)] == [67.5]
    assert [o.clr for o in offers(shelf, od=38.1)] == [67.5, 57]


@given(st.floats(0.5, 180), st.floats(1, 180))
def test_a_stock_bend_gives_any_smaller_angle(stock, wanted):
    (offer,) = offers((Bend(clr=60, angle=stock),))
    assert has(offer, 60, wanted) == (wanted <= stock + 1e-6)
    assert not has(offer, 61, wanted)


@given(st.floats(1, 90))
def test_an_elbow_that_is_not_cut_has_one_angle(wanted):
    (offer,) = offers((Elbow(kind="elbow", clr=57, angle=45, cut=False),))
    assert has(offer, 57, wanted) == (abs(wanted - 45) <= 1e-6)
    assert has(offer, 57, 45)


@pytest.mark.parametrize(
    "said",
    [{"clr": 0, "angle": 90}, {"clr": 60, "angle": 0}, {"clr": 60, "angle": 181}, {"angle": 90}],
)
def test_no_bend_at_all_is_refused(said):
    with pytest.raises(ValidationError):
        Bend.model_validate(said)


def test_a_die_must_state_its_grip():
    with pytest.raises(ValidationError, match="grip"):
        Die.model_validate({"kind": "die", "clr": 60})


@pytest.mark.parametrize("nps", sorted(PIPES))
def test_an_elbows_outside_is_the_pipes(nps):
    """ASME B36.10M as the fluids library has it."""
    dn, inches, od = PIPES[nps]
    found, _, outside, _ = nearest_pipe(NPS=inches, schedule="40")
    assert found == inches
    assert od == pytest.approx(outside * 1000.0, abs=0.01)
    # DN is the size in inches times 25, or a little more (from memory: ISO 6708).
    assert 0.9 * 25.4 * inches <= dn <= 1.25 * 25.4 * inches
    (offer,) = offers((Elbow.model_validate({"kind": "elbow", "dn": dn}),))
    assert offer.od == od


@pytest.mark.parametrize(
    ("nps", "long", "short", "half", "back"),
    [
        ("1", 38, 25, 22, 76),
        ("1-1/4", 48, 32, 25, 95),
        ("1-1/2", 57, 38, 29, 114),
        ("2", 76, 51, 35, 152),
        ("2-1/2", 95, 64, 44, 190),
        ("3", 114, 76, 51, 229),
    ],
)
def test_elbows_are_those_of_the_standard(nps, long, short, half, back):
    """Centre to end of 90 and 45 deg elbows, centre to centre of long returns: ASME B16.9 as
    two public tables reprint it, to the millimetre."""
    assert radius_of(nps, "long") == pytest.approx(long, abs=1.0)
    assert radius_of(nps, "short") == pytest.approx(short, abs=1.0)
    assert 2.0 * radius_of(nps, "long") == pytest.approx(back, abs=1.0)
    assert CENTRE_TO_END_45[nps] == half
    (offer,) = offers((Elbow(kind="elbow", nps=nps, angle=45),))
    end = offer.clr * math.tan(math.radians(22.5)) + offer.legs[0]
    assert end == pytest.approx(half, abs=1.0)


@pytest.mark.parametrize(
    ("nps", "centre_to_end"), [("1", 76), ("1-1/2", 114), ("2", 152), ("3", 229), ("4", 305)]
)
def test_three_diameter_elbows(nps, centre_to_end):
    """Centre to end of 3D elbows, ASME B16.9, from memory."""
    assert radius_of(nps, "3d") == pytest.approx(centre_to_end, abs=1.0)


def test_the_smallest_long_elbows_are_as_large_as_the_next():
    """1/2, 3/4 and 1 in all have 38 mm centre to end (ASME B16.9, from memory)."""
    assert {radius_of(nps, "long") for nps in ("1/2", "3/4", "1")} == {38.1}


@pytest.mark.parametrize(
    "said", ["1-1/2", "1 1/2", "1.5", 1.5, "1-1/2 in", "1.5in"], ids=lambda s: repr(s)
)
def test_a_nominal_size_may_be_said_in_many_ways(said):
    elbow = Elbow.model_validate({"kind": "elbow", "nps": said})
    assert (elbow.nps, elbow.clr, elbow.od) == ("1-1/2", 57.15, 48.3)
    assert Elbow.model_validate(elbow.model_dump()) == elbow


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"nps": "7"},
        {"dn": 41},
        {"nps": "2", "dn": 40},
        {"nps": "2", "clr": 57},
        {"nps": "2", "od": 63.5},
        {"clr": 57, "radius": "long"},
        {"nps": "2", "angle": 45, "radius": "short", "cut": False},
        {"nps": "2", "angle": 60, "cut": False},
        {"nps": True},
    ],
    ids=str,
)
def test_elbows_that_are_not_to_be_had_are_refused(said):
    with pytest.raises(ValidationError):
        Elbow.model_validate({"kind": "elbow", **said})


def test_a_data_sheets_rounding_is_taken():
    elbow = Elbow.model_validate({"kind": "elbow", "nps": "1-1/2", "clr": 57, "od": 48.26})
    assert (elbow.clr, elbow.od) == (57, 48.26)


def test_keys_that_are_not_said_are_left_out_of_what_is_said():
    """Locks made before the keys were known are kept by a hash of this."""
    assert set(Elbow(kind="elbow", clr=57).model_dump()) == {"kind", "clr", "angle", "od", "cut"}
