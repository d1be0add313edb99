"""What a command prints: verdicts first, then a compact table. Plain text, no colours."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.report.cautions import CAUTIONS
from geomgen.report.release import idle
from geomgen.report.result_json import spread, worst
from geomgen.routing.score import OUT_OF_ORDER
from geomgen.targets.model import MARKS, Target

_TOLD = (Verdict.FAIL, Verdict.NOT_RUN, Verdict.WARN, Verdict.WAIVED)


def summary(design: Design, findings: Sequence[Finding]) -> str:
    """Verdicts, runner table and check table of a design."""
    head = f"{design.name}, revision {design.revision}"
    lines = [f"{head}: {design.title}" if design.title else head, ""]
    lines += verdict_lines(findings)
    lines += [
        f"NOTE    the waiver of {waiver.check} covers nothing that was found: take it out"
        for waiver in idle(findings, design.waivers)
    ]
    lines += ["", *_runner_lines(design), "", *_check_lines(findings), "", tally(findings)]
    return "\n".join(lines)


def verdict_lines(findings: Iterable[Finding]) -> list[str]:
    """Failures, checks not run, warnings, what was waived; each with its remedy, like with like.

    Proofs that wait for a build are in the table alone.
    """
    alike: dict[tuple[Verdict, str, str, str], list[str]] = {}
    for finding in findings:
        if finding.verdict is Verdict.NOT_RUN and finding.source == "proof":
            continue
        key = (finding.verdict, finding.name, finding.message, finding.remedy)
        alike.setdefault(key, []).append(finding.subject)
    lines: list[str] = []
    for told in _TOLD:
        for (verdict, name, message, remedy), subjects in alike.items():
            if verdict is told:
                lines.append(f"{verdict.upper():7} {name}: {', '.join(subjects)}: {message}")
                lines += [f"        -> {remedy}"] if remedy else []
    return lines or ["PASS    nothing fails and nothing warns"]


def tally(findings: Iterable[Finding]) -> str:
    """One line that counts the verdicts, worst first."""
    found = list(findings)
    counts = [
        f"{sum(f.verdict is verdict for f in found)} {word}"
        for verdict, word in (
            (Verdict.FAIL, "failed"),
            (Verdict.WARN, "warned"),
            (Verdict.WAIVED, "waived"),
            (Verdict.NOT_RUN, "not run"),
            (Verdict.PASS, "passed"),
        )
    ]
    return f"{worst(found).upper()}: {', '.join(counts)}"


def target_lines(rows: Sequence[Target]) -> list[str]:
    """Tuning rules side by side, then each with formula, inputs, lift and source."""
    lines = [f"WARN    {w}" for w in sorted({row.warning for row in rows if row.warning})]
    lines += [""] if lines else []
    lines += table(
        ("", "rule", "value", "unit", "mark"),
        ((row.kind, row.rule, f"{row.value:.2f}", row.unit, row.mark) for row in rows),
    )
    lines += ["", *_disagreements(rows), "", "How each is worked:"]
    lines += [line for row in rows for line in _target(row)]
    marks = "; ".join(f"{mark} = {meaning}" for mark, meaning in MARKS.items())
    return [*lines, "", f"Marks: {marks}. All are estimates; a number in the spec wins."]


def _disagreements(rows: Sequence[Target]) -> list[str]:
    lines = []
    for kind in ("length", "bore", "collector"):
        values = [row.value for row in rows if row.kind == kind]
        if len(values) > 1:
            lines.append(f"The {kind} rules answer from {min(values):.1f} to {max(values):.1f} mm.")
    return lines


def caution_lines() -> list[str]:
    """The cautions, one a line."""
    return [f"CAUTION {caution.text}" for caution in CAUTIONS]


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Columns padded to their widest cell; the first is left-aligned, numbers right."""
    cells = [tuple(header), *(tuple(row) for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(header))]
    return [
        "  ".join(
            cell.rjust(width) if _number(body) else cell.ljust(width)
            for cell, width, body in zip(row, widths, cells[-1], strict=True)
        ).rstrip()
        for row in cells
    ]


def _number(cell: str) -> bool:
    return cell[-1:].isdigit() and cell[:1] in "-0123456789"


def _target(row: Target) -> list[str]:
    lift = "no cam event" if row.lift is None else f"timing at {row.lift:.3g} mm lift"
    lines = [
        f"  {row.rule}: {row.datum}",
        f"      {row.formula}",
        f"      {', '.join(row.inputs)}; {lift}",
        f"      source: {row.source} [{row.mark}]",
    ]
    if row.note:
        lines.append(f"      {row.note}")
    return lines


