"""What can be wrong with a spec, and what a check or proof found. Plain frozen data."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

KeyPath = tuple[str | int, ...]
"""Where something stands in a spec: ``("runners", "tube", "od")``."""


@dataclass(frozen=True)
class Problem:
    """One complaint about a spec, in the words of the person at the bench.

    ``line`` and ``column`` count from 1; 0 means not placed yet.
    """

    path: KeyPath
    found: str
    allowed: str
    remedy: str
    file: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        key = ".".join(str(part) for part in self.path) or "(whole file)"
        return f"{place}: {key}: found {self.found}; allowed: {self.allowed}; {self.remedy}"


class SpecError(Exception):
    """The spec cannot be used. Carries every problem found, in file order."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: (p.file, p.line, p.column, str(p))))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class Verdict(StrEnum):
    """Outcome of one check or proof on one subject."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"
    WAIVED = "waived"
    NOT_RUN = "not-run"


@dataclass(frozen=True)
class Finding:
    """What one check or proof found about one subject.

    Attributes:
        name: of the check or proof, e.g. ``runner-length``.
        subject: what was looked at, e.g. ``runner 1`` or ``runner 1 / steering shaft``.
        verdict: the outcome.
        value: what was measured, in ``unit``; None when there is no number.
        limit: what it was held against, in ``unit``; None when there is none.
        unit: of value and limit: ``mm``, ``deg``, ``mm2``, ``%``, ``count``, ...
        message: one sentence, with the numbers in it.
        remedy: what to do; empty when nothing need be done.
        where: worst point in the head frame [mm], when there is one.
        source: whether a check (on the design) or a proof (on written bytes) says so.
    """

    name: str
    subject: str
    verdict: Verdict
    message: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    remedy: str = ""
    where: tuple[float, float, float] | None = None
    source: Literal["check", "proof"] = field(default="check")
