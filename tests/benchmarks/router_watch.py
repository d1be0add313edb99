"""Problems to time, the processor's time, and a look over the router's shoulder.

The looks replace names inside ``geomgen.routing.attempt`` for as long as they last; the router
itself is not changed and does not know that it is watched.
"""

from __future__ import annotations

import math
import statistics
import sys
import textwrap
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from unittest import mock

import numpy as np
from asking import asked
from problem_set import problems

from geomgen.routing import attempt as rounds
from geomgen.routing.assignments import in_order
from geomgen.routing.problem import Problem
from geomgen.routing.score import layout_score
from geomgen.routing.solve import route


class OutOfTime(Exception):
    """The processor time that a run may take is used up."""


class Done(Exception):
    """What was looked for has been found."""


@dataclass
class Found:
    """A layout that was proven: when [s of CPU], its score, and what it is made of."""

    at: float
    score: float
    slots: tuple[int, ...]
    batches: tuple[Any, ...]


@dataclass
class Watch:
    """What the router did: sets of candidates that it moved, and layouts that it proved."""

    begun: float
    starts: list[tuple[tuple[int, ...], tuple[Any, ...]]] = field(default_factory=list)
    found: list[Found] = field(default_factory=list)

    @property
    def best(self) -> float:
        """Least score proven; infinite when none was."""
        return min((one.score for one in self.found), default=math.inf)


@contextmanager
def watching(
    seconds: float = math.inf,
    until: float = -math.inf,
    descend: Callable[..., Any] = rounds.descend,
    then: float = math.inf,
    **changed: object,
) -> Iterator[Watch]:
    """Note every start and every proven layout of the rounds inside.

    Args:
        seconds: processor time after which ``OutOfTime`` is raised.
        until: ``Done`` is raised once a proven layout scores no more than this.
        descend: what moves a set of candidates.
        then: processor time after which ``OutOfTime`` is raised when a layout has been proven.
        changed: other names of ``routing.attempt`` to replace meanwhile.
    """
    watch = Watch(time.process_time())
    prove = rounds.proven

    def moved(problem: Problem, slots: tuple[int, ...], batches: Any, *rest: Any) -> Any:
        if time.process_time() - watch.begun > (min(seconds, then) if watch.found else seconds):
            raise OutOfTime
        watch.starts.append((slots, batches))
        return descend(problem, slots, batches, *rest)

    def proven(problem: Problem, slots: tuple[int, ...], settled: Any, *rest: Any) -> Any:
        paths = prove(problem, slots, settled, *rest)
        if paths is not None:
            now = time.process_time() - watch.begun
            score = layout_score(paths, in_order(problem, slots))
            watch.found.append(Found(now, score, slots, settled.batches))
            if score <= until + 1e-6:
                raise Done
        return paths

    with mock.patch.multiple(rounds, descend=moved, proven=proven, **changed):
        yield watch


def cpu(work: Callable[[], Any]) -> tuple[float, Any]:
    """Processor time of some work [s], and what it gave."""
    begun = time.process_time()
    result = work()
    return time.process_time() - begun, result


def named(names: Sequence[str]) -> list[dict[str, Any]]:
    """Problems of the set by name."""
    every = {p["name"]: p for p in problems.load("feasible")}
    return [every[name] for name in names]


def by_size(every: list[dict[str, Any]]) -> dict[int, list[dict[str, Any]]]:
    """Problems by number of runners."""
    out: dict[int, list[dict[str, Any]]] = {}
    for problem in every:
        out.setdefault(len(problem["tubes"]), []).append(problem)
    return dict(sorted(out.items()))


def warmed_up() -> None:
    """What a process pays once, imports and caches, is paid before anything is timed."""
    route(asked(problems.load("feasible")[0]))


def exponent(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    """Of the power of size by which time grows: slope of the logarithms, least squares."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> list[str]:
    """A Markdown table; all but the first column to the right."""
    lines = ["| " + " | ".join(head) + " |", "|---|" + "---:|" * (len(head) - 1)]
    return lines + ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]


def prose(text: str) -> list[str]:
    """Lines of a paragraph."""
    return textwrap.wrap(text, 98)


def middle(values: Sequence[float]) -> float:
    """The median; not a number when there is nothing."""
    return statistics.median(values) if values else math.nan


def say(*words: object) -> None:
    """Progress."""
    print(*words, file=sys.stderr, flush=True)
