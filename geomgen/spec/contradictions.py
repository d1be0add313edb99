"""What sound sections say against one another or against themselves.

Every rule looks at the sections it needs and keeps silent while one of them is missing, so
that one broken section does not hide the contradictions of the others.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from geomgen.errors import KeyPath, Problem
from geomgen.spec.bench import Bench, Pin
from geomgen.spec.engine import Engine, Head
from geomgen.spec.flange import Flange
from geomgen.spec.header import Shelf, Waiver
from geomgen.spec.limits import Limits
from geomgen.spec.obstacles import Obstacle
from geomgen.spec.plates import PlateSpec, complaints
from geomgen.spec.runners import Runners
from geomgen.spec.tools import Tool


@dataclass(frozen=True)
class Sections:
    """The sections of a spec that are sound; None for those that are not."""

    title: str | None = None
    engine: Engine | None = None
    heads: tuple[Head, ...] | None = None
    flange: Flange | None = None
    runners: Runners | None = None
    shelf: Shelf | None = None
    collector: Any = None
    tools: tuple[Tool, ...] | None = None
    obstacles: tuple[Obstacle, ...] | None = None
    limits: Limits | None = None
    waive: tuple[Waiver, ...] | None = None
    pins: tuple[Pin, ...] | None = None
    bench: tuple[Bench, ...] | None = None
    plates: tuple[PlateSpec, ...] | None = None
    attachments: tuple[Any, ...] | None = None
    vertical: tuple[float, float, float] | None = None
    files: Mapping[str, bytes] = field(default_factory=dict)
    """Content of the files that port shapes are read from."""

    @staticmethod
    def of(sections: Mapping[str, Any], files: Mapping[str, bytes]) -> Sections:
        """From sections by their keys, and the files that port shapes are read from."""
        said = {f.name: sections.get(f.name) for f in fields(Sections) if f.name != "files"}
        return Sections(**said, files=files)


Rule = Callable[[Sections], Iterator[Problem]]


def contradictions(sections: Sections, checks: Collection[str] | None = None) -> list[Problem]:
    """Every contradiction, not placed yet.

    Args:
        sections: what is sound.
        checks: names of all checks and proofs, which ``waive`` may name; None to take any.
    """
    from geomgen.spec import (
        rules_attachments,
        rules_banks,
        rules_bench,
        rules_flange,
        rules_parts,
        rules_place,
        rules_sides,
    )

    rules: tuple[Rule, ...] = (
        *rules_parts.RULES,
        *rules_place.RULES,
        *rules_banks.RULES,
        *rules_sides.RULES,
        *rules_flange.RULES,
        *rules_bench.RULES,
    )
    found = [problem for rule in rules for problem in rule(sections)]
    found += complaints(sections.plates or ())
    found += rules_attachments.complaints(sections)
    return [*found, *_unknown_waivers(sections, checks)]


def _unknown_waivers(sections: Sections, checks: Collection[str] | None) -> Iterator[Problem]:
    if checks is None:
        return
    import difflib

    for i, waiver in enumerate(sections.waive or ()):
        if waiver.check in checks:
            continue
        near = difflib.get_close_matches(waiver.check, sorted(checks), n=1, cutoff=0.5)
        yield complaint(
            ("waive", i, "check"),
            waiver.check,
            f"a check or proof: {', '.join(sorted(checks))}",
            f"did you mean {near[0]}?" if near else "take the waiver out",
        )


def complaint(path: KeyPath, found: str, allowed: str, remedy: str) -> Problem:
    """A contradiction, not placed yet."""
    return Problem(path, found, allowed, remedy)


def twice(names: list[tuple[KeyPath, str]], what: str) -> Iterator[Problem]:
    """Names that are given more than once, at the later place."""
    first: dict[str, KeyPath] = {}
    for path, name in names:
        if name in first:
            yield complaint(
                path, f"a second {what} {name}", f"every {what} once", "give it another name"
            )
        first.setdefault(name, path)
