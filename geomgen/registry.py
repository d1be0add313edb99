"""One registry for everything that plugs in: a new file in a package registers itself.

A plug-in package (families, ports, checks, ...) is scanned in sorted order; every
module whose name has no leading underscore and which defines the wanted attribute is
a plug-in, keyed by that attribute.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from types import ModuleType


@cache
def plugins(package: str, key: str) -> dict[str, ModuleType]:
    """Modules of ``package`` by the value of their attribute ``key``, in sorted order.

    Raises:
        RuntimeError: two modules claim the same key.
    """
    home = importlib.import_module(package)
    found: dict[str, ModuleType] = {}
    for name in sorted(info.name for info in pkgutil.iter_modules(home.__path__)):
        if name.startswith("_"):
            continue
        module = importlib.import_module(f"{package}.{name}")
        value = getattr(module, key, None)
        if value is None:
            continue
        if value in found:
            raise RuntimeError(f"{package}: {value!r} is claimed by two modules")
        found[value] = module
    return found


def home(spec: object) -> ModuleType:
    """The plug-in module that a ``Spec`` was read by: the one cast from data to code."""
    return importlib.import_module(type(spec).__module__)
