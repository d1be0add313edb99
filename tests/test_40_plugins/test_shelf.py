"""Bend sources: what can be had from each line of a shelf."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from geomgen.registry import plugins
from geomgen.shelf import has, offers
from geomgen.shelf.bend import Spec as Bend
from geomgen.shelf.die import Spec as Die
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
