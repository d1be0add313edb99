"""The spec reference, ``specs/README.md``, written from the schema so that it cannot drift."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from geomgen.registry import plugins
from geomgen.spec.header import HeaderSpec
from geomgen.spec.obstacles import KIND_MEANINGS
from geomgen.spec.reference_text import FRAMES, HEAD, MEASURED, SOLIDS, STANDING, TAKE, UNITS
from geomgen.spec.schema import json_schema

_KINDS = {
    "mm": "length",
    "deg": "angle",
    "degC": "temperature",
    "bar": "pressure",
    "cc": "volume",
    "rpm": "speed",
    "%": "share",
}
_TOOLS = ("socket", "ring", "open")
_BOUNDS = (
    ("exclusiveMinimum", "above"),
    ("minimum", "from"),
    ("exclusiveMaximum", "below"),
    ("maximum", "to"),
)


def reference() -> str:
    """Text of the spec reference, in Markdown."""
    schema = json_schema()
    parts = [HEAD, UNITS, FRAMES, MEASURED, TAKE, SOLIDS, STANDING, "## Keys\n"]
    parts.append(_table("The whole file", schema, skip=("limits",)))
    for name in HeaderSpec.model_fields:
        if name != "limits":
            parts += _sections(schema, schema["properties"][name], name)
    parts.append(_obstacle_kinds(schema))
    parts.append(_limits(schema))
    parts.append(_measured_tables(schema))
    # Kinds of one list share sections: one table of each is enough.
    return "\n".join(part.rstrip() + "\n" for part in dict.fromkeys(parts))


def _definition(schema: dict[str, Any], node: dict[str, Any]) -> dict[str, Any]:
    """A node itself, or what it refers to."""
    name = node.get("$ref", "").removeprefix("#/$defs/")
    found: dict[str, Any] = schema["$defs"][name] if name else node
    return found


def _mappings(schema: dict[str, Any], node: dict[str, Any]) -> list[dict[str, Any]]:
    """Mappings that a value may be, itself or as an item of a list."""
    here = _definition(schema, node)
    if here.get("type") == "object" and "properties" in here:
        return [here]
    found: list[dict[str, Any]] = []
    branches = [*here.get("anyOf", []), *here.get("oneOf", [])]
    if isinstance(here.get("items"), dict):
        branches.append(here["items"])
    for branch in branches:
        if branch.get("$ref") not in ("#/$defs/TapePoint", "#/$defs/AngleFinder"):
            found += _mappings(schema, branch)
    return found


def _is_list(node: dict[str, Any]) -> bool:
    branches = [node, *node.get("anyOf", [])]
    return any(branch.get("type") == "array" and "items" in branch for branch in branches)


def _sections(schema: dict[str, Any], node: dict[str, Any], path: str) -> list[str]:
    """Tables of everything below a key, outermost first."""
    parts: list[str] = []
    own = f"{path}[]" if _is_list(node) else path
    for mapping in _mappings(schema, node):
        tag = _tag(mapping)
        parts.append(_table(f"`{own}`{f', {tag}' if tag else ''}", mapping))
        for key, below in mapping["properties"].items():
            if key != "take":
                parts += _sections(schema, below, f"{own}.{key}")
    return parts


def _tag(mapping: dict[str, Any]) -> str:
    """``shape: oval``: what tells a kind of mapping from its neighbours."""
    for key in ("family", "shape", "kind"):
        node = mapping["properties"].get(key, {})
        if "const" in node:
            return f"`{key}: {node['const']}`"
    for key in _TOOLS:
        if key in mapping.get("else", {}).get("required", []):
            return f"`{key}`"
    return ""


def _table(title: str, mapping: dict[str, Any], skip: tuple[str, ...] = ()) -> str:
    must = mapping.get("else", {}).get("required", [])
    lines = [f"### {title}", ""]
    if mapping.get("description"):
        lines += [_cell(mapping["description"]), ""]
    lines += ["| key | value | default | meaning |", "|---|---|---|---|"]
    for key, node in mapping["properties"].items():
        if key == "take":
            continue
        default = "**needed**" if key in must else _default(node)
        value = "see Limits" if key in skip else _words(node)
        text = _cell(node.get("description", ""))
        lines.append(f"| `{key}` | {value} | {default} | {text} |")
    return "\n".join(lines) + "\n"


def _default(node: dict[str, Any]) -> str:
    value = node.get("default")
    if value is None or value in ("", []):
        return ""
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, list):
        return f"`[{', '.join(f'{v:g}' for v in value)}]`"
    return f"{value:g}" if isinstance(value, float) else f"`{value}`"


def _words(node: dict[str, Any]) -> str:
    """What may be written for a value."""
    if "x-unit" in node:
        return _quantity(node)
    for key, say in _SAYINGS.items():
        if key in node:
            return say(node[key])
    if node.get("type") == "array":
        return _list(node)
    return _PLAIN.get(str(node.get("type")), "mapping") + _bounds(node)


def _reference(name: str) -> str:
    short = {"#/$defs/TapePoint": "by tape", "#/$defs/AngleFinder": "by angle finder"}
    return short.get(name, "mapping, see below")


def _either(branches: list[dict[str, Any]]) -> str:
    said = [_words(branch) for branch in branches if branch.get("type") != "null"]
    if "text" in said and "whole number" in said:
        said.remove("whole number")
    return " or ".join(dict.fromkeys(said))


_SAYINGS: dict[str, Callable[[Any], str]] = {
    "const": lambda word: f"`{word}`",
    "enum": lambda words: ", ".join(f"`{word}`" for word in words),
    "$ref": _reference,
    "anyOf": _either,
    "oneOf": _either,
}
_PLAIN = {
    "integer": "whole number",
    "number": "number",
    "string": "text",
    "boolean": "`true`, `false`",
}


def _list(node: dict[str, Any]) -> str:
    fixed = node.get("prefixItems")
    if fixed:
        unit = fixed[0].get("x-unit", "")
        names = "[x, y, z]" if len(fixed) == 3 else "[x, y]" if len(fixed) == 2 else ""
        return f"`{names or [len(fixed)]}`" + (f" in {unit}" if unit else "")
    items = node.get("items", {})
    least = f", at least {node['minItems']}" if node.get("minItems") else ""
    if node.get("maxItems") == 3 and items.get("x-unit"):
        return f"`[x, y]` or `[x, y, z]` in {items['x-unit']}"
    return f"list of {_words(items)}{least}"


def _quantity(node: dict[str, Any]) -> str:
    number: dict[str, Any] = next((b for b in node["anyOf"] if b.get("type") == "number"), {})
    said = f"{_KINDS[node['x-unit']]}, {node['x-unit']}{_bounds(number)}"
    words = [word for branch in node["anyOf"] for word in branch.get("enum", ())]
    if words:
        many = ", or a list" if any(b.get("type") == "array" for b in node["anyOf"]) else ""
        return f"{', '.join(f'`{word}`' for word in words)}, {said}{many}"
    return said


def _bounds(node: dict[str, Any]) -> str:
    said = [f"{word} {node[key]:g}" for key, word in _BOUNDS if key in node]
    return f", {' '.join(said)}" if said else ""


def _cell(text: str) -> str:
    return text.replace("``", "`").replace("|", "/")


def _obstacle_kinds(schema: dict[str, Any]) -> str:
    limits = schema["$defs"]["Limits"]["properties"]
    lines = [
        "### Kinds of obstacle",
        "",
        "Name an obstacle after what it is on the car (`steering shaft`), give it the kind that",
        "says what happens when hot tube comes near it. The kind decides the gap; `gap` on the",
        "obstacle itself, or `limits`, change it.",
        "",
        "| kind | what it is | gap, mm |",
        "|---|---|---|",
    ]
    for kind, meaning in KIND_MEANINGS.items():
        lines.append(f"| `{kind}` | {meaning} | {limits[f'gap_{kind}']['default']:g} |")
    return "\n".join(lines) + "\n"


def _limits(schema: dict[str, Any]) -> str:
    lines = [
        "## Limits",
        "",
        "What the checks hold a design against. Each has a default of the trade; set one under",
        "`limits` and the report prints yours. Where no source is known, that is said.",
        "",
        "| limit | value | default | meaning | where the default comes from |",
        "|---|---|---|---|---|",
    ]
    for key, node in schema["$defs"]["Limits"]["properties"].items():
        if key != "take":
            lines.append(
                f"| `{key}` | {_words(node)} | {node['default']:g} | "
                f"{_cell(node.get('description', ''))} | {_cell(node['x-source'])} |"
            )
    return "\n".join(lines) + "\n"


def _measured_tables(schema: dict[str, Any]) -> str:
    tape = schema["$defs"]["Tape"]
    finder = schema["$defs"]["AngleFinder"]
    return "\n".join(
        [
            "## By tape and by angle finder",
            "",
            _table("`tape`, in place of any point", tape),
            _table("In place of any direction", finder),
        ]
    )


def kinds() -> dict[str, tuple[str, ...]]:
    """Every plug-in that a spec may name, by package: the list that a test pins."""
    packages = ("attachments", "families", "plates", "ports", "shelf")
    return {name: tuple(plugins(f"geomgen.{name}", "KIND")) for name in packages}
