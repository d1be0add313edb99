"""The way through the house: spec, design, checks, files, proofs, release.

Knows the order and nothing else; each step is a pure function of some storey below.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from geomgen.cli import reading, solids
from geomgen.cli.laying_out import laid_out
from geomgen.cli.names import plugin_names
from geomgen.cli.phases import phase
from geomgen.errors import Finding, Problem, SpecError, Verdict

if TYPE_CHECKING:
    from geomgen.design.model import Design
    from geomgen.design.reroute import Rerouted
    from geomgen.design.resolve import Resolved
    from geomgen.report.release import Released
    from geomgen.report.result_json import Facts
    from geomgen.spec.header import HeaderSpec
    from geomgen.spec.load import Loaded
    from geomgen.targets.model import Target

_LIBRARIES = ("geomgen", "cadquery-ocp", "ezdxf", "numpy")


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
    resolved = laid_out(source, resolve, reading.lock_text(lock_file), measured)
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
    return laid_out(source, reroute, reading.lock_text(lock_file), measured), lock_file


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
