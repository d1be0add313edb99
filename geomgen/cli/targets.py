"""``geomgen targets``: length, bore and collector by every rule, side by side."""

from __future__ import annotations

from pathlib import Path

import click

from geomgen.cli import saying


@click.command("targets")
@saying.spec_argument
@saying.json_option
@saying.command
def command(spec: Path, as_json: bool) -> int:
    """Size the primaries of SPEC by every rule of the trade, with formulae and sources."""
    from geomgen.cli import pipeline

    source = pipeline.load(spec)
    said, rows = source.spec, pipeline.tuning_rows(source)
    if as_json:
        from geomgen.report.result_json import target_row

        saying.show_json({"format": 1, "name": said.name, "targets": [target_row(r) for r in rows]})
        return 0
    from geomgen.report.summary import target_lines

    length = said.runners.length
    chosen = f"tuned by: {said.runners.tuned_by}" if length == "tuned" else f"set to {length} mm"
    if length == "shortest":
        chosen = "the shortest that is found"
    saying.show("\n".join([f"{said.name}: length {chosen}", "", *target_lines(rows)]))
    return 0
