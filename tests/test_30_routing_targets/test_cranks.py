"""Cylinders that come up together, and most even groups, against cranks built throw by throw.

A throw's angle says where its piston stands; what the program answers from the layout alone is
held against pistons moved by cranks of the trade: an inline four's throws at 0, 180, 180, 0, a
six's at 0, 120, 240, 240, 120, 0, a flat four's at 0, 180, 180, 0 with bores that look either way.
Firing orders and intervals: public tables of firing orders.
"""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.targets.cranks import USUAL, apart, in_step, usual
from geomgen.targets.firing import intervals
from geomgen.targets.grouping import most_even

ORDERS = {
    "I3": (1, 3, 2),
    "I3, other way": (1, 2, 3),
    "I4": (1, 3, 4, 2),
    "I4, other way": (1, 2, 4, 3),
    "flat four": (1, 3, 2, 4),
    "I6": (1, 5, 3, 6, 2, 4),
    "V6": (1, 2, 3, 4, 5, 6),
    "flat-plane V8": (1, 5, 4, 8, 3, 7, 2, 6),
    "cross-plane V8": (1, 8, 4, 3, 6, 5, 7, 2),
}


def height(throw: float, bore: float, turned: float) -> float:
    """How far a piston is up its bore, of a long rod: the throw's part along it."""
    return math.cos(math.radians(throw + turned - bore))


@pytest.mark.parametrize(
    ("layout", "banks", "throws", "bores"),
    [
        ("inline", (), (0, 180, 180, 0), (0, 0, 0, 0)),
        ("inline", (), (0, 120, 240, 240, 120, 0), (0,) * 6),
        ("flat", ((1, 3), (2, 4)), (0, 180, 180, 0), (0, 180, 0, 180)),
        ("flat", ((2, 4), (1, 3)), (0, 180, 180, 0), (0, 180, 0, 180)),
        ("flat", ((1, 2), (3, 4)), (0, 180, 180, 0), (0, 0, 180, 180)),
    ],
)
def test_pairs_are_the_pistons_that_move_together(layout, banks, throws, bores) -> None:
    """Throws are by place along the crank; a flat four's alternate between the banks."""
    count = len(throws)
    place = {c: k for k, c in enumerate(range(1, count + 1))}
    if layout == "flat":
        place = {c: 2 * k + j for j, bank in enumerate(banks) for k, c in enumerate(bank)}
        bores = tuple(180 * (place[c] % 2) for c in range(1, count + 1))
    pairs = {
        (a, b)
        for a, b in combinations(range(1, count + 1), 2)
        if all(
            math.isclose(
                height(throws[place[a]], bores[a - 1], turned),
                height(throws[place[b]], bores[b - 1], turned),
                abs_tol=1e-9,
            )
            for turned in range(0, 360, 30)
        )
    }
    assert set(in_step(layout, count, banks)) == pairs
    assert len(pairs) == count // 2


def test_what_the_layout_does_not_tell_has_no_pairs() -> None:
    assert in_step("inline", 3) == in_step("inline", 5) == in_step("inline", 2) == ()
    assert in_step("vee", 6, ((1, 3, 5), (2, 4, 6))) == in_step("flat", 4) == ()
    assert in_step("flat", 6, ((1, 2, 3), (4, 5, 6))) == in_step("", 4) == ()


def test_usual_orders_keep_their_pairs() -> None:
    assert usual(in_step("inline", 4)) == ((1, 3, 4, 2), (1, 2, 4, 3))
    assert usual(in_step("inline", 6)) == ((1, 5, 3, 6, 2, 4),)
    assert usual(in_step("flat", 4, ((1, 3), (2, 4)))) == ((1, 3, 2, 4), (1, 4, 2, 3))
    assert usual(in_step("inline", 8)) == ()
    assert {order for order in ORDERS.values() if order in USUAL} == set(USUAL) - {(1, 4, 2, 3)}


@given(st.permutations(range(1, 9)), st.data())
def test_the_way_apart_is_the_shorter_of_two(order, data) -> None:
    one, other = data.draw(st.permutations(range(1, 9)))[:2]
    gaps = [math.degrees(gap) for _, gap in intervals(tuple(order), (one, other))]
    assert math.degrees(apart(tuple(order), one, other)) == pytest.approx(min(gaps))


@pytest.mark.parametrize(
    ("engine", "near", "group", "gaps"),
    [
        ("I3", (1, 2, 3), (1, 2, 3), [240] * 3),
        ("I4", (1, 3), (1, 4), [360] * 2),
        ("I6", (1, 2, 4), (1, 2, 3), [240] * 3),
        ("V6", (1, 2, 5), (1, 3, 5), [240] * 3),
        ("flat-plane V8", (1, 2, 3, 5), (1, 2, 3, 4), [180] * 4),
        ("cross-plane V8", (1, 3, 5, 7), (1, 4, 6, 7), [180] * 4),
        ("cross-plane V8", (2, 4, 6, 8), (2, 3, 5, 8), [180] * 4),
    ],
)
def test_the_most_even_groups_of_the_tables(engine, near, group, gaps) -> None:
    order = ORDERS[engine]
    found = most_even(order, len(near), near)
    assert [math.degrees(gap) for _, gap in intervals(order, found)] == pytest.approx(gaps)
    shared = len(set(found) & set(near))
    assert shared == len(set(group) & set(near))
    if shared > len(near) // 2:
        assert found == group


@given(st.permutations(range(1, 9)), st.integers(1, 8), st.data())
def test_no_group_of_as_many_is_more_even(order, size, data) -> None:
    """Against every other, by the variance of its intervals."""
    order = tuple(order)
    near = tuple(sorted(data.draw(st.permutations(order))[:size]))
    found = most_even(order, size, near)
    assert len(set(found)) == size

    def uneven(group: tuple[int, ...]) -> float:
        gaps = [gap for _, gap in intervals(order, group)]
        assert math.fsum(gaps) == pytest.approx(4 * math.pi)
        return math.fsum(gap**2 for gap in gaps)

    least = min(uneven(group) for group in combinations(order, size))
    assert uneven(found) == pytest.approx(least)
