"""How a command tells what it found, and how it takes a refusal: text, or one JSON document."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geomgen.cli import phases
from geomgen.errors import Finding, Problem, SpecError, Verdict

if TYPE_CHECKING:
    from geomgen.cli.laying_out import Unrouted

FAILED, REFUSED = 1, 2

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document instead of text."
)
spec_argument = click.argument("spec", type=click.Path(path_type=Path), metavar="SPEC")


def command(work: Callable[..., int]) -> Callable[..., int]:
    """Wrap a command: a refused spec or a header with no route is said, never raised."""

    @functools.wraps(work)
    def wrapped(*args: Any, **kwargs: Any) -> int:
        from geomgen.cli.folder import FolderError
        from geomgen.cli.laying_out import Unrouted

        as_json = bool(kwargs.get("as_json"))
        try:
            return work(*args, **kwargs)
        except SpecError as error:
            return _refused(error.problems, as_json)
        except Unrouted as error:
            return _unrouted(error, as_json)
        except FolderError as error:
            raise click.ClickException(str(error)) from None
        finally:
            phases.report()

    return wrapped


def show(text: str) -> None:
    """Print text on stdout."""
    print(text)


def show_json(tree: Any) -> None:
    """Print a plain tree as one JSON document on stdout."""
    from geomgen.report.result_json import as_bytes

    sys.stdout.write(as_bytes(tree).decode("ascii"))


def say_before(findings: Iterable[Finding]) -> None:
    """Say on stderr what is known before the router looks for runners."""
    from geomgen.report.summary import verdict_lines

    found = tuple(findings)
    for line in verdict_lines(found) if found else ():
        print(f"before laying out: {line}", file=sys.stderr)


def _refused(problems: tuple[Problem, ...], as_json: bool) -> int:
    if as_json:
        show_json({"format": 1, "exit_code": REFUSED, "problems": list(map(_row, problems))})
        return REFUSED
    for problem in problems:
        print(problem, file=sys.stderr)
    count = len(problems)
    print(f"{count} problem{'s' * (count != 1)} in the spec; nothing was made", file=sys.stderr)
    return REFUSED


def _row(problem: Problem) -> dict[str, Any]:
    return {
        "file": problem.file,
        "line": problem.line,
        "column": problem.column,
        "path": [str(part) for part in problem.path],
        "found": problem.found,
        "allowed": problem.allowed,
        "remedy": problem.remedy,
    }


def _unrouted(error: Unrouted, as_json: bool) -> int:
    """What is known beforehand, then that nothing was laid out, then the keys to change."""
    from geomgen.report.result_rows import finding_row
    from geomgen.report.summary import verdict_lines

    routing = Finding("routing", "runners", error.verdict, str(error))
    if as_json:
        rows = [finding_row(finding) for finding in (*error.findings, routing)]
        failed = any(finding.verdict is Verdict.FAIL for finding in error.findings)
        document = {
            "format": 1,
            "exit_code": FAILED,
            "verdict": str(Verdict.FAIL if failed else error.verdict),
            "checks": rows,
            "problems": list(map(_row, error.problems)),
        }
        show_json(document | ({"routing": error.facts} if error.facts else {}))
        return FAILED
    lines = verdict_lines(error.findings) if error.findings else []
    lines += [*verdict_lines((routing,)), *(f"        -> {p}" for p in error.problems)]
    show("\n".join(lines))
    return FAILED
