"""The JSON Schema of a spec, for editors that complete and check YAML.

Made from the models, with what stands beside them: ``take`` in any mapping, and points and
directions as people can measure them.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema

from geomgen.spec.blocks import KEY as TAKE
from geomgen.spec.docs import class_doc, field_docs
from geomgen.spec.header import HeaderSpec
from geomgen.spec.measured import AngleFinder, TapePoint
from geomgen.spec.shape import field_models, key_of
from geomgen.units import TEXT_PATTERN

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_TAKE: dict[str, Any] = {
    "type": "string",
    "pattern": r"^[^#\\:/~][^#\\:]*#[A-Za-z0-9_-]+$",
    "description": "A named block of another file, from the spec's own folder: "
    "ports/head.yaml#name. Keys beside it win over the block's.",
}
_POINT, _DIRECTION = "TapePoint", "AngleFinder"


class _Generator(GenerateJsonSchema):
    """Pydantic's generator, told the texts of the fields, without made-up titles."""

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002
        """Keys speak for themselves."""
        return False


def json_schema() -> dict[str, Any]:
    """JSON Schema 2020-12 of a spec."""
    schema = HeaderSpec.model_json_schema(schema_generator=_Generator)
    for measured in (TapePoint, AngleFinder):
        own = measured.model_json_schema(schema_generator=_Generator)
        schema["$defs"] |= own.pop("$defs", {})
        schema["$defs"][measured.__name__] = own
    _describe(schema, _all_models())
    whole: dict[str, Any] = _walked(schema, ())
    whole["$defs"]["quantity"] = {
        "type": "string",
        "pattern": TEXT_PATTERN,
        "description": "A number with its unit: 1.75 in, 1-3/4 in, 727 degC.",
    }
    whole["$defs"] = dict(sorted(whole["$defs"].items()))
    return {
        "$schema": DIALECT,
        "$id": "geomgen.schema.json",
        "title": "geomgen spec, format 1",
    } | whole


def schema_text() -> str:
    """The schema as it is written to a file."""
    return json.dumps(json_schema(), indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def _all_models() -> list[type[BaseModel]]:
    found: list[type[BaseModel]] = []
    queue: list[type[BaseModel]] = [HeaderSpec, TapePoint, AngleFinder]
    while queue:
        model = queue.pop()
        if model in found:
            continue
        found.append(model)
        for field in model.model_fields.values():
            queue += [below for below, _ in field_models(field)]
    return found


def _describe(schema: dict[str, Any], models: list[type[BaseModel]]) -> None:
    """Put every field's text beside its key."""
    defs: dict[str, Any] = schema["$defs"]
    for model in models:
        docs = field_docs(model)
        homes = [schema] if model is HeaderSpec else _definitions(defs, model)
        for home in homes:
            for name, field in model.model_fields.items():
                described = home["properties"].get(key_of(name, field))
                text = docs.get(name) or " ".join(class_doc(m) for m, _ in field_models(field)[:1])
                if described is not None and text:
                    described["description"] = text


def _definitions(defs: dict[str, Any], model: type[BaseModel]) -> list[dict[str, Any]]:
    long = f"{model.__module__}.{model.__qualname__}".replace(".", "__")
    return [defs[name] for name in (long, model.__name__) if name in defs][:1]


def _walked(node: Any, path: tuple[str, ...]) -> Any:
    if isinstance(node, list):
        return [_walked(item, path) for item in node]
    if not isinstance(node, dict):
        return node
    named = path[-1:] in (("properties",), ("$defs",))
    done = {key: _walked(value, (*path, key)) for key, value in node.items()}
    if named:
        return done
    done = {k: v for k, v in done.items() if not (k == "title" and isinstance(v, str))}
    if isinstance(done.get("default"), dict):
        del done["default"]
    if "oneOf" in done:  # a block may be of any kind
        done["anyOf"] = done.pop("oneOf")
    if done.get("type") == "object" and "properties" in done:
        return _with_take(done)
    if done.get("items") == {"$ref": "#/$defs/NamedStud"}:
        length = {"anyOf": [{"type": "number"}, {"$ref": "#/$defs/quantity"}], "x-unit": "mm"}
        pair = {"type": "array", "prefixItems": [length, length], "minItems": 2, "maxItems": 2}
        done["items"] = {"anyOf": [pair, done["items"]]}
    if done.get("pattern") == TEXT_PATTERN:
        return {"$ref": "#/$defs/quantity"}
    if done.get("type") == "array" and _DIRECTION not in path:
        return _with_measured(done)
    return done


def _with_take(node: dict[str, Any]) -> dict[str, Any]:
    """Allow a block in place of the keys that must be there."""
    required = node.pop("required", None)
    node["properties"] = {**node["properties"], TAKE: _TAKE}
    if required:
        node["if"] = {"required": [TAKE]}
        node["else"] = {"required": required}
    return node


def _with_measured(node: dict[str, Any]) -> dict[str, Any]:
    """Allow a tape where a point may stand, an angle finder where a direction may."""
    items = node.get("prefixItems") or [node.get("items", {})]
    if node.pop("x-frame", None) == "own":  # not the head's, which tapes are read in
        return node
    if node.get("maxItems") != 3 or len(items) not in (1, 3):
        return node
    if all(item.get("x-unit") == "mm" for item in items):
        measured = _POINT
    elif all(item.get("type") == "number" for item in items):
        measured = _DIRECTION
    else:
        return node
    beside = {k: node.pop(k) for k in ("description", "default") if k in node}
    return {"anyOf": [node, {"$ref": f"#/$defs/{measured}"}]} | beside
