"""What leaves the house: a pure function of what was found and what was made.

While something unwaived fails, nothing that could be cut, bent or welded from is
released. What people need to see why is released, and a STEP that says in its name that
it is not for manufacture.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from geomgen.design.model import Waiver
from geomgen.errors import Finding, Verdict

MARK = "not_for_manufacture"
"""In the name of every file, and of the product in it, that is only to look at."""

_LOOKED_AT = ("result.json", ".png", ".svg", ".html", ".md")


@dataclass(frozen=True)
class Released:
    """Outcome of the release.

    Attributes:
        files: what is written, by path.
        withheld: paths that were made and are not written, sorted.
        exit_code: 0, or 1 when something unwaived failed.
    """

    files: dict[str, bytes]
    withheld: tuple[str, ...]
    exit_code: int


def waived(findings: Iterable[Finding], waivers: Iterable[Waiver]) -> tuple[Finding, ...]:
    """The findings, with each failure that a waiver names turned into waived."""
    listed = tuple(waivers)
    return tuple(_waived(finding, listed) for finding in findings)


def idle(findings: Iterable[Finding], waivers: Iterable[Waiver]) -> tuple[Waiver, ...]:
    """Waivers that no finding of these answers to: a name misspelt, or long since cured."""
    found = tuple(findings)
    return tuple(w for w in waivers if not any(_covers(w, finding) for finding in found))


def failed(findings: Iterable[Finding]) -> bool:
    """Whether something unwaived fails."""
    return any(finding.verdict is Verdict.FAIL for finding in findings)


def release(findings: Iterable[Finding], files: Mapping[str, bytes]) -> Released:
    """Decide what is written.

    Args:
        findings: of checks and proofs, waivers already applied.
        files: everything that was made, by path; names that hold ``MARK`` are the marked
            copies, wanted only when the release fails.
    """
    bad = failed(findings)
    kept = {path: content for path, content in sorted(files.items()) if _leaves(path, bad)}
    withheld = tuple(sorted(path for path in files if path not in kept and not _marked(path)))
    return Released(kept, withheld, int(bad))


def is_cut_from(path: str) -> bool:
    """Whether metal could be cut, bent or welded from this file. Unknown kinds are."""
    return not _marked(path) and not path.endswith(_LOOKED_AT)


def _covers(waiver: Waiver, finding: Finding) -> bool:
    # A proof that says several things puts its own name before each: dxf, dxf-loops.
    named = finding.name == waiver.check or (
        finding.source == "proof" and finding.name.startswith(f"{waiver.check}-")
    )
    return named and waiver.subject in (None, finding.subject)


def _waived(finding: Finding, waivers: tuple[Waiver, ...]) -> Finding:
    if finding.verdict is not Verdict.FAIL:
        return finding
    for waiver in waivers:
        if _covers(waiver, finding):
            message = f"{finding.message}; waived: {waiver.reason}"
            return replace(finding, verdict=Verdict.WAIVED, message=message)
    return finding


def _leaves(path: str, bad: bool) -> bool:
    if _marked(path):
        return bad
    return not (bad and is_cut_from(path))


def _marked(path: str) -> bool:
    return MARK in path.rpartition("/")[2]
