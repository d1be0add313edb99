"""Every problem of a set routed, and every answer proven anew by code that knows no router."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from asking import answered, asked
from problem_set import problems, reprove
from router_watch import cpu, middle, say, table

from geomgen.routing.assignments import in_order
from geomgen.routing.problem import Answer, Impossible, Routed
from geomgen.routing.score import layout_score
from geomgen.routing.solve import route

SAME = 1e-6
"""Scores nearer than this are equal."""

KINDS = {"stub-blocked": "end-blocked"}
"""Certificates that the set and the router call by different names."""


@dataclass(frozen=True)
class Result:
    """What came of one problem.

    Attributes:
        problem: as the set has it.
        seconds: of processor time.
        answer: the router's.
        broken: rules that the answer breaks by the independent proof; None without a layout.
        planted: score of the planted answer.
    """

    problem: dict[str, Any]
    seconds: float
    answer: Answer
    broken: list[str] | None
    planted: float

    @property
    def proven(self) -> bool:
        """Whether there is a layout that keeps every rule."""
        return self.broken == []


def routed(problem: dict[str, Any]) -> Result:
    """One problem, routed and proven anew."""
    question = asked(problem)
    seconds, answer = cpu(lambda: route(question))
    broken = None
    if isinstance(answer, Routed):
        broken = reprove.reprove(problem, answered(answer))
    return Result(problem, seconds, answer, broken, planted_score(problem))


def planted_score(problem: dict[str, Any]) -> float:
    """Score of the planted answer."""
    slots = tuple(problem["planted"]["slots"])
    paths = tuple(problems.centrelines(problem, problem["planted"]))
    return layout_score(paths, in_order(asked(problem), slots))


def load(folder: Path, part: str) -> list[dict[str, Any]]:
    """Problems of a set that lies in any folder."""
    files = sorted((folder / part).glob("*.json"))
    return [json.loads(file.read_text(encoding="utf-8")) for file in files]


def report(folder: Path) -> list[str]:
    """The whole set in ``folder``."""
    every = []
    for problem in load(folder, "feasible"):
        every.append(routed(problem))
        one = every[-1]
        say(f"  {problem['name']}: {one.seconds:.2f} s, {said(one)}")
    lines = [*feasible(every), ""]
    barred, relaxed = [], []
    for problem in load(folder, "infeasible"):
        barred.append(routed(problem))
        relaxed.append(routed(problems.relaxed(problem)))
        say(f"  {problem['name']}: {said(barred[-1])}; relaxed: {said(relaxed[-1])}")
    return [*lines, *infeasible(every, barred, relaxed)]


def said(one: Result) -> str:
    """In a few words what came of a problem."""
    if isinstance(one.answer, Routed):
        return "proven" if one.proven else "BROKEN: " + "; ".join(one.broken or [])
    return one.answer.kind if isinstance(one.answer, Impossible) else "not found"


def feasible(every: list[Result]) -> list[str]:
    """Table of the problems that have an answer, by number of runners."""
    groups: dict[str, list[Result]] = {}
    for one in every:
        groups.setdefault(str(len(one.problem["tubes"])), []).append(one)
    groups = {**dict(sorted(groups.items())), "all": every}
    tight = [p for p in every if p.problem["about"]["least_margin"] <= 1.001]
    near = [p for p in every if p.problem["about"]["over_floor"] <= 1.03]
    groups |= {"margin <= 1 mm": tight, "within 3 % of the floor": near}
    head = (
        "runners",
        "problems",
        "routed",
        "re-proven",
        "median CPU s",
        "worst CPU s",
        "better than planted",
        "equal",
        "worse",
    )
    return [
        "Problems that have an answer; `better`, `equal` and `worse` compare the score.",
        "",
        *table(head, [row(name, group) for name, group in groups.items() if group]),
        *missing(every),
    ]


def row(name: str, group: list[Result]) -> list[object]:
    """One line of that table."""
    off = [one.answer.score - one.planted for one in group if isinstance(one.answer, Routed)]
    seconds = [one.seconds for one in group]
    return [
        name,
        len(group),
        len(off),
        sum(one.proven for one in group),
        f"{middle(seconds):.2f}",
        f"{max(seconds):.2f}",
        sum(d < -SAME for d in off),
        sum(abs(d) <= SAME for d in off),
        sum(d > SAME for d in off),
    ]


def missing(every: list[Result]) -> list[str]:
    """Names of what did not come out as it should."""
    not_proven = [f"{one.problem['name']} ({said(one)})" for one in every if not one.proven]
    worse = [
        f"{one.problem['name']} ({one.answer.score:.3f} against {one.planted:.3f})"
        for one in every
        if isinstance(one.answer, Routed) and one.answer.score > one.planted + SAME
    ]
    return [
        "",
        f"Not routed or not proven: {', '.join(not_proven) or 'none'}.",
        f"Worse than planted: {', '.join(worse) or 'none'}.",
    ]


def infeasible(every: list[Result], barred: list[Result], relaxed: list[Result]) -> list[str]:
    """Table of the problems that have none, by certificate, and of the same relaxed."""
    rows: list[list[object]] = []
    kinds = [one.problem["certificate"]["kind"] for one in barred]
    wrong = []
    for kind in sorted(set(kinds)):
        group = [i for i, k in enumerate(kinds) if k == kind]
        came = Counter(said(barred[i]) for i in group)
        right = came[KINDS.get(kind, kind)]
        wrong += [
            f"{barred[i].problem['name']} ({said(barred[i])})"
            for i in group
            if said(barred[i]) != KINDS.get(kind, kind)
        ]
        rows.append(
            [
                kind,
                len(group),
                right,
                sum(isinstance(barred[i].answer, Routed) for i in group),
                sum(relaxed[i].proven for i in group),
                f"{max(barred[i].seconds for i in group):.2f}",
                f"{max(relaxed[i].seconds for i in group):.2f}",
            ]
        )
    false = [o.problem["name"] for o in every + relaxed if isinstance(o.answer, Impossible)]
    left = [f"{o.problem['name']} ({said(o)})" for o in relaxed if not o.proven]
    head = (
        "certificate",
        "problems",
        "named",
        "routed",
        "relaxed: re-proven",
        "worst CPU s",
        "relaxed: worst CPU s",
    )
    return [
        "Problems that have no answer, and the same with that one reason taken away.",
        "",
        *table(head, rows),
        "",
        f"Not named by their certificate: {', '.join(wrong) or 'none'}.",
        f"Relaxed and not proven: {', '.join(left) or 'none'}.",
        f"Certificates where there is an answer: {', '.join(false) or 'none'}.",
    ]
