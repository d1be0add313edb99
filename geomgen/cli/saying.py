"""How a command tells what it found, and how it takes a refusal: text, or one JSON document."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from geomgen.cli import phases
from geomgen.errors import Problem, SpecError

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
        from geomgen.cli.pipeline import Unmeasured, Unroutable

        as_json = bool(kwargs.get("as_json"))
        try:
            return work(*args, **kwargs)
        except SpecError as error:
            return _refused(error.problems, as_json)
        except Unroutable as error:
            return _unroutable("fail", str(error), as_json, error.facts)
        except Unmeasured as error:
            return _unroutable("not-run", str(error), as_json)
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


def _refused(problems: tuple[Problem, ...], as_json: bool) -> int:
    if as_json:
        rows = [
            {
                "file": p.file,
                "line": p.line,
                "column": p.column,
                "path": [str(part) for part in p.path],
                "found": p.found,
                "allowed": p.allowed,
                "remedy": p.remedy,
            }
            for p in problems
        ]
        show_json({"format": 1, "exit_code": REFUSED, "problems": rows})
        return REFUSED
    for problem in problems:
        print(problem, file=sys.stderr)
    count = len(problems)
    print(f"{count} problem{'s' * (count != 1)} in the spec; nothing was made", file=sys.stderr)
    return REFUSED


def _unroutable(
    verdict: str, text: str, as_json: bool, facts: Mapping[str, object] | None = None
) -> int:
    if as_json:
        row = {"name": "routing", "subject": "runners", "verdict": verdict, "message": text}
        document = {"format": 1, "exit_code": FAILED, "verdict": verdict, "checks": [row]}
        show_json(document | ({"routing": facts} if facts else {}))
    else:
        print(f"{verdict.upper():7} routing: runners: {text}")
    return FAILED
