"""Checks on a design, one file a rule; none of them needs the CAD kernel.

A check module defines ``NAME``, a docstring that says what, why, limit and source, and
``run(design) -> tuple[Finding, ...]``.
"""

from __future__ import annotations

from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.registry import plugins


def names() -> tuple[str, ...]:
    """Names of all checks, sorted."""
    return tuple(sorted(plugins(__name__, "NAME")))


def run_all(design: Design) -> tuple[Finding, ...]:
    """Findings of every check, by name of the check."""
    found = plugins(__name__, "NAME")
    return tuple(finding for name in sorted(found) for finding in found[name].run(design))


def judged(ok: bool, otherwise: Verdict = Verdict.FAIL) -> Verdict:
    """Pass, or what it is otherwise."""
    return Verdict.PASS if ok else otherwise
