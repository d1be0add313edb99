"""``geomgen new``: a commented spec to start from."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import click

from geomgen.cli import saying

SCHEMA_FILE = "geomgen.schema.json"
STARTER_NAME = "my-header"
"""Name that the starter spec carries until it gets its own."""

_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,59}")


@click.command("new")
@click.argument("name", metavar="NAME")
@saying.command
def command(name: str) -> int:
    """Write NAME.yaml, a commented spec to start from, and the schema for editors."""
    file = Path(name if name.endswith(".yaml") else f"{name}.yaml")
    if not _NAME.fullmatch(file.stem):
        raise click.ClickException(
            f"{file.stem!r} cannot name a manifold: small letters, digits, - and _ only"
        )
    _create(file, starter(file.stem))
    lines = [f"wrote {file}"]
    schema = file.with_name(SCHEMA_FILE)
    if not schema.exists():
        from geomgen.spec.schema import schema_text

        _create(schema, schema_text())
        lines.append(f"wrote {schema}, for editors that complete and check YAML")
    lines.append(f"next: edit it, then: geomgen check {file}")
    saying.show("\n".join(lines))
    return 0


def starter(name: str) -> str:
    """Text of the commented spec, under a new name."""
    text = (files("geomgen.cli") / "starter.yaml").read_text(encoding="utf-8")
    return text.replace(STARTER_NAME, name)


def _create(file: Path, text: str) -> None:
    try:
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise click.ClickException(
            f"{file} is there already and is left as it is: choose another name"
        ) from None
