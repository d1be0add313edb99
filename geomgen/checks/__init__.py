"""Checks on a design, one file a rule; none of them needs the CAD kernel.

A check module defines ``NAME``, a docstring that says what, why, limit and source, and
``run(design) -> tuple[Finding, ...]``. One that needs no layout takes a ``Ground`` instead and
says by ``EARLY`` what comes of a failure before the runners are laid out: it is told, or it stops
the work, because what it judges would be laid out otherwise once it is mended. One that stops
names the keys to mend in ``KEYS``, the likeliest first.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum

from geomgen.design.groundwork import Ground
from geomgen.design.model import Design
from geomgen.errors import Finding, KeyPath, Verdict
from geomgen.registry import plugins


class Early(Enum):
    """What a failure that is known before the runners are laid out does."""

    TOLD = "told"
    STOPS = "stops"


def names() -> tuple[str, ...]:
    """Names of all checks, sorted."""
    return tuple(sorted(plugins(__name__, "NAME")))


def run_all(design: Design) -> tuple[Finding, ...]:
    """Findings of every check, by name of the check."""
    found = plugins(__name__, "NAME")
    return tuple(finding for name in sorted(found) for finding in found[name].run(design))


def run_early(ground: Ground) -> tuple[Finding, ...]:
    """Findings of the checks that need no layout, by name of the check."""
    found = plugins(__name__, "NAME")
    early = [name for name in sorted(found) if hasattr(found[name], "EARLY")]
    return tuple(finding for name in early for finding in found[name].run(ground))


def lays_otherwise(finding: Finding) -> bool:
    """Whether what a check judges would be laid out otherwise, were it mended."""
    return getattr(plugins(__name__, "NAME")[finding.name], "EARLY", None) is Early.STOPS


def keys_of(finding: Finding) -> tuple[KeyPath, ...]:
    """Keys that mend what stops the work, the likeliest first."""
    keys: tuple[KeyPath, ...] = plugins(__name__, "NAME")[finding.name].KEYS
    return keys


def stopping(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Those for which it is of no use to lay anything out, waivers already applied."""
    return tuple(f for f in findings if f.verdict is Verdict.FAIL and lays_otherwise(f))


def judged(ok: bool, otherwise: Verdict = Verdict.FAIL) -> Verdict:
    """Pass, or what it is otherwise."""
    return Verdict.PASS if ok else otherwise
