"""``geomgen build``: make every file, prove it from its bytes, release what may leave."""

from __future__ import annotations

from pathlib import Path

import click

from geomgen.cli import folder, reading, saying
from geomgen.cli.phases import phase


@click.command("build")
@saying.spec_argument
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("out"),
    show_default=True,
    help="Folder that holds the output folders.",
)
@saying.json_option
@saying.command
def command(spec: Path, out: Path, as_json: bool) -> int:
    """Make every file of SPEC in OUT/NAME and keep the solved routes beside SPEC."""
    from geomgen.cli import pipeline

    source = pipeline.load(spec)
    folder.refuse_others(out, source.spec.name)
    decided = pipeline.decide(source, measure=True)
    findings, released = pipeline.make(decided)
    with phase("write"):
        if decided.resolved.solved:
            reading.write_lock(decided.lock_file, decided.resolved.lock)
        made = folder.write(out, decided.design.name, released.files)
    if as_json:
        from geomgen.report.result_json import document

        facts = pipeline.facts(decided, findings, released)
        saying.show_json(document(decided.design, facts))
        return released.exit_code
    from geomgen.report.summary import caution_lines, summary

    lines = [summary(decided.design, findings), ""]
    lines += [f"written to {made}: {', '.join(sorted(released.files))}"]
    if decided.resolved.solved:
        lines.append(f"routes kept in {decided.lock_file}: commit it beside the spec")
    if released.withheld:
        lines.append(f"WITHHELD until nothing fails: {', '.join(released.withheld)}")
    saying.show("\n".join([*lines, "", *caution_lines()]))
    return released.exit_code
