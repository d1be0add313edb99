"""The router on some problems of the set: every answer proven anew, every barrier named.

The whole set takes minutes: ``tests/benchmarks/bench_router.py``.
"""

from __future__ import annotations

from typing import Any

import pytest
from asking import answered, asked
from problem_set import problems, reprove

from geomgen.routing.assignments import in_order
from geomgen.routing.problem import Impossible, Routed
from geomgen.routing.score import layout_score
from geomgen.routing.solve import route

FEASIBLE = {p["name"]: p for p in problems.load("feasible")}
INFEASIBLE = {p["name"]: p for p in problems.load("infeasible")}

SAMPLE = (
    "f42_na_2",
    "f57_turbo_2",
    "f45_na_3",
    "f73_na_3",
    "f18_na_4",
    "f19_turbo_4",
    "f54_turbo_4",
    "f32_na_5",
    "f41_na_6",
    "f59_vee_6",
    "f74_na_7",
    "f37_na_8",
)
CERTIFICATES = {
    "n06_floor_3": "floor",
    "n07_pitch_3": "pitch",
    "n08_stub_blocked_3": "end-blocked",
    "n09_turn_3": "turn",
    "n10_sealed_3": "sealed",
    "n22_too_few_bends_2": "too-few-bends",
}


def test_the_sample_has_every_size_and_the_hard_ones() -> None:
    chosen = [FEASIBLE[name] for name in SAMPLE]
    assert {len(p["tubes"]) for p in chosen} == set(range(2, 9))
    assert sum(p["about"]["least_margin"] <= 1.01 for p in chosen) >= 6
    assert sum(p["about"]["over_floor"] <= 1.03 for p in chosen) >= 3
    kinds = {INFEASIBLE[name]["certificate"]["kind"] for name in CERTIFICATES}
    assert kinds == {p["certificate"]["kind"] for p in INFEASIBLE.values()}


def routed(problem: dict[str, Any]) -> Routed:
    """The router's answer, which must keep every rule by code that knows no router."""
    answer = route(asked(problem))
    assert isinstance(answer, Routed), answer
    assert reprove.reprove(problem, answered(answer)) == []
    return answer


@pytest.mark.parametrize("name", SAMPLE)
def test_it_is_routed_proven_and_no_worse_than_planted(name: str) -> None:
    problem = FEASIBLE[name]
    answer = routed(problem)
    slots = tuple(problem["planted"]["slots"])
    planted = tuple(problems.centrelines(problem, problem["planted"]))
    assert answer.score <= layout_score(planted, in_order(asked(problem), slots))


@pytest.mark.parametrize("name", CERTIFICATES)
def test_it_is_barred_by_that_and_not_when_that_is_gone(name: str) -> None:
    problem = INFEASIBLE[name]
    answer = route(asked(problem))
    assert isinstance(answer, Impossible)
    assert answer.kind == CERTIFICATES[name]
    routed(problems.relaxed(problem))
