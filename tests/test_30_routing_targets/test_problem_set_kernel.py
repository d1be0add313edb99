"""The CAD kernel's word on the planted answers of the routing problems."""

from __future__ import annotations

import pytest
from problem_set import kernel_proof, problems, reprove

FEASIBLE = problems.load("feasible")
INFEASIBLE = problems.load("infeasible")


@pytest.mark.parametrize("part", range(4))
def test_kernel_agrees_that_planted_answers_are_clear(part):
    for problem in FEASIBLE[part::4]:
        said = problem["about"]["least_margin"]
        found = kernel_proof.least_margins(problem, problem["planted"], said + 1.0)
        least = min(left for _, _, left in found)
        assert least == pytest.approx(said, abs=0.01), problem["name"]


def test_kernel_agrees_that_relaxed_answers_are_clear():
    for problem in INFEASIBLE:
        relaxed = problems.relaxed(problem)
        found = kernel_proof.least_margins(relaxed, problem["planted"], 20.0)
        assert min(left for _, _, left in found) >= 0.0, problem["name"]


def test_both_measure_the_same():
    """Where the dense proof measures to the end, the kernel's exact distance lies in its bound."""
    for problem in FEASIBLE[:6]:
        exact = {
            (a, b): left for a, b, left in kernel_proof.least_margins(problem, problem["planted"])
        }
        for m in reprove.margins(problem, problem["planted"]):
            if m.other != "itself":
                left = exact[m.subject, m.other]
                assert m.lower - 1e-6 <= left <= m.upper + 1e-6
