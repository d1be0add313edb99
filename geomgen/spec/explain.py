"""What the models refuse, in plain words and with its place in the file."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ValidationError

from geomgen.errors import KeyPath, Problem
from geomgen.spec.shape import bounds_unit, keys_of, models_below, paths_of_key
from geomgen.spec.tree import Node, place, shortened, step

_TOOLS = ("socket", "ring", "open")
_Words = tuple[str, str]  # what is allowed, what to do


def problem_at(
    root: Node, path: KeyPath, found: str, allowed: str, remedy: str, whole: bool = False
) -> Problem:
    """A problem with the place of its key path."""
    mark = place(root, path, whole)
    return Problem(path, found, allowed, remedy, mark.file, mark.line, mark.column)


def problems_of(
    error: ValidationError, model: type[BaseModel], root: Node, prefix: KeyPath = ()
) -> list[Problem]:
    """Every complaint of a validation, in words, with places.

    Args:
        error: what validating raised.
        model: what was validated against.
        root: the whole document.
        prefix: where in the document the validated value stands.
    """
    items = error.errors(include_url=False)
    found = [_problem(item, model, root, prefix) for item in items if not _echo(item)]
    return list(dict.fromkeys(found))


def _echo(item: Any) -> bool:
    """Whether a list is only too short because its own items were refused."""
    return bool(
        item["type"] == "too_short"
        and isinstance(item.get("input"), list | tuple)
        and len(item["input"]) >= item["ctx"]["min_length"]
    )


def _problem(item: Any, model: type[BaseModel], root: Node, prefix: KeyPath) -> Problem:
    kind, loc = item["type"], tuple(item["loc"])
    path = document_path(root, (*prefix, *loc), kind)
    node = _node(root, path)
    context = item.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_key(model, root, loc, path)
    if kind == "missing" and isinstance(loc[-1], int):
        return _wrong_count(root, path[:-1] if path[-1:] == loc[-1:] else path)
    if kind == "missing":
        parent = ".".join(str(part) for part in path[:-1]) or "the spec"
        return problem_at(
            root,
            path,
            "nothing",
            f"a value for {loc[-1]}, which {parent} must have",
            f"add {loc[-1]}: ...{_near_miss(model, root, loc, path)}",
        )
    if "allowed" in context and "remedy" in context:
        scalar = node is not None and bool(node.text) and not isinstance(node.value, dict | list)
        text = node.shown() if scalar and kind == "quantity" and node else context["found"]
        return problem_at(root, path, shortened(text), context["allowed"], context["remedy"])
    found = node.shown() if node is not None else shortened(repr(item.get("input")))
    if kind == "tool":
        return _no_tool(root, path, item["msg"])
    if kind == "union_tag_invalid":
        tag = str(context["discriminator"]).strip("'()")
        path, found = (*path, tag), shortened(str(context["tag"]))
    if "allowed" not in context:
        refused = _Refused(context, bounds_unit(model, loc), found)
        allowed, remedy = _words(kind, refused, item["msg"])
    return problem_at(root, path, found, allowed, remedy)


def document_path(root: Node, loc: KeyPath, kind: str) -> KeyPath:
    """The part of an error's location that is in the document.

    Names of union members are not, and are dropped; the missing key itself is kept.
    """
    node: Node | None = root
    path: list[str | int] = []
    for i, part in enumerate(loc):
        below = step(node, part) if node is not None else None
        if below is not None:
            path.append(part)
            node = below
        elif kind == "missing" and i == len(loc) - 1:
            path.append(part)
    return tuple(path)


def _node(root: Node, path: KeyPath) -> Node | None:
    node: Node | None = root
    for part in path:
        node = step(node, part) if node is not None else None
    return node


def _no_tool(root: Node, path: KeyPath, allowed: str) -> Problem:
    node = _node(root, path)
    keys = list(node.entries) if node is not None else []
    for key in keys:
        near = difflib.get_close_matches(key, _TOOLS, n=1, cutoff=0.6)
        if near:
            return problem_at(
                root, (*path, key), f"the key {key}", allowed, f"did you mean {near[0]}?", True
            )
    found = node.shown() if node is not None else "nothing"
    return problem_at(
        root, path, found, allowed, "write {socket: 13, extension: 75}, {ring: 13} or {open: 13}"
    )


def _wrong_count(root: Node, path: KeyPath) -> Problem:
    node = _node(root, path)
    found = node.shown() if node is not None else "too few"
    return problem_at(
        root, path, found, "a list with all its numbers", "add the one that is missing"
    )


def _unknown_key(model: type[BaseModel], root: Node, loc: KeyPath, path: KeyPath) -> Problem:
    key = str(loc[-1])
    allowed = [k for m in models_below(model, loc[:-1]) for k in keys_of(m)]
    near = difflib.get_close_matches(key, allowed, n=1, cutoff=0.6)
    homes = [p for p in paths_of_key(model, key) if p != path[:-1]]
    if near:
        remedy = f"did you mean {near[0]}?"
    elif homes:
        home = ".".join(homes[0]) or "the top level"
        remedy = f"{key} belongs under {home}: check the indentation"
    else:
        remedy = "take it out"
    return problem_at(
        root,
        path,
        f"the key {shortened(key)}",
        f"one of {', '.join(dict.fromkeys(allowed))}" if allowed else "no key here",
        remedy,
        whole=True,
    )


def _near_miss(model: type[BaseModel], root: Node, loc: KeyPath, path: KeyPath) -> str:
    """A hint when a key of the same mapping is nearly the missing one."""
    parent = _node(root, path[:-1])
    known = {k for m in models_below(model, loc[:-1]) for k in keys_of(m)}
    unknown = [key for key in (parent.entries if parent is not None else {}) if key not in known]
    near = difflib.get_close_matches(str(loc[-1]), unknown, n=1, cutoff=0.6)
    return f" ({near[0]} is there: did you mean {loc[-1]}?)" if near else ""


@dataclass(frozen=True)
class _Refused:
    """What is known of one refused value: pydantic's context, its bare unit, as written."""

    context: dict[str, Any]
    unit: str
    found: str


