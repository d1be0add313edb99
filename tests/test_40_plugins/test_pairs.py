"""4-2-1: pairs from the firing order, merges where they are said, lengths, gas."""

import math

import pytest

from geomgen.families import Asked, DoesNotFit, Start, TubeSize
from geomgen.families.pairs import Spec, first_join, first_length, junctions, lay_out, pairs_of
from geomgen.geometry.frames import Frame, angle_between, distance, dot, sub
from geomgen.routing.junctions import widened
from geomgen.targets.firing import intervals

TUBE = TubeSize(21.0, 19.5)
UP = (0.0, 1.0, 0.0)
I4, I6, FLAT4 = (1, 3, 4, 2), (1, 5, 3, 6, 2, 4), (1, 3, 2, 4)
I8 = (1, 6, 2, 5, 8, 3, 7, 4)
FLAT_V8, CROSS_V8 = (1, 5, 4, 8, 3, 7, 2, 6), (1, 8, 4, 3, 6, 5, 7, 2)


def spec(**changes: object) -> Spec:
    said = {
        "family": "4-2-1",
        "at": [330, -470, 190],
        "direction": [0.95, -0.3, 0],
        "secondary": {"od": 54, "wall": 1.5, "length": 600},
        "outlet": {"od": 63.5, "wall": 1.5, "length": 150},
    }
    return Spec.model_validate({**said, **changes})


def asked(order: tuple[int, ...] = I4, cylinders: tuple[int, ...] | None = None, **more) -> Asked:
    numbers = cylinders or tuple(sorted(order))
    starts = tuple(Start(c, Frame((90.0 * i, 0.0, 50.0))) for i, c in enumerate(numbers))
    return Asked(TUBE, starts, order, UP, **more)


# Groupings of public firing-order tables; intervals counted from the orders by hand.
@pytest.mark.parametrize(
    ("order", "cylinders", "family", "pairs", "gaps"),
    [
        (I4, None, "4-2-1", {(1, 4), (2, 3)}, (360, 360)),
        ((1, 2, 4, 3), None, "4-2-1", {(1, 4), (2, 3)}, (360, 360)),
        (FLAT4, None, "4-2-1", {(1, 2), (3, 4)}, (360, 360)),
        ((1, 4, 2, 3), None, "4-2-1", {(1, 2), (3, 4)}, (360, 360)),
        (I6, None, "6-3-1", {(1, 6), (2, 5), (3, 4)}, (360, 360)),
        (I6, None, "6-2-1", {(1, 2, 3), (4, 5, 6)}, (240, 240, 240)),
        # An even-firing vee six, odd cylinders in one bank.
        ((1, 2, 3, 4, 5, 6), None, "6-2-1", {(1, 3, 5), (2, 4, 6)}, (240, 240, 240)),
        # A straight eight, half its order on.
        (I8, None, "8-4-1", {(1, 8), (2, 7), (3, 6), (4, 5)}, (360, 360)),
        (CROSS_V8, (1, 3, 5, 7), "4-2-1", {(1, 5), (3, 7)}, (270, 450)),
        (CROSS_V8, (2, 4, 6, 8), "4-2-1", {(6, 8), (2, 4)}, (270, 450)),
        # Bank order 1-4-3-2, a half turn apart each.
        (FLAT_V8, (1, 2, 3, 4), "4-2-1", {(1, 3), (2, 4)}, (360, 360)),
    ],
)
def test_pairs_follow_from_the_firing_order(order, cylinders, family, pairs, gaps) -> None:
    found = pairs_of(spec(family=family), asked(order, cylinders))
    assert set(found) == pairs
    for pair in found:
        between = [round(math.degrees(gap)) for _, gap in intervals(order, pair)]
        assert tuple(sorted(between)) == gaps
        assert sum(between) == 720


def test_said_pairs_win_and_must_be_of_all_cylinders() -> None:
    assert pairs_of(spec(pairs=[[1, 2], [3, 4]]), asked()) == ((1, 2), (3, 4))
    with pytest.raises(DoesNotFit) as refused:
        pairs_of(spec(pairs=[[1, 2], [3, 3]]), asked())
    assert refused.value.key == ("collector", "pairs")
    with pytest.raises(DoesNotFit) as refused:
        pairs_of(spec(), asked(I6))
    assert refused.value.key == ("collector", "family")


