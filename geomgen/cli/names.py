"""Names of checks, exports and proofs, without loading what they need.

The proofs load the CAD kernel, which ``check`` must not; their names are read from the
text of their files.
"""

from __future__ import annotations

import ast
import importlib.util
from pathlib import Path


def plugin_names(package: str) -> tuple[str, ...]:
    """The ``NAME`` that each module of a package defines, in order of module names."""
    spec = importlib.util.find_spec(package)
    homes = spec.submodule_search_locations if spec is not None else None
    files = sorted(file for home in homes or () for file in Path(home).glob("[!_]*.py"))
    return tuple(name for file in files for name in _names_in(file))


def _names_in(file: Path) -> list[str]:
    text = file.read_text(encoding="utf-8")
    if "NAME" not in text:
        return []
    return [
        statement.value.value
        for statement in ast.parse(text).body
        if isinstance(statement, ast.Assign)
        and isinstance(statement.value, ast.Constant)
        and isinstance(statement.value.value, str)
        and any(isinstance(t, ast.Name) and t.id == "NAME" for t in statement.targets)
    ]
