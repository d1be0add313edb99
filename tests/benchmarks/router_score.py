"""The router's score against what far more effort, and another optimiser, find."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
from asking import asked
from router_watch import Found, OutOfTime, cpu, middle, named, prose, say, table, watching
from scipy_residuals import Start, better_by_slsqp

from geomgen.routing import choices
from geomgen.routing.assignments import in_order
from geomgen.routing.attempt import Effort, attempt
from geomgen.routing.problem import Problem, Routed
from geomgen.routing.solve import route

SAMPLE = (
    "f06_na_2",
    "f14_na_3",
    "f05_turbo_3",
    "f01_na_4",
    "f04_na_4",
    "f19_turbo_4",
    "f32_na_5",
    "f07_na_6",
    "f69_na_7",
    "f29_vee_8",
)
TIMES = 100.0
"""How much longer the long run may take."""
OTHER_TIMES = 20.0
"""How much longer the other optimiser may take."""
MOST_SECONDS = 60.0
"""Of one long run; a run that this cuts short is marked."""
RANDOM_STARTS = 12

LONG = Effort(
    draws=((2, 120, 0), (3, 1500, 0), (4, 1500, 0), (5, 500, 0)),
    more=(),
    keep=96,
    give=14.0,
    tries=40,
    descents=40,
    steps=60,
    repairs=8,
)
"""One of many rounds of the long run; each draws on where the one before ended."""


@dataclass(frozen=True)
class Compared:
    """Scores of one problem.

    ``usual`` is the router's, ``long`` the long run's, ``after`` what the other optimiser makes
    of the router's answer, ``other`` what it makes of other starts.
    """

    name: str
    size: int
    seconds: float
    cap: float
    usual: float
    long: float
    after: float
    other: float

    @property
    def over(self) -> float:
        """By what part the usual score lies above the best of all."""
        return self.usual / min(self.usual, self.long, self.after, self.other) - 1.0


def compared(problem: dict[str, Any]) -> Compared:
    """One problem, three ways."""
    question = asked(problem)
    with watching() as usual:
        seconds, answer = cpu(lambda: route(question))
    assert isinstance(answer, Routed), problem["name"]
    mine = min(usual.found, key=lambda one: abs(one.score - answer.score))
    cap = min(TIMES * seconds, MOST_SECONDS)
    hope = mock.patch.object(choices, "_HOPE", 3.0)
    with watching(cap, _ENOUGH=10**9) as long, hope, suppress(OutOfTime):
        for effort in longer():
            attempt(question, effort)
    starts = starts_of(question, mine, long.starts)
    limit = min(OTHER_TIMES * seconds, MOST_SECONDS / 4.0)
    after = better_by_slsqp(question, starts[:1], limit)
    other = better_by_slsqp(question, starts[1:], limit)
    return Compared(
        problem["name"],
        len(problem["tubes"]),
        seconds,
        cap / seconds,
        answer.score,
        long.best,
        after,
        other,
    )


def longer() -> Any:
    """Rounds that draw on."""
    for again in range(1000):
        draws = tuple((bends, n, again * n) for bends, n, _ in LONG.draws)
        yield replace(LONG, draws=draws)


def starts_of(problem: Problem, mine: Found, drawn: list[Any]) -> list[Start]:
    """The router's own answer, then some of the long run's starts, evenly by chance."""
    chosen = np.random.default_rng(7).permutation(len(drawn))[:RANDOM_STARTS]
    every = [(mine.slots, mine.batches), *(drawn[i] for i in chosen)]
    return [(slots, batches, in_order(problem, slots)) for slots, batches in every]


def report(_folder: Path) -> list[str]:
    """The sample, three ways."""
    every = []
    for problem in named(SAMPLE):
        every.append(compared(problem))
        one = every[-1]
        say(
            f"  {one.name}: {one.usual:.3f}, long {one.long:.3f}, SLSQP after {one.after:.3f}, "
            f"elsewhere {one.other:.3f}"
        )
    rows = [
        [
            one.name,
            one.size,
            f"{one.seconds:.2f}",
            f"{one.cap:.0f}",
            f"{one.usual:.3f}",
            shown(one.long),
            shown(one.after),
            shown(one.other),
            f"{one.over:.2%}",
        ]
        for one in every
    ]
    over = [one.over for one in every]
    return [
        *prose(
            "Scores, less is better, all proven by the same proof. The long run draws, keeps, "
            f"tries and moves on until {TIMES:g} times the usual time is gone ({MOST_SECONDS:g} s "
            "at most; `times` says how many that were). The other optimiser is `scipy.optimize` "
            "SLSQP on the score under the same limits and lengths, from the router's answer, and "
            f"from up to {RANDOM_STARTS} starts of the long run taken by chance; each for up to "
            f"{OTHER_TIMES:g} times the usual time ({MOST_SECONDS / 4.0:g} s at most)."
        ),
        "",
        *table(
            (
                "problem",
                "runners",
                "CPU s",
                "times",
                "router",
                "long run",
                "SLSQP from the answer",
                "SLSQP from elsewhere",
                "over best",
            ),
            rows,
        ),
        "",
        *prose(
            f"The router's score lies {middle(over):.2%} above the best that is known in the "
            f"median, {max(over):.2%} at worst. The bar is 5 % in the median."
        ),
    ]


def shown(score: float) -> str:
    """A score, or that there is none."""
    return f"{score:.3f}" if math.isfinite(score) else "none"
