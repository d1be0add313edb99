"""Files that port shapes are read from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from geomgen.errors import Problem
from geomgen.ports import NoOutline, file_of, outline
from geomgen.spec.engine import Head

Read = Callable[[str], str | bytes]


@dataclass(frozen=True)
class Outlines:
    """Content of the files that were read, by name, and what is wrong with the others."""

    files: Mapping[str, bytes]
    problems: tuple[Problem, ...] = ()


def read_outlines(heads: Sequence[Head], read: Read | None) -> Outlines:
    """Read the file of every port shape that comes from one, and see that it gives a port.

    Args:
        heads: those that are sound.
        read: reads a file by its path from the spec's folder; None when none can be read.
    """
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    for i, head in enumerate(heads):
        file = file_of(head.ports)
        if file is None:
            continue
        place = ("heads", i, "ports")
        try:
            files[file] = _content(file, read)
            outline(head.ports, files)
        except NoOutline as error:
            problems.append(Problem((*place, error.key), error.found, error.allowed, error.remedy))
        except (OSError, ValueError) as error:
            why = (error.strerror if isinstance(error, OSError) else None) or str(error)
            allowed = f"a file that can be read; this one: {why}"
            problems.append(Problem((*place, "file"), file, allowed, "check name and place"))
    return Outlines(files, tuple(problems))


def _content(file: str, read: Read | None) -> bytes:
    if read is None:
        raise ValueError("files cannot be read here")
    content = read(file)
    return content.encode() if isinstance(content, str) else content
