"""Names of checks, exports and proofs, without loading what they need.

The proofs load the CAD kernel, which ``check`` must not; their names are read from the
text of their files.
"""

from __future__ import annotations

import importlib.util
import re
from functools import cache
from pathlib import Path

_NAME = re.compile(r'^NAME = "([^"\n]+)"$', re.MULTILINE)


@cache
def plugin_names(package: str) -> tuple[str, ...]:
    """The ``NAME`` that each module of a package defines, in order of module names."""
    spec = importlib.util.find_spec(package)
    homes = spec.submodule_search_locations if spec is not None else None
    files = sorted(file for home in homes or () for file in Path(home).glob("[!_]*.py"))
    return tuple(name for file in files for name in _NAME.findall(file.read_text("utf-8")))
