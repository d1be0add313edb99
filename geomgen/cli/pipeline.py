"""The way through the house: spec, design, checks, files, proofs, release.

Knows the order and nothing else; each step is a pure function of some storey below.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from geomgen.cli import reading, solids
from geomgen.cli.names import plugin_names
from geomgen.cli.phases import phase
from geomgen.errors import Finding, KeyPath, Problem, SpecError, Verdict

if TYPE_CHECKING:
    from geomgen.design.laying import Task
    from geomgen.design.model import Design
    from geomgen.design.reroute import Rerouted
    from geomgen.design.resolve import Resolved
    from geomgen.geometry.solid_field import Solid
    from geomgen.report.release import Released
    from geomgen.report.result_json import Facts
    from geomgen.spec.header import HeaderSpec
    from geomgen.spec.load import Loaded
    from geomgen.targets.model import Target

Answer = TypeVar("Answer")

_LIBRARIES = ("geomgen", "cadquery-ocp", "ezdxf", "numpy")


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


@dataclass(frozen=True)
class Source:
    """A spec that can be used: its file, its bytes, what it says, and where it says it.

    ``steps`` has the bytes of each STEP file that it names.
    """

    path: Path
    content: bytes
    spec: HeaderSpec
    loaded: Loaded
    steps: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def files(self) -> dict[str, bytes]:
        """Every file that the design depends on, by the name that the spec has for it."""
        return {**self.steps, **self.loaded.outlines}

    def placed(self, error: SpecError) -> SpecError:
        """The same complaints, each with its line in the spec."""
        return SpecError(tuple(self.loaded.placed(problem) for problem in error.problems))


@dataclass(frozen=True)
class Decided:
    """A spec that has become a design.

    Attributes:
        resolved: the design, its lock, and whether it had to be solved.
        lock_file: where the lock belongs.
        inputs: hashes of what went in, by name.
        targets: rows of the tuning rules; none when the spec gives no cam timing.
    """

    resolved: Resolved
    lock_file: Path
    inputs: Mapping[str, str] = field(default_factory=dict)
    targets: tuple[Target, ...] = ()

    @property
    def design(self) -> Design:
        """The design."""
        return self.resolved.design


def load(path: Path) -> Source:
    """Read a spec.

    Raises:
        SpecError: with every problem found.
    """
    with phase("imports"):
        from geomgen.spec.load import load as load_text
    with phase("load"):
        content = reading.spec_bytes(path)
        names = (*plugin_names("geomgen.checks"), *plugin_names("geomgen.proofs"))
        loaded = load_text(
            content, str(path), read=reading.beside(path, solids.MOST_OUTLINE), checks=names
        )
        steps, problems = solids.step_files(loaded, path)
        if problems:
            raise SpecError((*loaded.problems, *problems))
        return Source(path, content, loaded.required(), loaded, steps)


def decide(source: Source, measure: bool = False) -> Decided:
    """Decide everything that a spec leaves open.

    Args:
        source: the spec.
        measure: whether solids that are not measured yet are measured now, with the kernel;
            else no check sees them.

    Raises:
        SpecError: the spec cannot be used.
        Unrouted: no set of runners was found; or looking for one is of no use, or must wait for
            a solid that has not been measured.
    """
    with phase("imports"):
        from geomgen.design.resolve import resolve
    lock_file = reading.lock_path(source.path, source.spec.name)
    measured = solids.ensure(source) if measure else solids.known(source)
    resolved = _laid_out(source, resolve, reading.lock_text(lock_file), measured)
    inputs = _hashes(source, resolved.lock)
    return Decided(resolved, lock_file, inputs, _targets(resolved.design))


def solve_anew(source: Source) -> tuple[Rerouted, Path]:
    """Lay out the runners from scratch; of the lock only what is pinned is used.

    Returns:
        The new layout beside the old one, and where the lock belongs.

    Raises:
        SpecError: the spec cannot be used.
        Unrouted: no set of runners was found, or looking for one is of no use.
    """
    with phase("imports"):
        from geomgen.design.reroute import reroute
    lock_file = reading.lock_path(source.path, source.spec.name)
    measured = solids.ensure(source)
    return _laid_out(source, reroute, reading.lock_text(lock_file), measured), lock_file


def _laid_out(
    source: Source, work: Callable[..., Answer], lock: str | None, measured: Mapping[str, Solid]
) -> Answer:
    """What a function of spec, lock and solids makes; what it refuses is told in words."""
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


def check(decided: Decided) -> tuple[Finding, ...]:
    """Every check on the design, and every proof as not run."""
    unproven = (
        Finding(
            name,
            "written files",
            Verdict.NOT_RUN,
            "runs on the written files: geomgen build",
            source="proof",
        )
        for name in plugin_names("geomgen.proofs")
    )
    return (*_checks(decided.design), *unproven)


def make(decided: Decided) -> tuple[tuple[Finding, ...], Released]:
    """Every file, proven from its own bytes, and what of it is released."""
    from geomgen.registry import plugins
    from geomgen.report.release import failed, release, waived
    from geomgen.report.result_json import FILE, result

    design = decided.design
    checks = _checks(design)
    with phase("kernel imports", "loading the CAD kernel"):
        import_module("geomgen.solids.step_writer")
        exports = plugins("geomgen.exports", "NAME")
        proofs = plugins("geomgen.proofs", "NAME")
    files: dict[str, bytes] = {}
    for name, module in exports.items():
        with phase(f"export {name}", f"making {name}"):
            files.update(module.export(design))
    for name, module in plugins("geomgen.report", "NAME").items():
        with phase(f"picture {name}", f"drawing {name}"):
            files.update(module.pictures(design))
    found: list[Finding] = []
    for name, module in proofs.items():
        with phase(f"proof {name}", f"proving {name}"):
            found.extend(module.prove(design, files))
    findings = (*checks, *waived(found, design.waivers))
    if failed(findings):
        with phase("export marked", "marking the STEP as not for manufacture"):
            files.update(exports["step"].export_unreleased(design))
    released = release(findings, files)
    report = result(design, facts(decided, findings, released))
    return findings, replace(released, files={**released.files, FILE: report})


def facts(
    decided: Decided, findings: tuple[Finding, ...], released: Released | None = None
) -> Facts:
    """What the report knows beside the design."""
    from importlib.metadata import version

    from geomgen.report.result_json import Facts

    return Facts(
        findings=findings,
        targets=decided.targets,
        from_step=_from_step(findings),
        withheld=() if released is None else released.withheld,
        exit_code=exit_code(decided, findings),
        inputs=decided.inputs,
        versions={library: version(library) for library in _LIBRARIES},
    )


def exit_code(decided: Decided, findings: tuple[Finding, ...]) -> int:
    """1 when something unwaived fails, or when a solid was not there to be checked; else 0."""
    from geomgen.report.release import failed

    return int(failed(findings) or bool(decided.design.unseen))


def tuning_rows(source: Source) -> tuple[Target, ...]:
    """Rows of the tuning rules for a spec, without laying anything out.

    Raises:
        SpecError: the spec cannot be used, or gives no cam timing.
    """
    from geomgen.design.tuning import target_inputs
    from geomgen.targets.rules import targets

    spec = source.spec
    outlet = getattr(spec.collector, "outlet", None)
    tube = spec.runners.tube if outlet is None else outlet
    inputs = target_inputs(spec, tube.od - 2.0 * tube.wall)
    if inputs is None:
        missing = Problem(
            ("engine",),
            "no cam timing, or no speeds",
            "cam, peak_torque_rpm and peak_power_rpm",
            "give all three: the rules need them",
        )
        raise source.placed(SpecError((missing,)))
    said = spec.runners.length
    built = float(said) / 1000.0 if isinstance(said, int | float) else None
    try:
        return targets(inputs, built)
    except ValueError as error:
        odd = Problem(("engine",), "these numbers", "numbers that the rules hold for", str(error))
        raise source.placed(SpecError((odd,))) from None


def _checks(design: Design) -> tuple[Finding, ...]:
    with phase("imports"):
        from geomgen.checks import run_all
        from geomgen.report.release import waived
    with phase("checks", "checking"):
        return waived(run_all(design), design.waivers)


def _targets(design: Design) -> tuple[Target, ...]:
    from geomgen.targets.rules import targets

    inputs = design.tuning.inputs
    if inputs is None:
        return ()
    join = [
        dict(runner.to_ends).get("first-join", runner.account.total) for runner in design.runners
    ]
    return targets(inputs, sum(join) / len(join) / 1000.0)


def _hashes(source: Source, lock: str) -> dict[str, str]:
    from geomgen.exports.manifest import digest

    read = reading.beside(source.path)
    return {
        "spec_sha256": digest(source.content),
        "lock_sha256": digest(lock.encode()),
        **{f"{file}_sha256": digest(read(file)) for file in source.loaded.files},
        **solids.hashes(source.files),
    }


def _from_step(findings: tuple[Finding, ...]) -> dict[int, float]:
    """Lengths that a proof measured in the written STEP, by cylinder [mm]."""
    return {
        int(finding.subject.rpartition(" ")[2]): finding.value
        for finding in findings
        if finding.name == "step-length"
        and finding.value is not None
        and finding.subject.startswith("runner ")
    }
