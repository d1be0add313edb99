"""``geomgen check``: lay out and check, write nothing, never load the CAD kernel."""

from __future__ import annotations

from pathlib import Path

import click

from geomgen.cli import saying


@click.command("check")
@saying.spec_argument
@saying.json_option
@saying.command
def command(spec: Path, as_json: bool) -> int:
    """Lay out SPEC and run every check on it. Writes nothing."""
    from geomgen.cli import pipeline

    decided = pipeline.decide(pipeline.load(spec))
    findings = pipeline.check(decided)
    if as_json:
        from geomgen.report.result_json import document

        saying.show_json(document(decided.design, pipeline.facts(decided, findings)))
    else:
        from geomgen.report.summary import summary

        saying.show(summary(decided.design, findings))
        if decided.resolved.solved:
            saying.show("solved anew; geomgen build keeps the routes in the lock")
    return pipeline.exit_code(decided, findings)
