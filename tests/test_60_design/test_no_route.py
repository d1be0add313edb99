"""What is said when there is no route: plain words, the numbers, and the same as data."""

import pytest

from geomgen.design.no_route import NoRoute, facts
from geomgen.routing.problem import Impossible, Move, NotFound

BASE = 72.5  # plate, transition and stub


def test_a_floor_is_said_in_whole_runners() -> None:
    answer = Impossible("floor", "runner 1", 300.0, 410.25, "no bent tube is shorter than this")
    said = str(NoRoute(answer, BASE))
    assert said.startswith("impossible: runner 1 is asked to be 372.5 mm, but no bent tube")
    assert "least length is 482.8 mm" in said
    assert facts(answer, BASE)["floor_mm"] == pytest.approx(482.75)


def test_another_certificate_speaks_for_itself() -> None:
    answer = Impossible("pitch", "slots", 0.0, 0.0, "slots 1 and 2 are 40 mm apart")
    assert str(NoRoute(answer, BASE)) == "impossible: slots 1 and 2 are 40 mm apart"
    assert facts(answer, BASE)["certificate"] == "pitch"
    assert facts(answer, BASE)["floor_mm"] is None


def test_what_was_not_found_claims_nothing_and_names_every_way_out() -> None:
    moves = (Move("x", 12.5, True), Move("y", -40.0, False))
    answer = NotFound(5120, "runner 1 comes within 4.1 mm of runner 2", 18.25, moves)
    said = str(NoRoute(answer, BASE))
    assert said.startswith("not found: runner 1 comes within 4.1 mm of runner 2. 5120 paths were")
    assert "proves nothing" in said
    assert "all runners 18.2 mm longer than asked; " in said
    assert "12.5 mm along +x of the head (half of that was tried as hard and failed)" in said
    assert "40.0 mm along -y of the head (less may do)" in said
    assert "impossible" not in said
    data = facts(answer, BASE)
    assert (data["tried"], data["longer_by_mm"]) == (5120, 18.25)
    assert data["moves"] == [
        {"axis": "x", "by_mm": 12.5, "half_failed": True},
        {"axis": "y", "by_mm": -40.0, "half_failed": False},
    ]


def test_no_way_out_is_said_too() -> None:
    said = str(NoRoute(NotFound(7, "runner 3 finds no path", None), BASE))
    assert "Neither a longer common length nor a move of the collector" in said