def _runner_lines(design: Design) -> list[str]:
    end = design.tuning.length_to
    rows = [
        (
            str(runner.cylinder),
            f"{runner.target:.2f}",
            f"{runner.account.total:.2f}",
            *(f"{length:.2f}" for _, length in runner.to_ends),
            str(len(runner.path.bends)),
        )
        for runner in design.runners
    ]
    ends = [name for name, _ in design.runners[0].to_ends]
    apart = spread(design)
    return [
        f"Runner lengths in mm, from z = 0 to the {end}; chosen by: {design.tuning.rule}",
        *table(("cylinder", "wanted", "length", *(f"to {name}" for name in ends), "bends"), rows),
        f"spread {apart['spread_mm']:.2f} mm, {apart['spread_percent']:.2f} %",
        *_secondary_lines(design),
        *shortest_lines(design),
        order_line(design),
        *kept_lines(design),
        *bank_lines(design),
    ]


def _secondary_lines(design: Design) -> list[str]:
    return [
        f"{tube.name} of {'+'.join(map(str, tube.cylinders))}: {tube.account.total:.2f} mm from "
        f"join to {design.tuning.length_to}, {tube.target:.2f} wanted"
        for tube in design.secondaries
    ]


def shortest_lines(design: Design) -> list[str]:
    """The smallest common length found and its bound, when it was asked for."""
    if design.shortest is None:
        return []
    found, bound = design.shortest.found, design.shortest.bound
    known = f"found {found:.2f} mm; bound {bound:.2f} mm, which no layout beats"
    return [f"smallest common length: {known}; of lengths between the two nothing is known"]


def kept_lines(design: Design) -> list[str]:
    """What stood before the layout was made, pinned or tacked."""
    kept = [
        f"{edge.name} {math.fsum(part.length for part in edge.kept):.1f} of {edge.length:.1f} mm"
        for edge in design.problem.edges
        if edge.kept
    ]
    return [f"pinned or tacked before, of each tube: {'; '.join(kept)}"] if kept else []


def bank_lines(design: Design) -> list[str]:
    """Which banks the heads are of, seen from which end, with their cylinders."""
    return list(filter(None, (design.engine.told(bank) for bank in design.engine.here)))


def order_line(design: Design) -> str:
    """Whether neighbours round the collector follow the firing order, and what that cost."""
    rings = design.problem.rings
    if rings and all(len(ring) == 1 for ring in rings):
        return "no array: no tubes stand round a collector"
    meeting = design.collector.groups[:-1]
    if meeting:
        groups = ", ".join("+".join(map(str, group)) for group in meeting)
        return f"cylinders that meet first: {groups}"
    where = "along the row" if design.collector.in_line else "round the collector"
    around = "-".join(map(str, design.collector.cylinders))
    order = "-".join(map(str, design.firing_order))
    if design.collector.in_order:
        return f"{where} {around} follows the firing order {order}, at no cost in score"
    return (
        f"{where} {around} does not follow the firing order {order}: "
        f"{OUT_OF_ORDER:g} of the score of {design.score:.2f}"
    )


def _check_lines(findings: Sequence[Finding]) -> list[str]:
    names = list(dict.fromkeys((f.source, f.name) for f in findings))
    rows = []
    for source, name in names:
        group = [f for f in findings if (f.source, f.name) == (source, name)]
        verdict = next(
            v
            for v in (
                Verdict.FAIL,
                Verdict.WARN,
                Verdict.WAIVED,
                Verdict.NOT_RUN,
                Verdict.PASS,
            )
            if any(f.verdict is v for f in group)
        )
        shown = _tightest([f for f in group if f.verdict is verdict])
        rows.append((source, name, str(verdict), shown, str(len(group))))
    return table(("", "name", "verdict", "tightest", "subjects"), rows) if rows else []


def _tightest(group: Sequence[Finding]) -> str:
    """The finding nearest its limit, in words."""
    measured = [f for f in group if f.value is not None and f.limit is not None]
    if not measured:
        return ""
    near = min(measured, key=lambda f: abs((f.value or 0.0) - (f.limit or 0.0)))
    return f"{near.value:.4g} against {near.limit:.4g} {near.unit}, {near.subject}".strip()