def test_threes_are_said_in_threes() -> None:
    threes = spec(family="6-2-1", pairs=[[1, 2, 3], [4, 5, 6]])
    assert pairs_of(threes, asked(I6)) == ((1, 2, 3), (4, 5, 6))
    for family, pairs in (("6-2-1", [[1, 6], [2, 5], [3, 4]]), ("6-3-1", [[1, 2, 3], [4, 5, 6]])):
        with pytest.raises(DoesNotFit) as refused:
            pairs_of(spec(family=family, pairs=pairs), asked(I6))
        assert refused.value.key == ("collector", "pairs")


def test_each_three_has_a_merge_of_three() -> None:
    layout = lay_out(spec(family="6-2-1"), asked(I6))
    assert layout.rings == ((0, 1, 2), (3, 4, 5), (6, 7))
    assert [link.feeds for link in layout.links] == [(0, 1, 2), (3, 4, 5)]
    assert [link.slots for link in layout.links] == [(6, 7), (6, 7)]
    # Three on a circle, equally far from one another, all at the merge angle.
    for ring, link in zip(layout.rings, layout.links, strict=False):
        at = [layout.slots[slot].origin for slot in ring]
        sides = [distance(a, b) for a, b in zip(at, at[1:] + at[:1], strict=True)]
        assert sides == pytest.approx([sides[0]] * 3)
        leans = [angle_between(layout.slots[slot].z, link.start.z) for slot in ring]
        assert leans == pytest.approx([math.radians(10.0)] * 3)
    assert first_join(spec(family="6-2-1")) == (3, pytest.approx(51.0))


def test_each_pair_has_its_merge_and_the_secondaries_the_last() -> None:
    layout = lay_out(spec(), asked())
    assert layout.rings == ((0, 1), (2, 3), (4, 5))
    assert dict(layout.takes) == {1: (0, 1), 4: (0, 1), 2: (2, 3), 3: (2, 3)}
    assert [link.slots for link in layout.links] == [(4, 5), (4, 5)]
    assert [link.feeds for link in layout.links] == [(0, 1), (2, 3)]
    assert [link.length for link in layout.links] == [600.0, 600.0]


def test_a_link_begins_at_its_merges_round_end_and_counts_from_its_first_join() -> None:
    layout = lay_out(spec(), asked())
    for k, link in enumerate(layout.links):
        slot = layout.slots[2 * k]
        join = dict(layout.ends[2 * k])["first-join"]
        # By hand: along the tube to its throat, then along the axis to the cone's end.
        cone = next(e for e in layout.envelopes if e.name == f"cone {k + 1}")
        throat = dict(layout.ends[2 * k])["throat"]
        assert link.before == pytest.approx(throat - join + cone.path.length, abs=1e-9)
        assert distance(link.start.origin, cone.path.end.origin) < 1e-9
        assert angle_between(slot.z, link.start.z) == pytest.approx(math.radians(10.0))


def test_merges_stand_where_they_are_fixed() -> None:
    one = {"at": [100, -150, 250], "direction": [0, -1, 0.2], "roll": 30, "room": 0}
    two = {**one, "at": [200, -150, 150]}
    said = spec(merges=[one, two])
    assert junctions(said, asked()) == ()
    layout = lay_out(said, asked())
    for k, at in enumerate(((100, -150, 250), (200, -150, 150))):
        a, b = layout.slots[2 * k], layout.slots[2 * k + 1]
        middle = tuple(0.5 * (p + q) for p, q in zip(a.origin, b.origin, strict=True))
        assert distance(middle, at) < 1e-9
        way = layout.links[k].start.z
        assert angle_between(way, (0, -1, 0.2)) < 1e-9
        # Clocked 30 deg clockwise along the gas from lying level across the way up.
        across = sub(a.origin, b.origin)
        level = Frame.facing((0, 0, 0), way, UP).rolled(math.radians(30.0)).y
        assert abs(dot(across, level)) == pytest.approx(distance(a.origin, b.origin))


