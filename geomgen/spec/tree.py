"""YAML 1.2 text to a tree that knows where everything stands.

Built from the parser's events, one by one, with a bound on size, depth and aliases, so
that no text can make it hang or recurse too deep. Scalars are resolved by the core schema
of YAML 1.2.2 (section 10.3.2): ``no`` and ``1:30`` are text, ``010`` is ten.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from geomgen.errors import KeyPath, Problem

MOST_BYTES = 1_000_000
MOST_NODES = 20_000
MOST_DEPTH = 24
LONGEST_KEY = 60

Scalar = str | int | float | bool | None

_NULL = re.compile(r"~|null|Null|NULL|")
_TRUE = re.compile(r"true|True|TRUE")
_FALSE = re.compile(r"false|False|FALSE")
_INT = re.compile(r"[-+]?[0-9]+")
_OCTAL = re.compile(r"0o[0-7]{1,15}")
_HEX = re.compile(r"0x[0-9a-fA-F]{1,12}")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_INF = re.compile(r"[-+]?\.(inf|Inf|INF)")
_NAN = re.compile(r"\.(nan|NaN|NAN)")


@dataclass(frozen=True)
class Mark:
    """A place in a file; line and column count from 1."""

    file: str
    line: int
    column: int


@dataclass(frozen=True)
class Entry:
    """A key's place and its value."""

    mark: Mark
    node: Node


@dataclass(frozen=True)
class Node:
    """A value and where it stands. ``text`` is a scalar as it was written."""

    mark: Mark
    value: Scalar | dict[str, Entry] | list[Node]
    text: str = ""
    size: int = 1
    depth: int = 0

    @property
    def entries(self) -> dict[str, Entry]:
        """Keys of a mapping; none of anything else."""
        return self.value if isinstance(self.value, dict) else {}

    def shown(self) -> str:
        """The value in a few words, for a message."""
        if isinstance(self.value, dict):
            keys = ", ".join(list(self.value)[:4])
            return f"a mapping with {keys}" if keys else "an empty mapping"
        if isinstance(self.value, list):
            count = len(self.value)
            return "an empty list" if count == 0 else f"a list of {count}"
        if self.value is None and not self.text:
            return "nothing"
        return shortened(self.text)


def shortened(text: str, most: int = 60) -> str:
    """Text fit for one line of a message."""
    flat = "".join(c if c.isprintable() else "?" for c in text)
    return flat if len(flat) <= most else flat[: most - 3] + "..."


def plain(node: Node) -> Any:
    """The bare value: dicts, lists and scalars."""
    if isinstance(node.value, dict):
        return {key: plain(entry.node) for key, entry in node.value.items()}
    if isinstance(node.value, list):
        return [plain(item) for item in node.value]
    return node.value


def step(node: Node, part: str | int) -> Node | None:
    """The value one part of a key path further down, if there is one."""
    if isinstance(node.value, dict):
        entry = node.value.get(str(part))
        return entry.node if entry is not None else None
    if isinstance(node.value, list) and isinstance(part, int) and 0 <= part < len(node.value):
        return node.value[part]
    return None


def place(root: Node, path: KeyPath, whole: bool = False) -> Mark:
    """Deepest known place on a key path.

    A scalar's place is its own, that of a mapping or list is its key's. Parts that the
    document does not have are skipped, so the place of a missing key is its parent's.

    Args:
        root: the document.
        path: key path.
        whole: the key's place even for a scalar.
    """
    node, mark = root, root.mark
    for part in path:
        entry = node.entries.get(str(part))
        below = step(node, part)
        if below is None:
            continue
        node = below
        own = not whole and bool(node.text) and not isinstance(node.value, dict | list)
        mark = node.mark if entry is None or own else entry.mark
    return mark


def resolve(text: str, quoted: bool) -> Scalar:
    """A scalar's value by the core schema of YAML 1.2.2."""
    if quoted:
        return text
    if _NULL.fullmatch(text):
        return None
    if _TRUE.fullmatch(text) or _FALSE.fullmatch(text):
        return text[0] in "tT"
    if _INT.fullmatch(text):
        return int(text) if len(text) <= 18 else float(text)
    if _OCTAL.fullmatch(text) or _HEX.fullmatch(text):
        return int(text, 0)
    if _FLOAT.fullmatch(text):
        return float(text)
    if _INF.fullmatch(text):
        return -math.inf if text.startswith("-") else math.inf
    return math.nan if _NAN.fullmatch(text) else text


@dataclass
class _Open:
    """A mapping or list that is still being read."""

    mark: Mark
    anchor: str | None
    items: dict[str, Entry] | list[Node]
    size: int = 1
    depth: int = 1
    key: tuple[str, Mark] | None = None


