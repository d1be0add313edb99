"""``geomgen schema``: the JSON Schema of a spec, for editors."""

from __future__ import annotations

import click

from geomgen.cli import saying


@click.command("schema")
@saying.command
def command() -> int:
    """Print the JSON Schema of a spec; editors complete and check a spec with it."""
    from geomgen.spec.schema import schema_text

    saying.show(schema_text().rstrip("\n"))
    return 0
