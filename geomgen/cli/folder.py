"""Output folders: written aside, swapped in, and found whole by the next command.

A folder ``NAME`` stands beside ``NAME.previous`` (the one before it) and, while a build is
writing, a hidden ``.NAME.making``. Whenever the process dies, ``NAME`` or
``NAME.previous`` is whole; the next build puts things right before it begins. A folder is
whole when its manifest names every file in it and every hash agrees.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from geomgen.exports import manifest

PREVIOUS = ".previous"

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}")
_FILE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,119}")

State = Literal["absent", "whole", "broken", "foreign"]


class FolderError(Exception):
    """The folder cannot be written; the text says why and what to do."""


def write(out: Path, name: str, files: Mapping[str, bytes]) -> Path:
    """Write ``out/name`` with ``files`` and a manifest, all or nothing.

    Args:
        out: folder that holds the output folders; made when missing.
        name: of the new folder.
        files: content by relative path; ``/`` separates.

    Returns:
        The folder.

    Raises:
        FolderError: a name cannot be used, or what stands there is not ours to replace.
        OSError: the disk is full, something is not permitted, ...
    """
    refuse_others(out, name)
    for path in files:
        _check_path(path)
    out.mkdir(parents=True, exist_ok=True)
    with _alone(out):
        recover(out, name)
        making = out / f".{name}.making"
        _remove(making)
        try:
            _fill(making, {**files, manifest.FILE: manifest.manifest(name, files)})
            _swap(out, name, making)
        except BaseException:
            _remove(making)
            raise
    return out / name


def refuse_others(out: Path, name: str) -> None:
    """Refuse, before any work is done, what ``write`` would refuse.

    Raises:
        FolderError: the name cannot be used, or what stands there is not ours to replace.
    """
    if not _NAME.fullmatch(name):
        raise FolderError(f"{name!r} cannot name a folder: letters, digits, _ and - only")
    if out.exists() and not out.is_dir():
        raise FolderError(f"{out} is a file: build with another --out")
    for folder in (out / name, out / (name + PREVIOUS)):
        if state(folder) == "foreign":
            raise FolderError(
                f"{folder} was not made by geomgen (it has no manifest of ours, or it is a link or "
                "a file): move it away, or build with another --out"
            )


def recover(out: Path, name: str) -> None:
    """Put right what a killed build left, and make room for ``NAME.previous``.

    A lone ``NAME.previous`` becomes ``NAME`` again. Once ``NAME`` is found whole, the
    folder before it has done its duty and goes.
    """
    now, before = out / name, out / (name + PREVIOUS)
    _remove(_doomed(now))
    _remove(_doomed(before))
    refuse_others(out, name)
    states = {folder: state(folder) for folder in (now, before)}
    if states[now] == "absent":
        if states[before] != "absent":
            before.rename(now)
        return
    if states[before] == "absent":
        return
    if states[now] == "whole" or states[before] == "broken":
        _discard(before)
    else:
        _discard(now)
        before.rename(now)


def state(folder: Path) -> State:
    """Whether a folder is there, ours, and as its manifest says."""
    try:
        mode = folder.lstat().st_mode
    except FileNotFoundError:
        return "absent"
    promised = _promised(folder) if stat.S_ISDIR(mode) else None
    if promised is None:
        return "foreign"
    whole = all(
        _regular(folder, path) and manifest.digest((folder / path).read_bytes()) == sha256
        for path, sha256 in promised.items()
    )
    return "whole" if whole else "broken"


def _promised(folder: Path) -> dict[str, str] | None:
    if not _regular(folder, manifest.FILE):
        return None
    promised = manifest.read((folder / manifest.FILE).read_bytes())
    if promised is None:
        return None
    for path in promised:
        if not all(_FILE.fullmatch(part) for part in path.split("/")):
            return None
    return promised


def _regular(folder: Path, path: str) -> bool:
    """Whether a path is a plain file, with no link anywhere below the folder."""
    parts = path.split("/")
    parents = (folder.joinpath(*parts[:count]) for count in range(1, len(parts)))
    try:
        return not any(parent.is_symlink() for parent in parents) and stat.S_ISREG(
            (folder / path).lstat().st_mode
        )
    except OSError:
        return False


def _check_path(path: str) -> None:
    parts = path.split("/")
    if path == manifest.FILE or not all(_FILE.fullmatch(part) for part in parts):
        raise FolderError(f"{path!r} cannot name an output file")


def _discard(folder: Path) -> None:
    """Delete a folder of ours, unless somebody keeps files of their own in it."""
    promised = set(_promised(folder) or ()) | {manifest.FILE}
    held = sorted(
        file.relative_to(folder).as_posix()
        for file in folder.rglob("*")
        if file.is_symlink() or not file.is_dir()
    )
    strangers = [path for path in held if path not in promised]
    if strangers:
        raise FolderError(
            f"{folder / strangers[0]} was not made by geomgen and its folder is due to go: "
            "move it away first"
        )
    # The manifest goes last, so that a half-deleted folder is still known as ours.
    for path in sorted(promised - {manifest.FILE}):
        (folder / path).unlink(missing_ok=True)
    folder.rename(_doomed(folder))
    _remove(_doomed(folder))


def _doomed(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.old")


def _remove(path: Path) -> None:
    """Delete a hidden working folder of ours; a link is unlinked, never followed."""
    try:
        mode = path.lstat().st_mode
    except FileNotFoundError:
        return
    if stat.S_ISDIR(mode):
        shutil.rmtree(path)
    else:
        path.unlink()


def _fill(making: Path, files: Mapping[str, bytes]) -> None:
    making.mkdir()
    folders = {making}
    for path, content in sorted(files.items()):
        file = making / path
        file.parent.mkdir(parents=True, exist_ok=True)
        folders.add(file.parent)
        with file.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    for folder in sorted(folders):
        _settle(folder)


def _swap(out: Path, name: str, making: Path) -> None:
    now, before = out / name, out / (name + PREVIOUS)
    if state(now) != "absent":
        now.rename(before)
    try:
        making.rename(now)
    except BaseException:
        if state(now) == "absent" and state(before) != "absent":
            before.rename(now)
        raise
    _settle(out)


def _settle(folder: Path) -> None:
    """Have a folder's entries on the disk, where the system can do that."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def _alone(out: Path) -> Iterator[None]:
    """Hold the folder ``out``, so that two builds never swap at the same time."""
    if sys.platform == "win32":
        yield
        return
    import fcntl

    handle = os.open(out, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
