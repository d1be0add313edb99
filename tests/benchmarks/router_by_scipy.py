"""The router's descent against scipy's optimisers, by time to the first proven layout.

Residuals, slopes, length equations, stop rule and proof are the router's for all. Two ways to
give the same starts:

- chosen: each optimiser takes the place of ``routing.descent.descend`` inside the router's
  rounds, so it is given the sets of candidates that the router has drawn, judged, chosen and
  replaced, in the same order. What scipy does not do is go on to a better score.
- drawn: an ordinary multi-start on what the router has drawn (of the exact length, by the shelf)
  before anything is judged or chosen: assignments in the router's order, tubes by chance.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from asking import asked
from router_set import planted_score
from router_watch import Done, OutOfTime, Watch, middle, named, prose, say, table, watching
from scipy_residuals import DRAWN_BY, METHODS, Method, descent_by

from geomgen.routing import attempt as rounds
from geomgen.routing.assignments import allowed, assignments
from geomgen.routing.descent import Settled, descend
from geomgen.routing.problem import Problem
from geomgen.routing.shapes import shapes
from geomgen.routing.solve import EFFORTS, Effort

CAP = 60.0
GOOD_CAP = 20.0
"""For a layout that is good enough, once there is one at all [s]."""
SAMPLE = (
    "f06_na_2",
    "f36_turbo_2",
    "f14_na_3",
    "f26_turbo_3",
    "f04_na_4",
    "f12_turbo_4",
    "f33_turbo_4",
    "f32_na_5",
    "f10_turbo_6",
    "f20_na_6",
    "f69_na_7",
    "f08_vee_8",
)
TIMES = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0)
STARTS_AN_EFFORT = (40, 160)
"""Starts from the draws of the first and of the second round; the rest from the third's."""


@dataclass(frozen=True)
class Run:
    """Processor time to the first proven layout [s]; infinite when the cap came first.

    ``moving`` is the part of it after the first start was at hand, ``good`` the time to the first
    layout whose score is no worse than the planted answer's.
    """

    seconds: float
    moving: float
    starts: int
    score: float
    good: float

    @staticmethod
    def of(watch: Watch, began: list[float], planted: float) -> Run:
        """What was seen."""
        scored = [one for one in watch.found if one.score <= planted + 1e-6]
        good = [one.at for one in scored if one.at <= GOOD_CAP]
        if not watch.found:
            return Run(math.inf, math.inf, len(began), math.nan, math.inf)
        one = watch.found[0]
        starts = sum(at <= one.at for at in began)
        return Run(one.at, one.at - began[0], starts, one.score, min(good, default=math.inf))


def from_chosen(problem: Problem, method: Method | None, planted: float) -> Run:
    """Rounds with the router's descent, or another method in its place."""
    begun = time.process_time()
    mover = descend if method is None else descent_by(method, begun + CAP)
    began: list[float] = []

    def moved(*arguments: Any) -> Settled:
        began.append(time.process_time() - begun)
        return mover(*arguments)

    with watching(CAP, planted, moved, GOOD_CAP) as watch, suppress(Done, OutOfTime):
        for effort in efforts():
            rounds.attempt(problem, effort)
            if time.process_time() - begun > (GOOD_CAP if watch.found else CAP):
                break
    return Run.of(watch, began, planted)


def efforts() -> Iterator[Effort]:
    """The router's rounds; when they are over, further draws at the last one's effort."""
    yield from EFFORTS
    last = EFFORTS[-1]
    for again in range(1, 1000):
        yield replace(last, draws=tuple((b, n, s + again * n) for b, n, s in last.draws))


def from_drawn(problem: Problem, method: Method, planted: float) -> Run:
    """Multi-start from sets of drawn tubes."""
    begun = time.process_time()
    mover = descent_by(method, begun + CAP)
    began: list[float] = []
    with watching(CAP, planted) as watch, suppress(Done, OutOfTime):
        for slots, batches in drawn_sets(problem):
            began.append(time.process_time() - begun)
            settled = mover(problem, slots, batches, 0, rounds._SLACKS[0])
            if settled.short <= rounds._KEPT:
                rounds.proven(problem, slots, settled, rounds._SLACKS[0], 0)
            if time.process_time() - begun > (GOOD_CAP if watch.found else CAP):
                break
    return Run.of(watch, began, planted)


def drawn_sets(problem: Problem) -> Iterator[tuple[tuple[int, ...], tuple[Any, ...]]]:
    """Sets of drawn tubes: assignments in the router's order, then tubes by chance."""
    n = len(problem.edges)
    chance = np.random.default_rng(3)
    for effort, most in zip(EFFORTS, (*STARTS_AN_EFFORT, 10**9), strict=True):
        draws = (*effort.draws, *effort.more)
        made = {
            (edge, slot): drawn
            for edge in range(n)
            for slot, drawn in shapes(
                problem, edge, allowed(problem, edge), draws, effort.give
            ).items()
        }
        least = np.full((n, len(problem.slots)), np.inf)
        for (edge, slot), some in made.items():
            if len(some):
                least[edge, slot] = some.scores[0]
        order = [slots for _, slots, _ in assignments(problem, least)][: effort.tries]
        for number in range(most if order else 0):
            slots = order[number % len(order)]
            sets = [made[edge, slot] for edge, slot in enumerate(slots)]
            yield slots, tuple(some.single(int(chance.integers(len(some)))) for some in sets)


