"""Port shapes, one file each: ``KIND``, ``Spec`` and ``loop(spec)``.

A shape that is read from a file has ``outline(spec, content)`` in place of ``loop``, and the
file's name in ``Spec.file``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from geomgen.profiles.loops import Loop
from geomgen.registry import home


@dataclass(frozen=True)
class Outline:
    """Edge of a port.

    Attributes:
        loop: counter-clockwise, about the port's axis [mm].
        facts: how well an outline from a file is known, by name with its unit.
    """

    loop: Loop
    facts: tuple[tuple[str, float], ...] = ()


class NoOutline(Exception):
    """A file gives no port; ``key`` is that of the ports' spec which is to be changed."""

    def __init__(self, key: str, found: str, allowed: str, remedy: str) -> None:
        self.key, self.found, self.allowed, self.remedy = key, found, allowed, remedy
        super().__init__(f"{key}: found {found}; allowed: {allowed}; {remedy}")


def file_of(spec: object) -> str | None:
    """Name of the file that a port's shape is read from, if it is."""
    file = getattr(spec, "file", None)
    return file if isinstance(file, str) else None


def outline(spec: object, files: Mapping[str, bytes]) -> Outline:
    """Edge of the ports of one head.

    Args:
        spec: any port shape's.
        files: content of the files that specs name.

    Raises:
        NoOutline: the file gives no port, or is not among ``files``.
    """
    shape, file = home(spec), file_of(spec)
    if file is None:
        return Outline(shape.loop(spec))
    if file not in files:
        raise NoOutline("file", file, "a file that has been read", "read the spec with its files")
    found: Outline = shape.outline(spec, files[file])
    return found
