"""Bytes of a spec to text: UTF-8, of a sane size."""

from __future__ import annotations

from geomgen.errors import Problem
from geomgen.spec.tree import MOST_BYTES


def read_text(content: str | bytes, file: str) -> tuple[str | None, list[Problem]]:
    """The text of a file, or what keeps it from being read.

    Args:
        content: what was read from it.
        file: its name, for the marks.
    """
    if len(content) > MOST_BYTES:
        return None, [_at(file, 1, 1, f"{len(content)} bytes", f"at most {MOST_BYTES}", "shorten")]
    if isinstance(content, str):
        content = content.encode("utf-8", "surrogatepass")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return None, [_at(file, 1, 1, "text in UTF-16", "text in UTF-8", "save it as UTF-8")]
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        line = before.count(b"\n") + 1
        column = error.start - (before.rfind(b"\n") + 1) + 1
        found = f"the byte 0x{content[error.start]:02x}, which is no UTF-8"
        return None, [_at(file, line, column, found, "text in UTF-8", "save it as UTF-8")]
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text, []


def empty(file: str) -> Problem:
    """The complaint about a file with nothing in it."""
    return _at(file, 1, 1, "an empty file", "a spec", "start from: geomgen new NAME")


def _at(file: str, line: int, column: int, found: str, allowed: str, remedy: str) -> Problem:
    return Problem((), found, allowed, remedy, file, line, column)