_Say = Callable[[_Refused], _Words]


def _words(kind: str, refused: _Refused, message: str) -> _Words:
    say = _TRANSLATIONS.get(kind)
    return say(refused) if say is not None else (shortened(message, 120), "change the value")


def _bound(word: str, key: str, remedy: str) -> _Say:
    def say(refused: _Refused) -> _Words:
        limit = refused.context[key]
        number = f"{limit:g}" if isinstance(limit, int | float) else str(limit)
        return f"{word} {number} {refused.unit}".rstrip(), remedy

    return say


def _fixed(allowed: str, remedy: str) -> _Say:
    return lambda _: (allowed, remedy)


def _choice(refused: _Refused) -> _Words:
    said = str(refused.context.get("expected") or refused.context.get("expected_tags") or "")
    words = [w.strip(" '") for w in said.replace(" or ", ", ").split(",")]
    near = difflib.get_close_matches(refused.found.strip('"'), words, n=1, cutoff=0.5)
    allowed = words[0] if len(words) == 1 else f"one of {', '.join(words)}"
    return allowed, f"did you mean {near[0]}?" if near else "choose one of these"


def _no_tag(refused: _Refused) -> _Words:
    tag = str(refused.context.get("discriminator", "")).strip("'()")
    return f"a mapping that says its {tag}", f"add {tag}: ..."


def _length(word: str, key: str) -> _Say:
    def say(refused: _Refused) -> _Words:
        count = refused.context[key]
        things = ("entry", "entries") if "field_type" in refused.context else ("letter", "letters")
        remedy = "add what is missing" if word == "at least" else "take out what is too much"
        return f"{word} {count} {things[count != 1]}", remedy

    return say


_WHOLE = _fixed("a whole number", "write it without unit, point or quotes")


def _text(refused: _Refused) -> _Words:
    listed = refused.found.startswith(("a ", "an ", "nothing"))
    return "text", "write one word or line" if listed else f'put it in quotes: "{refused.found}"'


_LIST = _fixed("a list", "write it as [a, b], or one item a line behind a dash")
_MAPPING = _fixed("a mapping of keys", "write key: value, one a line and indented")
_YES_NO = _fixed("true or false", "write true or false")
_TRANSLATIONS: dict[str, _Say] = {
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_from_float": _WHOLE,
    "int_parsing_size": _WHOLE,
    "float_type": _fixed("a number", "write a number without quotes"),
    "float_parsing": _fixed("a number", "write a number without quotes"),
    "finite_number": _fixed("a finite number", "write a finite number"),
    "bool_type": _YES_NO,
    "bool_parsing": _YES_NO,
    "string_type": _text,
    "string_too_short": _length("at least", "min_length"),
    "string_too_long": _length("at most", "max_length"),
    "string_pattern_mismatch": _fixed(
        "plain letters, digits and the signs the spec reference names",
        "names of files and parts are small letters, digits, - and _",
    ),
    "too_short": _length("at least", "min_length"),
    "too_long": _length("at most", "max_length"),
    "tuple_type": _LIST,
    "list_type": _LIST,
    "dict_type": _MAPPING,
    "model_type": _MAPPING,
    "model_attributes_type": _MAPPING,
    "greater_than": _bound("more than", "gt", "make it larger"),
    "greater_than_equal": _bound("at least", "ge", "make it larger"),
    "less_than": _bound("less than", "lt", "make it smaller"),
    "less_than_equal": _bound("at most", "le", "make it smaller"),
    "literal_error": _choice,
    "union_tag_invalid": _choice,
    "union_tag_not_found": _no_tag,
}