def test_rooms_are_as_said_or_as_usual() -> None:
    said = spec(merges=[{"room": [10, 20, 30], "lean": 5, "roll": 0}, {}])
    first, second = junctions(said, asked())
    assert first.room == (10, 20, 30)
    assert first.lean == pytest.approx(math.radians(5))
    assert first.turn == 0.0
    assert second.room == (80, 80, 80)
    assert second.turn == pytest.approx(math.pi)
    with pytest.raises(DoesNotFit):
        junctions(spec(merges=[{}]), asked())


def test_more_room_is_there_only_where_none_is_said() -> None:
    free, roomy, fixed, led = widened(
        junctions(
            spec(family="8-4-1", merges=[{}, {"room": 30}, {"room": 0}, {"lean": 5}]), asked(I8)
        )
    )
    assert (free.room, free.lean) == ((200, 200, 200), pytest.approx(math.radians(50)))
    assert (roomy.room, roomy.lean) == ((30, 30, 30), pytest.approx(math.radians(50)))
    assert (fixed.room, fixed.lean) == ((0, 0, 0), 0.0)
    assert (led.room, led.lean) == ((200, 200, 200), pytest.approx(math.radians(5)))
    said = spec(merges=[{"room": 30, "lean": 5}, {"room": 40, "lean": 0}])
    assert widened(junctions(said, asked())) == ()


def test_poses_carry_all_of_a_merge() -> None:
    middle = junctions(spec(), asked())
    poses = tuple(j.middle.shifted((5.0, 7.0, -3.0)) for j in middle)
    here = lay_out(spec(), asked(poses=tuple(j.middle for j in middle)))
    there = lay_out(spec(), asked(poses=poses))
    for k in range(4):
        moved = sub(there.slots[k].origin, here.slots[k].origin)
        assert distance(moved, (5.0, 7.0, -3.0)) < 1e-9
    assert there.slots[4:] == here.slots[4:]


def test_the_books_lengths() -> None:
    """15 in of primary, what is left of 754.19 mm behind it: 29.6923 in less 15 in."""
    assert first_length() == pytest.approx(381.0)
    said = spec(secondary={"od": 54, "wall": 1.5, "length": "tuned"})
    layout = lay_out(said, asked(book_length=754.185))
    assert layout.links[0].length == pytest.approx((29.6923 - 15.0) * 25.4, abs=0.01)
    with pytest.raises(DoesNotFit) as refused:
        lay_out(said, asked())
    assert refused.value.key == ("collector", "secondary", "length")
    with pytest.raises(DoesNotFit):
        lay_out(said, asked(book_length=300.0))


def test_what_meets_first() -> None:
    assert first_join(spec()) == (2, pytest.approx(51.0))


def test_areas_run_from_primary_to_outlet_without_a_dip() -> None:
    areas = lay_out(spec(), asked()).areas
    stations = [row.station for row in areas]
    assert stations == sorted(stations)
    what = {row.what: row.area for row in areas}
    assert what["pair secondary"] == pytest.approx(math.pi * 25.5**2)
    assert what["outlet end"] == pytest.approx(math.pi * 30.25**2)
    # From the first join of the pair to that of the last, as long as was asked.
    at = {row.what: row.station for row in areas}
    assert at["first join"] - at["pair first join"] == pytest.approx(600.0)


def test_a_secondary_with_no_bore_is_refused() -> None:
    with pytest.raises(DoesNotFit) as refused:
        lay_out(spec(secondary={"od": 54, "wall": 27, "length": 600}), asked())
    assert refused.value.key == ("collector", "secondary", "wall")


def test_a_secondary_too_wide_for_its_pair_is_told() -> None:
    wide = {"od": 90, "wall": 1.5, "length": 600}
    said = spec(secondary=wide, outlet={"od": 110, "wall": 1.5})
    with pytest.raises(DoesNotFit) as refused:
        lay_out(said, asked())
    assert refused.value.key == ("collector", "secondary", "od")