def report(_folder: Path) -> list[str]:
    """All of the sample, by every method."""
    runs: dict[str, list[Run]] = {}
    for problem in named(SAMPLE):
        question, planted = asked(problem), planted_score(problem)
        runs.setdefault("router", []).append(from_chosen(question, None, planted))
        for name, method in METHODS.items():
            one = from_chosen(question, method, planted)
            runs.setdefault(f"{name}, chosen", []).append(one)
        for name, method in DRAWN_BY.items():
            one = from_drawn(question, method, planted)
            runs.setdefault(f"{name}, drawn", []).append(one)
        say(
            f"  {problem['name']}: "
            + ", ".join(f"{k} {v[-1].seconds:.2f}" for k, v in runs.items())
        )
    return told(runs, {**runs, "better of the chosen": list(map(better, *chosen(runs)))})


def chosen(runs: dict[str, list[Run]]) -> list[list[Run]]:
    """Runs of scipy's methods from the router's own sets."""
    return [runs[f"{name}, chosen"] for name in METHODS]


def better(*runs: Run) -> Run:
    """The sooner of several runs, each of its times for itself."""
    first = min(runs, key=lambda run: run.seconds)
    return replace(first, good=min(run.good for run in runs))


def told(runs: dict[str, list[Run]], every: dict[str, list[Run]]) -> list[str]:
    """The tables and the ratios."""
    each = [[name, *(shown(group[i]) for group in runs.values())] for i, name in enumerate(SAMPLE)]
    return [
        *prose(
            f"Time to the first layout that is proven, {CAP:g} s cap. `scipy.optimize` is given "
            "the router's residuals, slopes and length equations, its stop rule and its proof. "
            "`chosen`: in place of the router's descent, from the same sets of candidates in the "
            "same order, drawing, judging and choosing done by the router and counted for all; "
            "who comes to the end of the rounds goes on with further draws. `drawn`: an ordinary "
            "multi-start from the same draws before the router has judged or chosen any; `own "
            "slopes`: from the residuals alone, without the router's slopes. Only the "
            "router's descent lowers the score on the way. In brackets: starts used, and score."
        ),
        "",
        *table(("problem", *(f"{name} s" for name in runs)), each),
        "",
        f"Problems with a proven layout, of {len(SAMPLE)}, by processor time:",
        "",
        *table(("within s", *every), curve(every, "seconds")),
        "",
        *ratios(every),
        "",
        (
            f"The same by the time to a proven layout that scores no worse than the planted "
            f"answer, {GOOD_CAP:g} s cap:"
        ),
        "",
        *table(("within s", *every), curve(every, "good")[:-1]),
        "",
        *good_ratios(every),
        "",
        "What the cap ended counts with the cap. The bar is 20 at equal success.",
    ]


def ratios(every: dict[str, list[Run]]) -> list[str]:
    """How much longer scipy takes, in the ways that one can ask it."""
    router = every["router"]
    own = [run.seconds for run in router]
    lines = []
    for name, group in list(every.items())[1:]:
        other = [run.seconds for run in group]
        each = [ratio([a], [b]) for a, b in zip(own, other, strict=True)]
        moving = [ratio([a.moving], [b.moving]) for a, b in zip(router, group, strict=True)]
        over = [
            b.score / a.score - 1.0
            for a, b in zip(router, group, strict=True)
            if math.isfinite(b.score)
        ]
        lines.append(
            f"- {name}: {at_equal_success(own, other)}; by problem "
            f"{middle(each):.1f} times in the median, {min(each):.1f} to {max(each):.1f}; "
            f"all together {ratio(own, other):.1f} times; "
            f"from the first start on {middle(moving):.1f} times in the median; "
            f"score {middle(over):+.1%} in the median."
        )
    return lines


def good_ratios(every: dict[str, list[Run]]) -> list[str]:
    """The same for layouts that are good enough."""
    own = [run.good for run in every["router"]]
    lines = []
    for name, group in list(every.items())[1:]:
        other = [run.good for run in group]
        each = [ratio([a], [b], GOOD_CAP) for a, b in zip(own, other, strict=True)]
        lines.append(
            f"- {name}: {at_equal_success(own, other)}; by problem {middle(each):.1f} times in the "
            f"median; all together {ratio(own, other, GOOD_CAP):.1f} times."
        )
    return lines


def at_equal_success(own: list[float], other: list[float]) -> str:
    """Ratio of the times by which as many problems are solved as both solve."""
    solved = min(sum(map(math.isfinite, own)), sum(map(math.isfinite, other)))
    if not solved:
        return "none solved"
    times = sorted(other)[solved - 1] / sorted(own)[solved - 1]
    return f"{times:.1f} times the router's time at equal success ({solved} of {len(SAMPLE)})"


def curve(every: dict[str, list[Run]], what: str) -> list[list[object]]:
    """How many problems were solved by when."""
    return [
        [f"{t:g}", *(sum(getattr(run, what) <= t for run in group) for group in every.values())]
        for t in TIMES
    ]


def ratio(router: Sequence[float], other: Sequence[float], cap: float = CAP) -> float:
    """Sum of times over sum of times, the cap for what was not solved."""
    return sum(min(t, cap) for t in other) / sum(min(t, cap) for t in router)


def shown(run: Run) -> str:
    """A run, or that there is no answer."""
    if math.isfinite(run.seconds):
        return f"{run.seconds:.2f} ({run.starts}, {run.score:.2f})"
    return f"none ({run.starts})"
