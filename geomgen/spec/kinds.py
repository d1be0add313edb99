"""Field types made of whatever plug-ins are there: the one cast from module to model."""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag

from geomgen.registry import plugins
from geomgen.units import StrictModel


def specs(package: str) -> dict[str, type[StrictModel]]:
    """``Spec`` of every plug-in of ``package``, by its ``KIND``, in sorted order."""
    found = plugins(package, "KIND")
    return {kind: found[kind].Spec for kind in sorted(found)}


def tagged(package: str, tag: str, default: str | None = None) -> Any:
    """The type of a field that takes any plug-in's ``Spec``, told apart by its ``tag``.

    Args:
        package: plug-in package, ``geomgen.ports``.
        tag: key that names the kind, ``shape``.
        default: kind of a mapping that leaves the tag out; None when it must be there.
    """
    models = specs(package)
    if len(models) == 1:
        return next(iter(models.values()))
    if default is None:
        return Annotated[reduce(or_, models.values()), Field(discriminator=tag)]

    def kind(value: Any) -> Any:
        said = value.get(tag, default) if isinstance(value, dict) else getattr(value, tag, default)
        return said if isinstance(said, str) else repr(said)[:40]

    choices = tuple(Annotated[model, Tag(name)] for name, model in models.items())
    return Annotated[reduce(or_, choices), Discriminator(kind)]
