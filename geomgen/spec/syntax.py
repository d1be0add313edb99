"""What is wrong with a text as YAML, in the words of the person who wrote it."""

from __future__ import annotations

import re
from typing import Any

from geomgen.errors import KeyPath, Problem

_CAUSES: tuple[tuple[str, str, str, str], ...] = (
    (
        r"found character '\\t'",
        "a tab",
        "spaces for indentation",
        "replace every tab at the start of a line by spaces",
    ),
    (
        r"found character '[@`]'",
        "a value that begins with @ or `",
        "plain text begins with a letter or a digit",
        "put the value in quotes",
    ),
    (
        r"found character '%'",
        "a line that begins with %",
        "plain text begins with a letter or a digit",
        "put the value in quotes",
    ),
    (
        r"mapping values are not allowed here",
        "a colon where no key can stand",
        "one key: value a line, keys of one level in one column",
        "check the indentation of this line and the one above, or quote a value with a colon",
    ),
    (
        r"could not find expected ':'",
        "a line without a colon",
        "key: value",
        "add the colon and a space behind the key, or quote the text above",
    ),
    (
        r"expected <block end>",
        "a line that is indented otherwise than its neighbours",
        "keys of one level in one column",
        "line it up with the lines above, or close a quote or bracket further up",
    ),
    (
        r"expected ',' or '[\]}]'",
        "a list or mapping that is not closed, or a comma that is missing",
        "[a, b] and {key: value, key: value}",
        "close the bracket, or put the comma in",
    ),
    (
        r"found unexpected end of stream",
        "a quote that is never closed",
        "quotes in pairs",
        "close the quote; inches as text want single quotes: '3/8 \"'",
    ),
    (
        r"unknown escape character",
        "a backslash in double quotes",
        "single quotes for text with backslashes",
        "use single quotes",
    ),
    (
        r"expected alphabetic or numeric character",
        "a value that begins with & or *",
        "plain text begins with a letter or a digit",
        "put the value in quotes",
    ),
    (
        r"expected the node content",
        "a bracket or comma where a value should stand",
        "[a, b] and {key: value, key: value}",
        "look for a bracket or comma too many, or one that is not closed",
    ),
    (
        r"incompatible YAML|directive",
        "a YAML directive that is not known here",
        "YAML 1.2 without directives",
        "take the line that begins with % out",
    ),
)


def syntax_problem(error: Exception, text: str, file: str, path: KeyPath) -> Problem:
    """One complaint from whatever the YAML parser raised.

    Args:
        error: what it raised.
        text: what it read.
        file: name of the file.
        path: key path that was being read.
    """
    mark: Any = getattr(error, "problem_mark", None)
    said = str(getattr(error, "problem", None) or "text that is not YAML")
    unknown = ("", said, "YAML 1.2", "look for a slip in this line or the one above")
    cause = next((c for c in _CAUSES if re.search(c[0], said)), unknown)
    _, found, allowed, remedy = cause
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else _unreadable(text)
    lines = text.count("\n") + 1
    if line > lines or (mark is not None and mark.line >= lines):
        line, column = lines, 1
    return Problem(path, found, allowed, remedy, file, line, column)


def _unreadable(text: str) -> tuple[int, int]:
    """Place of the first character that YAML does not allow."""
    for number, line in enumerate(text.split("\n"), start=1):
        for column, character in enumerate(line, start=1):
            if not character.isprintable() and character not in "\t\r\ufeff\x85\xa0":
                return number, column
    return 1, 1
