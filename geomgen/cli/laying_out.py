"""Laying runners out: what is known before the router looks, and what it refuses, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, TypeVar

from geomgen.cli.phases import phase
from geomgen.errors import Finding, KeyPath, Problem, SpecError, Verdict

if TYPE_CHECKING:
    from geomgen.cli.pipeline import Source
    from geomgen.design.laying import Task
    from geomgen.geometry.solid_field import Solid

Answer = TypeVar("Answer")


class Unrouted(Exception):
    """Nothing was laid out, and the text says why.

    Attributes:
        verdict: ``fail`` where runners were looked for, ``not-run`` where that is of no use yet.
        findings: what checks say that need no layout.
        problems: keys of the spec to change, each with its line.
        facts: what the router knows, as a plain tree.
    """

    def __init__(
        self,
        verdict: Verdict,
        text: str,
        findings: tuple[Finding, ...] = (),
        problems: tuple[Problem, ...] = (),
        facts: Mapping[str, object] | None = None,
    ) -> None:
        self.verdict, self.findings, self.problems = verdict, findings, problems
        self.facts = facts or {}
        super().__init__(text)


def laid_out(
    source: Source, work: Callable[..., Answer], lock: str | None, measured: Mapping[str, Solid]
) -> Answer:
    """What a function of spec, lock and solids makes; what it refuses is told in words.

    Raises:
        SpecError: the spec cannot be used.
        Unrouted: no set of runners was found; or looking for one is of no use, or must wait for
            a solid that has not been measured.
    """
    from geomgen.design.laying import Unseen
    from geomgen.design.no_route import NoRoute
    from geomgen.design.no_route import facts as facts_of

    known: tuple[Finding, ...] = ()
    with phase("resolve", "laying out the runners") as say:

        def progress(what: str, done: int, whole: int) -> None:
            say(f"laying out the runners: {what}, {done} of {whole}")

        def ahead(task: Task) -> None:
            nonlocal known
            known = _before(source, task)

        try:
            return work(
                source.spec,
                lock,
                files=source.files,
                solids=measured,
                progress=progress,
                ahead=ahead,
            )
        except SpecError as error:
            raise source.placed(error) from None
        except NoRoute as error:
            problem = source.loaded.placed(error.problem)
            facts = facts_of(error.answer, error.base)
            raise Unrouted(Verdict.FAIL, str(error), known, (problem,), facts) from None
        except Unseen as error:
            text = (
                f"runners must be laid out, and {error} must be measured first: geomgen build "
                "or geomgen route does that, and keeps it for the next check"
            )
            raise Unrouted(Verdict.NOT_RUN, text, known) from None


def _before(source: Source, task: Task) -> tuple[Finding, ...]:
    """Say what is known before the router looks for runners.

    Returns:
        What fails in any layout, and what warns that would be laid out otherwise.

    Raises:
        Unrouted: what fails would be laid out otherwise once it is mended.
    """
    from geomgen.checks import keys_of, lays_otherwise, run_early, stopping
    from geomgen.cli.saying import say_before
    from geomgen.design.groundwork import groundwork
    from geomgen.design.model import Waiver
    from geomgen.report.release import waived

    spec = source.spec
    waivers = tuple(Waiver(w.check, w.subject, w.reason) for w in spec.waive)
    found = waived(run_early(groundwork(spec, task.fixed)), waivers)
    told = tuple(
        f
        for f in found
        if f.verdict is Verdict.FAIL
        or (lays_otherwise(f) and f.verdict in (Verdict.WARN, Verdict.WAIVED))
    )
    stops = stopping(told)
    if not stops:
        say_before(told)
        return told
    alike: dict[tuple[str, str], list[Finding]] = {}
    for finding in stops:
        alike.setdefault((finding.name, finding.remedy), []).append(finding)
    problems = tuple(_to_mend(source, keys_of(same[0]), same) for same in alike.values())
    why = "what fails here would be laid out otherwise once it is mended: nothing was looked for"
    raise Unrouted(Verdict.NOT_RUN, why, told, problems)


def _to_mend(source: Source, keys: tuple[KeyPath, ...], found: list[Finding]) -> Problem:
    """The key to change for failures of one check that are mended alike."""
    name, said = found[0].name, [key for key in keys if source.loaded.says(key)]
    return source.loaded.placed(
        Problem(
            (*said, *keys)[0],
            f"{' and '.join(f.subject for f in found)}, which {name} fails",
            f"what {name} passes",
            f"{found[0].remedy}; or waive {name}, with your reason",
        )
    )
