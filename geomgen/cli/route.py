"""``geomgen route``: lay the runners out anew and show what moved."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geomgen.cli import reading, saying
from geomgen.cli.phases import phase

if TYPE_CHECKING:
    from geomgen.design.reroute import Rerouted


@click.command("route")
@saying.spec_argument
@click.option("--dry-run", is_flag=True, help="Show what would move and leave the lock as it is.")
@saying.json_option
@saying.command
def command(spec: Path, dry_run: bool, as_json: bool) -> int:
    """Lay out the runners of SPEC anew, show what moved, and keep them in the lock.

    Of the lock beside SPEC only what is pinned is used. A layout that answers the lock's own
    question worse is shown and not kept.
    """
    from geomgen.cli import pipeline

    rerouted, lock_file = pipeline.solve_anew(pipeline.load(spec))
    first = "the lock is none of these runners" if lock_file.exists() else "there was no lock"
    written = rerouted.keep and not dry_run
    if written:
        with phase("write"):
            reading.write_lock(lock_file, rerouted.new.lock)
    with phase("imports"):
        from geomgen.report.route_report import document, lines
    if as_json:
        saying.show_json(document(rerouted, written))
        return 0
    why = first if rerouted.verdict == "first" else _WHY[rerouted.verdict]
    saying.show("\n".join([*lines(rerouted), "", f"{why}: {_kept(rerouted, lock_file, dry_run)}"]))
    return 0


_WHY = {
    "other inputs": "the lock was solved for other inputs",
    "better": "no worse than the layout in the lock",
    "same": "nothing moved",
    "worse": "worse than the layout in the lock",
}


def _kept(rerouted: Rerouted, lock: Path, dry_run: bool) -> str:
    """What became of the lock."""
    if not rerouted.keep:
        return f"{lock} is left as it is"
    return "not written, --dry-run" if dry_run else f"written to {lock}; commit it beside the spec"
