"""Names of files that a spec may give: in its own folder or below it."""

from __future__ import annotations

from geomgen.units import refusal


def file_below(file: str, endings: tuple[str, ...], allowed: str, remedy: str) -> str:
    """The name of a file in the spec's own folder or below it, or a refusal in words.

    Args:
        file: as the spec names it.
        endings: that it may have, small letters.
        allowed: says so in words.
        remedy: what to do about another.
    """
    parts = file.split("/")
    inside = not file.startswith("~") and all(part not in ("", ".", "..") for part in parts)
    if not inside or any(c in file for c in "\\:") or not file.isprintable():
        raise refusal(
            file,
            f"a file in the spec's own folder or below it, as parts/gearbox{endings[0]}",
            "move or copy it there",
        )
    if not file.lower().endswith(endings):
        raise refusal(file, allowed, remedy)
    return file
