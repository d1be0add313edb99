"""Assignments of tubes to slots against a list of all permutations."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from routing_bundles import bundle

from geomgen.routing.assignments import allowed, assignments, in_order
from geomgen.routing.problem import Problem
from geomgen.routing.score import OUT_OF_ORDER


def many(tubes: int, slots: int, orders: tuple[int, ...] = ()) -> Problem:
    """Tubes and slots enough; where they are does not matter here."""
    problem = bundle(max(tubes, slots))
    edges = tuple(
        replace(edge, order=orders[i] if orders else i)
        for i, edge in enumerate(problem.edges[:tubes])
    )
    return replace(problem, edges=edges, slots=problem.slots[:slots])


def neighbours_follow(
    slots: tuple[int, ...], orders: tuple[int, ...], ring: tuple[int, ...]
) -> bool:
    """Walked round a ring, the tubes met fire one after the other, forwards or backwards."""
    met = [slots.index(slot) for slot in ring if slot in slots]
    if len(met) != len(ring):
        return True
    turn = sorted(met, key=lambda tube: orders[tube])
    n = len(turn)
    rounds = [[turn[(s + way * i) % n] for i in range(n)] for s in range(n) for way in (1, -1)]
    return met in rounds


def by_brute_force(
    problem: Problem, least: np.ndarray
) -> dict[tuple[int, ...], tuple[float, bool]]:
    """Every assignment with its bound and whether it follows the firing order."""
    rings = problem.rings or (tuple(range(len(problem.slots))),)
    orders = tuple(edge.order for edge in problem.edges)
    out = {}
    for slots in permutations(range(len(problem.slots)), len(problem.edges)):
        cost = sum(least[tube, slot] for tube, slot in enumerate(slots))
        if not np.isfinite(cost):
            continue
        follows = all(neighbours_follow(slots, orders, ring) for ring in rings)
        out[slots] = (cost + (0.0 if follows else OUT_OF_ORDER), follows)
    return out


def agrees(problem: Problem, least: np.ndarray) -> None:
    found = assignments(problem, least)
    wanted = by_brute_force(problem, least)
    assert [bound for bound, _, _ in found] == sorted(bound for bound, _, _ in found)
    assert len({slots for _, slots, _ in found}) == len(found)
    assert {slots for _, slots, _ in found} == set(wanted)
    for bound, slots, follows in found:
        assert bound == pytest.approx(wanted[slots][0], abs=1e-9)
        assert follows == wanted[slots][1]


@st.composite
def asked(draw: st.DrawFn) -> tuple[Problem, np.ndarray]:
    tubes = draw(st.integers(1, 6))
    slots = draw(st.integers(tubes, min(6, tubes + 2)))
    orders = tuple(draw(st.permutations(list(range(tubes)))))
    problem = many(tubes, slots, orders)
    given_slots = draw(
        st.lists(
            st.one_of(
                st.none(),
                st.lists(st.integers(0, slots - 1), min_size=1, unique=True).map(tuple),
            ),
            min_size=tubes,
            max_size=tubes,
        )
    )
    problem = replace(
        problem,
        edges=tuple(
            replace(edge, slots=may) for edge, may in zip(problem.edges, given_slots, strict=True)
        ),
    )
    if slots >= 4 and draw(st.booleans()):
        order = draw(st.permutations(list(range(slots))))
        cut = draw(st.integers(2, slots - 2))
        problem = replace(problem, rings=(tuple(order[:cut]), tuple(order[cut:])))
    costs = draw(st.lists(st.floats(0.0, 9.0), min_size=tubes * slots, max_size=tubes * slots))
    least = np.array(costs).reshape(tubes, slots)
    for tube in range(tubes):
        for slot in range(slots):
            if slot not in allowed(problem, tube):
                least[tube, slot] = np.inf
    return problem, least


@settings(max_examples=30)
@given(asked())
def test_all_come_in_order_of_bound(case: tuple[Problem, np.ndarray]) -> None:
    agrees(*case)


@pytest.mark.parametrize("tubes", [1, 2, 3, 4, 5, 6])
def test_a_cost_of_nothing_at_all_ties_all(tubes: int) -> None:
    agrees(many(tubes, tubes), np.zeros((tubes, tubes)))


def test_slots_that_nobody_reaches_are_left_empty() -> None:
    least = np.array([[1.0, np.inf, 2.0, np.inf], [0.5, np.inf, 0.7, np.inf]])
    problem = many(2, 4)
    agrees(problem, least)
    assert [slots for _, slots, _ in assignments(problem, least)] == [(0, 2), (2, 0)]


def test_a_tube_that_reaches_nothing_leaves_none() -> None:
    least = np.array([[1.0, 2.0], [np.inf, np.inf]])
    assert assignments(many(2, 2), least) == []


def test_more_tubes_than_slots_leaves_none() -> None:
    assert assignments(many(3, 2), np.ones((3, 2))) == []


@pytest.mark.parametrize(
    ("slots", "follows"),
    [
        # Two pairs, 1-4 and 2-3 of firing order 1-3-4-2: any two are in order.
        ((0, 2, 3, 1), True),
        # A ring of three and one of one cannot be out of order either.
        ((3, 1, 0, 2), True),
    ],
)
def test_rings_of_two_are_always_in_order(slots: tuple[int, ...], follows: bool) -> None:
    problem = replace(many(4, 4, (0, 3, 1, 2)), rings=((0, 1), (2, 3)))
    assert in_order(problem, slots) is follows


def test_a_ring_counts_round_itself() -> None:
    """Slots of a ring in its own order, not in that of their numbers."""
    problem = replace(many(4, 4, (0, 1, 2, 3)), rings=((0, 2, 1, 3),))
    assert in_order(problem, (0, 2, 1, 3))
    assert in_order(problem, (3, 1, 2, 0))
    assert not in_order(problem, (0, 1, 2, 3))


@given(st.permutations(list(range(6))), st.permutations(list(range(6))))
def test_every_ring_must_follow(orders: list[int], order: list[int]) -> None:
    problem = replace(many(6, 6, tuple(orders)), rings=(tuple(order[:3]), tuple(order[3:])))
    # Any three follow one another one way round or the other (school combinatorics).
    assert in_order(problem, (0, 1, 2, 3, 4, 5))


@pytest.mark.parametrize("orders", [(0, 2, 5, 7), (7, 0, 5, 2), (2, 7, 0, 5)])
def test_tubes_of_one_bank_are_ranked_among_themselves(orders: tuple[int, ...]) -> None:
    """One bank of an eight fires at places that do not follow on: 0, 2, 5, 7 of eight."""
    agrees(many(4, 4, orders), np.arange(16.0).reshape(4, 4) ** 1.5)


@given(st.permutations(list(range(8))), st.permutations([0, 2, 5, 7, 1, 3, 4, 6]))
def test_tubes_of_two_collectors_are_ranked_ring_by_ring(
    slots: list[int], orders: list[int]
) -> None:
    rings = ((6, 1, 4, 3), (0, 5, 2, 7))
    problem = replace(many(8, 8, tuple(orders)), rings=rings)
    followed = [neighbours_follow(tuple(slots), tuple(orders), ring) for ring in rings]
    assert in_order(problem, tuple(slots)) is all(followed)


def test_both_banks_in_order_though_the_whole_is_not() -> None:
    orders = (0, 2, 5, 7, 1, 3, 4, 6)
    problem = replace(many(8, 8, orders), rings=((0, 1, 2, 3), (4, 5, 6, 7)))
    assert in_order(problem, (0, 1, 2, 3, 4, 5, 6, 7))
    assert in_order(problem, (2, 3, 0, 1, 7, 6, 5, 4))
    assert not in_order(problem, (0, 1, 3, 2, 4, 5, 6, 7))
    assert not in_order(problem, (0, 1, 2, 3, 4, 6, 5, 7))
    one_ring = replace(problem, rings=())
    assert not in_order(one_ring, (0, 1, 2, 3, 4, 5, 6, 7))


def test_the_firing_order_is_there_when_there_are_too_many_to_list() -> None:
    """Eight tubes have 40 320 assignments: those that follow the firing order all come."""
    rng = np.random.default_rng(5)
    orders = (0, 4, 2, 6, 1, 5, 3, 7)
    problem = many(8, 8, orders)
    found = assignments(problem, rng.uniform(0.0, 9.0, (8, 8)))
    assert sum(follows for _, _, follows in found) == 16
    assert [b for b, _, _ in found] == sorted(b for b, _, _ in found)