@dataclass
class _Builder:
    """Puts the parser's events together."""

    file: str
    stack: list[_Open] = field(default_factory=list)
    anchors: dict[str, Node] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    root: Node | None = None
    nodes: int = 0
    documents: int = 0
    stopped: bool = False

    def path(self) -> KeyPath:
        parts: list[str | int] = []
        for level in self.stack:
            if isinstance(level.items, list):
                parts.append(len(level.items))
            elif level.key is not None and level.key[0]:
                parts.append(level.key[0])
        return tuple(parts)

    def complain(self, mark: Mark, found: str, allowed: str, remedy: str) -> None:
        self.problems.append(
            Problem(self.path(), found, allowed, remedy, mark.file, mark.line, mark.column)
        )

    def stop(self, mark: Mark, found: str, allowed: str, remedy: str) -> None:
        self.complain(mark, found, allowed, remedy)
        self.stopped = True

    def too_deep(self, mark: Mark) -> None:
        self.stop(
            mark,
            f"values nested more than {MOST_DEPTH} deep",
            f"at most {MOST_DEPTH} levels",
            "a spec is never so deep: look for a bracket too many",
        )

    def begin(self, mark: Mark, anchor: str | None, items: dict[str, Entry] | list[Node]) -> None:
        if len(self.stack) >= MOST_DEPTH:
            self.too_deep(mark)
            return
        if anchor is not None:
            self.anchors.pop(anchor, None)
        self.stack.append(_Open(mark, anchor, items))

    def end(self) -> None:
        done = self.stack.pop()
        self.add(Node(done.mark, done.items, size=done.size, depth=done.depth), done.anchor)

    def add(self, node: Node, anchor: str | None) -> None:
        self.nodes += 1
        if anchor is not None:
            self.anchors[anchor] = node
        if not self.stack:
            self.root = node
            return
        top = self.stack[-1]
        top.size += node.size
        top.depth = max(top.depth, node.depth + 1)
        if self.nodes > MOST_NODES:
            self.stop(
                node.mark,
                f"more than {MOST_NODES} values",
                f"at most {MOST_NODES} values, aliases counted as often as they are used",
                "make the spec smaller",
            )
            return
        if isinstance(top.items, list):
            top.items.append(node)
        elif top.key is None:
            self.take_key(top, node)
        else:
            self.put(top.items, top.key, node)
            top.key = None

    def take_key(self, top: _Open, node: Node) -> None:
        if isinstance(node.value, dict | list) or (node.value is None and node.text == ""):
            self.complain(node.mark, node.shown(), "a word as the key", "write: key: value")
            top.key = ("", node.mark)
            return
        text = node.value if isinstance(node.value, str) else node.text
        if not text or len(text) > LONGEST_KEY or not text.isprintable():
            self.complain(
                node.mark,
                f"the key {shortened(text)}" if text else "an empty key",
                f"a key of 1 to {LONGEST_KEY} letters in one line",
                "look for a colon too many, or a quote that is not closed",
            )
            top.key = ("", node.mark)
            return
        top.key = (text, node.mark)
        if text == "<<":
            self.complain(
                node.mark, "<<", "plain keys", "write the keys out, or use take: file.yaml#block"
            )

    def put(self, items: dict[str, Entry], key: tuple[str, Mark], node: Node) -> None:
        text, mark = key
        if text in ("", "<<"):
            return
        if text in items:
            first = items[text]
            self.complain(
                mark,
                f"{shortened(text)}: {node.shown()} for the second time",
                f"every key once; the first, with {first.node.shown()}, "
                f"is on line {first.mark.line}",
                "take one of the two out",
            )
            return
        items[text] = Entry(mark, node)

    def alias(self, mark: Mark, name: str) -> None:
        node = self.anchors.get(name)
        if node is None:
            inside = any(level.anchor == name for level in self.stack)
            self.stop(
                mark,
                f"*{shortened(name)}, {'inside itself' if inside else 'which is nowhere set'}",
                f"an alias of something marked &{shortened(name)} further up",
                "quote text that begins with *, or mark the value that is meant",
            )
            return
        if len(self.stack) + node.depth > MOST_DEPTH:
            self.too_deep(mark)
            return
        self.nodes += node.size - 1
        self.add(node, None)


def _feed(builder: _Builder, event: Any) -> None:
    kind = type(event).__name__
    mark = Mark(builder.file, event.start_mark.line + 1, event.start_mark.column + 1)
    if kind == "DocumentStartEvent":
        builder.documents += 1
        if builder.documents > 1:
            builder.stop(mark, "a second document", "one manifold a file", "split the file at ---")
        return
    if kind == "AliasEvent":
        builder.alias(mark, event.anchor)
        return
    if kind in ("SequenceEndEvent", "MappingEndEvent"):
        builder.end()
        return
    if kind not in ("ScalarEvent", "SequenceStartEvent", "MappingStartEvent"):
        return
    if event.ctag is not None:
        builder.complain(mark, f"a tag, {shortened(str(event.ctag))}", "no tags", "take it out")
    if kind == "ScalarEvent":
        quoted = event.style is not None and event.style != ""
        text = f'"{event.value}"' if quoted else event.value
        builder.add(Node(mark, resolve(event.value, quoted), text), event.anchor)
    else:
        builder.begin(mark, event.anchor, [] if kind == "SequenceStartEvent" else {})


def build(text: str, file: str) -> tuple[Node | None, list[Problem]]:
    """Tree of a YAML text, and what is wrong with it as YAML.

    Args:
        text: the text.
        file: its name, for the marks.

    Returns:
        The root, or None when the text cannot be read to its end, and the problems.
    """
    builder = _Builder(file)
    for event in _events(text, builder):
        _feed(builder, event)
        if builder.stopped:
            return None, builder.problems
    if builder.stopped:
        return None, builder.problems
    return builder.root, builder.problems


def _events(text: str, builder: _Builder) -> Iterator[Any]:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    from geomgen.spec.syntax import syntax_problem

    try:
        yield from YAML(typ="safe", pure=True).parse(text)
    except (YAMLError, ValueError, IndexError, RecursionError, AttributeError) as error:
        builder.problems.append(syntax_problem(error, text, builder.file, builder.path()))
        builder.stopped = True
