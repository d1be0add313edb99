"""What keys a spec may have where, read off the models."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, Tag
from pydantic.fields import FieldInfo

from geomgen.errors import KeyPath
from geomgen.units import BARE_UNITS, Quantity

Kinds = tuple[type[BaseModel], ...]


def key_of(name: str, field: FieldInfo) -> str:
    """A field's key in the spec."""
    return field.alias or name


def keys_of(model: type[BaseModel]) -> list[str]:
    """Keys that a mapping of this model may have, in order."""
    return [key_of(name, field) for name, field in model.model_fields.items()]


def models_in(annotation: Any) -> list[tuple[type[BaseModel], tuple[str, ...]]]:
    """Models that a field may hold, itself or in a list, each with the tags of its union."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [(annotation, ())]
    found: list[tuple[type[BaseModel], tuple[str, ...]]] = []
    arguments = get_args(annotation)
    tags = tuple(a.tag for a in arguments if isinstance(a, Tag))
    for argument in arguments:
        found += [(model, tags + own) for model, own in models_in(argument)]
    return found


def field_models(field: FieldInfo) -> list[tuple[type[BaseModel], tuple[str, ...]]]:
    """Models that a field may hold."""
    return models_in(field.annotation)


def _field(model: type[BaseModel], key: str) -> FieldInfo | None:
    for name, field in model.model_fields.items():
        if key_of(name, field) == key:
            return field
    return None


def _is_tagged(model: type[BaseModel], tags: tuple[str, ...], part: str) -> bool:
    if part in tags:
        return True
    return any(
        get_origin(field.annotation) is Literal and part in get_args(field.annotation)
        for field in model.model_fields.values()
    )


def models_below(model: type[BaseModel], loc: KeyPath) -> Kinds:
    """Models that may stand at a validation error's location, tags of unions and all."""
    here: list[tuple[type[BaseModel], tuple[str, ...]]] = [(model, ())]
    for part in loc:
        if isinstance(part, int):
            continue
        fields = [f for m, _ in here if (f := _field(m, part)) is not None]
        tagged = [(m, tags) for m, tags in here if _is_tagged(m, tags, part)]
        if len(here) > 1 and tagged:
            here = [(m, ()) for m, _ in tagged]
        else:
            here = [pair for field in fields for pair in field_models(field)]
    return tuple(m for m, _ in here)


def bounds_unit(model: type[BaseModel], loc: KeyPath) -> str:
    """The bare unit of the quantity at an error's location; empty when it has none."""
    for i in range(len(loc) - 1, -1, -1):
        part = loc[i]
        if isinstance(part, str):
            for candidate in models_below(model, loc[:i]):
                field = _field(candidate, part)
                if field is not None:
                    return unit_of(field)
    return ""


def unit_of(field: FieldInfo) -> str:
    """The bare unit of a field's quantity; empty when it has none."""
    kinds = [m.kind for m in field.metadata if isinstance(m, Quantity)]
    kinds += [q.kind for q in _quantities(field.annotation)]
    return BARE_UNITS[kinds[0]] if kinds else ""


def _quantities(annotation: Any) -> Iterator[Quantity]:
    for argument in get_args(annotation):
        if isinstance(argument, Quantity):
            yield argument
        else:
            yield from _quantities(argument)


def paths_of_key(model: type[BaseModel], key: str) -> list[tuple[str, ...]]:
    """Key paths (without list positions) of the mappings that may have ``key``."""
    found: list[tuple[str, ...]] = []

    def walk(here: type[BaseModel], path: tuple[str, ...]) -> None:
        for name, field in here.model_fields.items():
            own = key_of(name, field)
            if own == key and path not in found:
                found.append(path)
            for below, _ in field_models(field):
                walk(below, (*path, own))

    walk(model, ())
    return found
