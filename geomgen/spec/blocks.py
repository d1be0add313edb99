"""Named blocks from other files: ``take: ports/brackenhall.yaml#head`` in any mapping.

The block's keys stand in for the mapping; keys written beside ``take`` win over them.
In a list, a block that is itself a list is put in its place. Files are named from the
spec's own folder, and never from outside it: what reads them is handed in, and must hold
links to that too.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from geomgen.errors import KeyPath, Problem
from geomgen.spec.source import read_text
from geomgen.spec.tree import MOST_DEPTH, MOST_NODES, Entry, Node, build, shortened

KEY = "take"
MOST_TAKES = 200
MOST_INSIDE = 8

Read = Callable[[str], str | bytes]
"""Reads a file by its path from the spec's folder; raises OSError or ValueError if it cannot."""

_REFERENCE = re.compile(r"(?P<file>[^#\\:\x00-\x1f]{1,200})#(?P<block>[A-Za-z0-9_-]{1,60})")

_Stack = tuple[tuple[str, str], ...]


@dataclass
class _Taking:
    """What has been read so far."""

    read: Read | None
    files: dict[str, Node | None] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    takes: int = 0
    visited: int = 0
    cut: bool = False

    def complain(self, node: Node, path: KeyPath, allowed: str, remedy: str) -> None:
        mark = node.mark
        self.problems.append(
            Problem(path, node.shown(), allowed, remedy, mark.file, mark.line, mark.column)
        )


def expand(root: Node, read: Read | None) -> tuple[Node, list[Problem], tuple[str, ...]]:
    """The tree with every ``take`` carried out.

    Args:
        root: of the spec's own file.
        read: reads a file by its path from the spec's folder; None when none can be read.

    Returns:
        The tree, the problems, and the files that were read, sorted.
    """
    taking = _Taking(read)
    tree = _expanded(taking, root, (), ())
    return tree, taking.problems, tuple(sorted(taking.files))


def _expanded(taking: _Taking, node: Node, path: KeyPath, stack: _Stack) -> Node:
    taking.visited += 1
    if taking.visited > 2 * MOST_NODES or len(path) > MOST_DEPTH:
        return _cut_short(taking, node, path)
    if isinstance(node.value, list):
        items: list[Node] = []
        for i, item in enumerate(node.value):
            done = _expanded(taking, item, (*path, i), stack)
            spliced = isinstance(done.value, list) and KEY in item.entries
            items.extend(done.value if spliced and isinstance(done.value, list) else [done])
        return replace(node, value=items)
    if not isinstance(node.value, dict):
        return node
    if KEY in node.value:
        return _taken(taking, node, path, stack)
    return replace(node, value=_below(taking, node.value, path, stack))


def _cut_short(taking: _Taking, node: Node, path: KeyPath) -> Node:
    """A stand-in for what blocks in blocks make too deep or too much; told once."""
    if not taking.cut:
        taking.cut = True
        allowed = f"blocks of at most {2 * MOST_NODES} values, nested at most {MOST_DEPTH} deep"
        taking.complain(node, path, allowed, "take fewer blocks inside blocks")
    return Node(node.mark, None)


def _below(
    taking: _Taking, entries: dict[str, Entry], path: KeyPath, stack: _Stack
) -> dict[str, Entry]:
    return {
        key: replace(entry, node=_expanded(taking, entry.node, (*path, key), stack))
        for key, entry in entries.items()
        if key != KEY
    }


def _taken(taking: _Taking, node: Node, path: KeyPath, stack: _Stack) -> Node:
    own = _below(taking, node.entries, path, stack)
    rest = replace(node, value=own)
    said = node.entries[KEY]
    asked = said.node if said.node.text else replace(said.node, mark=said.mark)
    where = (*path, KEY)
    taking.takes += 1
    if taking.takes > MOST_TAKES:
        if taking.takes == MOST_TAKES + 1:
            taking.complain(asked, where, f"at most {MOST_TAKES} blocks taken", "take fewer blocks")
        return rest
    found = _find(taking, asked, where, stack)
    if found is None:
        return rest
    reference, block = found
    block = _expanded(taking, block, path, (*stack, reference))
    if isinstance(block.value, dict):
        return replace(node, value=block.value | own)
    in_list = bool(path) and isinstance(path[-1], int)
    if isinstance(block.value, list) and in_list and not own:
        return block
    taking.complain(
        asked,
        where,
        f"a block of keys here; #{reference[1]} is {block.shown()}",
        "take a block of keys, or take a list as an item of a list, with no key beside it",
    )
    return rest


def _find(
    taking: _Taking, asked: Node, where: KeyPath, stack: _Stack
) -> tuple[tuple[str, str], Node] | None:
    """The block that is asked for, with its file and name."""
    form = "file.yaml#block, the file named from the spec's folder"
    match = _REFERENCE.fullmatch(asked.value) if isinstance(asked.value, str) else None
    if match is None:
        taking.complain(asked, where, form, "write it as ports/head.yaml#name")
        return None
    file, block = match["file"], match["block"]
    parts = file.split("/")
    if file.startswith(("/", "~")) or any(part in ("", ".", "..") for part in parts):
        taking.complain(
            asked, where, "a file in the spec's own folder or below it", "move or copy it there"
        )
        return None
    if len(stack) >= MOST_INSIDE:
        taking.complain(
            asked, where, f"blocks at most {MOST_INSIDE} deep in blocks", "take fewer in a row"
        )
        return None
    if (file, block) in stack:
        chain = " -> ".join(f"{f}#{b}" for f, b in (*stack, (file, block)))
        taking.complain(
            asked, where, "blocks that do not take themselves", f"break the ring {shortened(chain)}"
        )
        return None
    root = _file(taking, file, asked, where)
    if root is None:
        return None
    entry = root.entries.get(block)
    if entry is None:
        names = ", ".join(list(root.entries)[:10]) or "none"
        taking.complain(asked, where, f"a block of {file}: {names}", "name one of its blocks")
        return None
    return (file, block), entry.node


def _file(taking: _Taking, file: str, asked: Node, where: KeyPath) -> Node | None:
    if file in taking.files:
        return taking.files[file]
    taking.files[file] = None
    if taking.read is None:
        taking.complain(asked, where, "no blocks from files here", "write the keys out")
        return None
    try:
        content = taking.read(file)
    except (OSError, ValueError) as error:
        reason = shortened(getattr(error, "strerror", None) or str(error) or "unreadable")
        taking.complain(
            asked, where, f"a file that can be read; this one: {reason}", "check name and place"
        )
        return None
    text, problems = read_text(content, file)
    root = None
    if text is not None:
        root, problems = build(text, file)
    taking.problems.extend(problems)
    taking.files[file] = root
    return root
