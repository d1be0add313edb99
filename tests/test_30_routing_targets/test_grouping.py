"""Groups by firing gap against the tables of intervals, and against every other parting.

Firing orders and intervals: public tables of firing orders; the gaps are counted from the
orders by hand.
"""

from __future__ import annotations

import math
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.targets.firing import intervals
from geomgen.targets.grouping import best_groups, least_gap, worst_gap

I3, I4, I5 = (1, 3, 2), (1, 3, 4, 2), (1, 2, 4, 5, 3)
I6, FLAT4, V6 = (1, 5, 3, 6, 2, 4), (1, 3, 2, 4), (1, 2, 3, 4, 5, 6)
FLAT_V8, CROSS_V8 = (1, 5, 4, 8, 3, 7, 2, 6), (1, 8, 4, 3, 6, 5, 7, 2)


@pytest.mark.parametrize(
    ("order", "sizes", "of", "groups", "gap"),
    [
        (I3, (3,), None, ((1, 2, 3),), 240),
        (I4, (2, 2), None, ((1, 4), (2, 3)), 360),
        ((1, 2, 4, 3), (2, 2), None, ((1, 4), (2, 3)), 360),
        (FLAT4, (2, 2), None, ((1, 2), (3, 4)), 360),
        (I6, (3, 3), None, ((1, 2, 3), (4, 5, 6)), 240),
        (V6, (3, 3), None, ((1, 3, 5), (2, 4, 6)), 240),
        (FLAT_V8, (4, 4), None, ((1, 2, 3, 4), (5, 6, 7, 8)), 180),
        (CROSS_V8, (4, 4), None, ((1, 4, 6, 7), (2, 3, 5, 8)), 180),
        (CROSS_V8, (2, 2), (1, 3, 5, 7), ((1, 5), (3, 7)), 270),
        (CROSS_V8, (2, 2), (2, 4, 6, 8), ((2, 4), (6, 8)), 270),
    ],
)
def test_groups_of_the_tables(order, sizes, of, groups, gap) -> None:
    found = best_groups(order, sizes, of)
    assert found == groups
    assert math.degrees(worst_gap(found, order)) == pytest.approx(gap)


def test_a_five_has_no_even_parting() -> None:
    assert math.degrees(worst_gap(best_groups(I5, (2, 3)), I5)) == pytest.approx(144)


def test_wrong_pairs_of_a_four_are_half_a_turn_apart() -> None:
    assert math.degrees(least_gap((1, 3), I4)) == pytest.approx(180)
    assert math.degrees(least_gap((1,), I4)) == pytest.approx(720)


@given(st.permutations(range(1, 7)), st.sampled_from([(2, 4), (3, 3), (2, 2, 2), (1, 5)]))
def test_no_parting_is_better(order, sizes) -> None:
    order = tuple(order)
    found = best_groups(order, sizes)
    assert sorted(c for group in found for c in group) == [1, 2, 3, 4, 5, 6]
    assert tuple(map(len, found)) == sizes
    for group in found:
        assert sum(gap for _, gap in intervals(order, group)) == pytest.approx(4 * math.pi)
    best = worst_gap(found, order)
    for turned in permutations(range(1, 7)):
        groups, left = [], turned
        for size in sizes:
            groups.append(left[:size])
            left = left[size:]
        if all(list(g) == sorted(g) for g in groups):
            assert worst_gap(tuple(groups), order) <= best + 1e-9


@pytest.mark.parametrize(("sizes", "of"), [((2, 3), None), ((4, 0), None), ((1, 1), (1, 9))])
def test_what_cannot_be_parted_is_refused(sizes, of) -> None:
    with pytest.raises(ValueError, match=r"cylinders|firing order"):
        best_groups(I4, sizes, of)
