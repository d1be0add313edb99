"""What the firing order says of an engine, of a group and of a bank, before anything is laid out.

Orders, banks, groups and intervals: public tables of firing orders.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from geomgen.checks import bank_side, firing_intervals, firing_order
from geomgen.design.engine_rows import EngineRows
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

BY_FOUR = (("left", (1, 3)), ("right", (2, 4)))
BY_SIX = (("left", (1, 3, 5)), ("right", (2, 4, 6)))
ODD_EVEN = (("left", (1, 3, 5, 7)), ("right", (2, 4, 6, 8)))
BY_HALVES = (("left", (1, 2, 3, 4)), ("right", (5, 6, 7, 8)))
I6, V6 = (1, 5, 3, 6, 2, 4), (1, 2, 3, 4, 5, 6)
FLAT_V8, CROSS_V8 = (1, 5, 4, 8, 3, 7, 2, 6), (1, 8, 4, 3, 6, 5, 7, 2)


def engine(layout: str, banks: tuple = (), here: tuple[str, ...] = ()) -> EngineRows:
    return EngineRows(layout, banks, "flywheel" if banks else "", here)


def firing(design: Design, order: tuple[int, ...], rows: EngineRows) -> Design:
    return replace(design, firing_order=order, engine=rows)


@pytest.mark.parametrize(
    ("order", "rows"),
    [
        ((1, 3, 4, 2), engine("inline")),
        ((1, 2, 4, 3), engine("inline")),
        (I6, engine("inline")),
        ((1, 3, 2, 4), engine("flat", BY_FOUR)),
        ((1, 4, 2, 3), engine("flat", BY_FOUR)),
    ],
)
def test_orders_of_the_tables_pass(demo_design, order, rows) -> None:
    (found,) = firing_order.run(firing(demo_design, order, rows))
    assert (found.verdict, found.value, found.limit) == (Verdict.PASS, 360.0, 360.0)


@pytest.mark.parametrize(
    ("order", "rows"),
    [
        ((1, 3, 2), engine("inline")),
        ((1, 2, 3), engine("inline")),
        ((1, 2), engine("inline")),
        (V6, engine("vee", BY_SIX)),
        (FLAT_V8, engine("vee", BY_HALVES)),
        (CROSS_V8, engine("vee", ODD_EVEN)),
        ((1, 3, 2, 4), engine("flat")),
    ],
)
def test_other_orders_of_the_tables_are_not_judged(demo_design, order, rows) -> None:
    assert firing_order.run(firing(demo_design, order, rows)) == ()


@pytest.mark.parametrize(
    ("order", "rows", "least", "usual"),
    [
        (V6, engine("inline"), 120.0, "1-5-3-6-2-4 is usual"),
        ((1, 5, 3, 2, 6, 4), engine("inline"), 240.0, "1-5-3-6-2-4 is usual"),
        ((1, 2, 3, 4), engine("inline"), 180.0, "1-3-4-2 or 1-2-4-3 is usual"),
        ((1, 3, 4, 2), engine("flat", BY_FOUR), 180.0, "1-3-2-4 or 1-4-2-3 is usual"),
    ],
)
def test_an_order_that_no_ordinary_crank_has_warns(demo_design, order, rows, least, usual) -> None:
    (found,) = firing_order.run(firing(demo_design, order, rows))
    assert (found.verdict, found.value) == (Verdict.WARN, least)
    assert usual in found.remedy


def meeting(
    design: Design, order: tuple[int, ...], rows: EngineRows, *groups: tuple[int, ...]
) -> tuple[Finding, ...]:
    design = firing(design, order, rows)
    return firing_intervals.run(replace(design, collector=replace(design.collector, groups=groups)))


@pytest.mark.parametrize(
    ("order", "rows", "group", "gap"),
    [
        ((1, 3, 2), engine("inline"), (1, 2, 3), 240),
        ((1, 3, 4, 2), engine("inline"), (1, 2, 3, 4), 180),
        ((1, 3, 4, 2), engine("inline"), (1, 4), 360),
        (I6, engine("inline"), (1, 2, 3), 240),
        (I6, engine("inline"), (4, 5, 6), 240),
        (V6, engine("vee", BY_SIX), (2, 4, 6), 240),
        (V6, engine("vee"), (1, 3, 5), 240),
        (FLAT_V8, engine("vee", BY_HALVES), (5, 6, 7, 8), 180),
        (CROSS_V8, engine("vee", ODD_EVEN), (1, 4, 6, 7), 180),
        (CROSS_V8, engine("vee"), (2, 3, 5, 8), 180),
    ],
)
def test_groups_of_the_tables_fire_evenly(demo_design, order, rows, group, gap) -> None:
    (found,) = meeting(demo_design, order, rows, group)
    assert found.verdict is Verdict.PASS
    assert (found.value, found.limit) == (gap, gap)
    assert found.message == f"one fires every {gap} deg"


@pytest.mark.parametrize(
    ("bank", "told"),
    [
        ((1, 3, 5, 7), "270 deg after 1, 180 deg after 3, 90 deg after 5, 180 deg after 7"),
        ((2, 4, 6, 8), "90 deg after 8, 180 deg after 4, 270 deg after 6, 180 deg after 2"),
    ],
)
def test_a_bank_of_a_cross_plane_eight_is_as_the_crank_has_it(demo_design, bank, told) -> None:
    (found,) = meeting(demo_design, CROSS_V8, engine("vee", ODD_EVEN), bank)
    assert found.verdict is Verdict.PASS
    assert (found.value, found.limit) == (90, None)
    assert found.message.startswith(
        f"next fires {told}: uneven as the crank has it, a whole bank; of "
    )
    assert found.message.endswith(" one fires every 180 deg")
    (unsaid,) = meeting(demo_design, CROSS_V8, engine("vee"), bank)
    assert (unsaid.verdict, unsaid.limit) == (Verdict.WARN, 180)
    assert "engine.banks" in unsaid.remedy


@pytest.mark.parametrize(
    ("order", "rows", "group", "better"),
    [
        (V6, engine("vee", BY_SIX), (1, 2, 5), "1+3+5"),
        (V6, engine("vee"), (1, 2, 5), "1+3+5"),
        (I6, engine("inline"), (1, 3, 5), "1+2+3"),
        ((1, 3, 4, 2), engine("inline"), (1, 3), "1+4"),
        (FLAT_V8, engine("vee", BY_HALVES), (1, 2, 3, 5), "1+2+3+4"),
    ],
)
def test_a_group_that_is_less_even_than_need_be_warns(
    demo_design, order, rows, group, better
) -> None:
    (found,) = meeting(demo_design, order, rows, group)
    assert found.verdict is Verdict.WARN
    assert f"bring together {better}" in found.remedy


def test_three_of_a_vee_six_that_are_no_bank_are_told_with_their_intervals(demo_design) -> None:
    (found,) = meeting(demo_design, V6, engine("vee", BY_SIX), (1, 2, 5))
    assert found.message == (
        "next fires 120 deg after 1, 360 deg after 2, 240 deg after 5; "
        "of 1+3+5 one fires every 240 deg"
    )
    assert (found.value, found.limit) == (120, 240)


def test_as_even_as_an_odd_number_can_be_passes(demo_design) -> None:
    """Two of a three: 240 and 480 whichever two they are."""
    (found,) = meeting(demo_design, (1, 3, 2), engine("inline"), (1, 2))
    assert (found.verdict, found.value) == (Verdict.PASS, 240)


def test_four_of_a_six_with_the_same_least_gap_may_still_be_less_even(demo_design) -> None:
    """120, 120, 120, 360 against 120, 120, 240, 240."""
    (found,) = meeting(demo_design, I6, engine("inline"), (1, 3, 5, 6))
    assert (found.verdict, found.value, found.limit) == (Verdict.WARN, 120, 120)


def test_pairs_and_scrolls_are_left_to_their_own_check(demo_design) -> None:
    found = meeting(demo_design, I6, engine("inline"), (1, 2, 3), (4, 5, 6), (1, 2, 3, 4, 5, 6))
    assert [f.subject for f in found] == ["1+2+3+4+5+6"]
    assert meeting(demo_design, I6, engine("inline"), (1,), (2,)) == ()


def test_a_bank_that_nothing_holds_to_a_side_warns(demo_design) -> None:
    (found,) = bank_side.run(firing(demo_design, V6, engine("vee", here=("left",))))
    assert (found.verdict, found.subject) == (Verdict.WARN, "left bank")
    assert "engine.banks" in found.remedy
    held = firing(demo_design, V6, engine("vee", BY_SIX, ("left",)))
    (told,) = bank_side.run(held)
    assert told.verdict is Verdict.PASS
    assert (
        told.message == "left bank seen from the flywheel end: cylinders 1 3 5, front to flywheel"
    )
    assert bank_side.run(firing(demo_design, I6, engine("inline", here=("left",)))) == ()
