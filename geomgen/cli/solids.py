"""Solids of STEP files that stand in the way: read, measured once, kept beside the file.

``parts/gearbox.step`` is measured into ``parts/gearbox.step.mesh``, which is used as long as
its key is that of the STEP file's bytes and of the way it was measured. Measuring needs the
CAD kernel, which may crash or hang on what it is given: it works in a process of its own.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from geomgen.cli import reading
from geomgen.cli.phases import phase
from geomgen.errors import Problem, SpecError

if TYPE_CHECKING:
    from geomgen.cli.pipeline import Source
    from geomgen.geometry.solid_field import Solid
    from geomgen.spec.load import Loaded

MOST_STEP = 64_000_000
"""Largest STEP file that is taken [byte]."""

MOST_OUTLINE = 4_000_001
"""Bytes read of a file that a spec names: one more than an outline may have [byte]."""

MOST_MESH = 500_000_000
"""Largest measured solid that is read [byte]."""

MOST_SECONDS = 600
"""How long the kernel may take over one file."""

SUFFIX = ".mesh"

_WAY_OUT = "close and heal it in your CAD, leave out loose surfaces and curves, and export it again"


def step_files(loaded: Loaded, path: Path) -> tuple[dict[str, bytes], tuple[Problem, ...]]:
    """Bytes of the STEP files that a spec names, and what is wrong with those that are not.

    Args:
        loaded: the spec, sound or not.
        path: of its file.
    """
    read = reading.beside(path, MOST_STEP + 1)
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    for index, file in _named(loaded):
        try:
            content = read(file)
        except (OSError, ValueError) as error:
            allowed = f"a file that can be read; this one: {reading.why(error)}"
            problems.append(_problem(index, file, allowed, "check name and place"))
            continue
        if len(content) > MOST_STEP:
            allowed = f"a STEP file of at most {MOST_STEP // 1_000_000} MB"
            problems.append(
                _problem(index, file, allowed, "leave out what no runner can come near")
            )
        elif b"ISO-10303-21" not in content[:200]:
            allowed = "a STEP file; this one does not begin with ISO-10303-21"
            problems.append(_problem(index, file, allowed, "export the solid as STEP"))
        else:
            files[file] = content
    return files, tuple(loaded.placed(problem) for problem in problems)


def known(source: Source) -> dict[str, Solid]:
    """The solids of a spec that are measured already, by file. Loads no kernel, writes nothing."""
    if not source.steps:
        return {}
    from geomgen.geometry.solid_file import key_of, unpacked

    found: dict[str, Solid] = {}
    read = reading.beside(source.path, MOST_MESH)
    for file, step in source.steps.items():
        try:
            solid = unpacked(read(file + SUFFIX), key_of(step))
        except (OSError, ValueError):
            continue
        if solid is not None:
            found[file] = solid
    return found


def ensure(source: Source) -> dict[str, Solid]:
    """All solids of a spec, by file; those that are not measured yet are, and are kept.

    Raises:
        SpecError: a file holds no closed solids, or the kernel cannot use them.
        OSError: a measured solid cannot be written.
    """
    found = known(source)
    if len(found) == len(source.steps):
        return found
    from geomgen.geometry.solid_file import key_of, unpacked

    problems: list[Problem] = []
    for index, file in _named(source.loaded):
        if file in found:
            continue
        step = source.steps[file]
        with phase("measure solids", f"measuring {file}"):
            data, fault = _measured(step)
        solid = unpacked(data, key_of(step))
        if solid is None:
            fault = fault or "the CAD kernel makes nothing of it"
            problems.append(_problem(index, f"{file}: {fault}", "closed, valid solids", _WAY_OUT))
            continue
        reading.write_below(source.path, file + SUFFIX, data)
        found[file] = solid
    if problems:
        raise source.placed(SpecError(tuple(problems)))
    return found


def hashes(steps: Mapping[str, bytes]) -> dict[str, str]:
    """SHA-256 of each file, by what ``result.json`` calls it."""
    from geomgen.exports.manifest import digest

    return {f"{file}_sha256": digest(content) for file, content in steps.items()}


def _named(loaded: Loaded) -> Iterator[tuple[int, str]]:
    """Index of the first obstacle of each STEP file, and the file."""
    seen: set[str] = set()
    for index, said in enumerate(loaded.sections.get("obstacles") or ()):
        if said.solid is not None and said.solid.file not in seen:
            seen.add(said.solid.file)
            yield index, said.solid.file


def _problem(index: int, found: str, allowed: str, remedy: str) -> Problem:
    return Problem(("obstacles", index, "solid", "file"), found, allowed, remedy)


def _measured(step: bytes) -> tuple[bytes, str]:
    """A STEP file measured in a process of its own, or why it cannot be."""
    import subprocess

    from geomgen.cli import measuring

    code = (
        f"import sys; sys.path[:] = {sys.path!r}; from geomgen.cli.measuring import child; child()"
    )
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-c", code],
            input=step,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=MOST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return b"", f"the CAD kernel takes more than {MOST_SECONDS} s over it"
    if done.returncode == measuring.REFUSED:
        return b"", done.stdout.decode("utf-8", "replace")
    if done.returncode != 0:
        return b"", "the CAD kernel breaks down over it"
    return done.stdout, ""
