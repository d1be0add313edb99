"""Reads a spec and what stands beside it; never outside the spec's own folder."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from errno import EPERM
from pathlib import Path

import click

MOST = 1_000_001
"""Bytes read of a text file: one more than a spec may have [byte]."""


def spec_bytes(path: Path) -> bytes:
    """Content of the spec's file.

    Raises:
        click.ClickException: it cannot be read; the text says why and what to do.
    """
    try:
        return _plain(path)
    except FileNotFoundError:
        raise click.ClickException(
            f"{path}: no such file; start one with: geomgen new NAME"
        ) from None
    except (OSError, ValueError) as error:
        raise click.ClickException(f"{path}: cannot be read: {why(error)}") from None


def beside(path: Path, most: int = MOST) -> Callable[[str], bytes]:
    """Reads files by their path from the spec's folder, and from nowhere else.

    Args:
        path: of the spec.
        most: bytes read of each file.

    The returned function raises OSError or ValueError when a file is outside, is a link
    that leads outside, is no plain file, or cannot be read.
    """
    root = path.parent.resolve()

    def read(relative: str) -> bytes:
        if Path(relative).is_absolute() or "\x00" in relative:
            raise ValueError("paths are relative to the spec's folder")
        file = (root / relative).resolve()
        if not file.is_relative_to(root):
            raise ValueError("it lies outside the spec's folder")
        return _plain(file, most)

    return read


def lock_path(spec: Path, name: str) -> Path:
    """Where the lock of a manifold stands: ``NAME.lock.yaml`` beside its spec."""
    return spec.parent / f"{name}.lock.yaml"


def lock_text(path: Path) -> str | None:
    """Content of a lock; None when there is none that may be read, or it is no text."""
    try:
        return beside(path)(path.name).decode("utf-8")
    except (OSError, ValueError):
        return None


def write_lock(path: Path, text: str) -> None:
    """Write a lock whole or not at all."""
    _write_whole(path, text.encode("utf-8"))


def write_below(spec: Path, relative: str, content: bytes) -> None:
    """Write a file in the spec's folder or below it, whole or not at all.

    Raises:
        OSError: the folder it belongs in is elsewhere in truth, or cannot be written.
    """
    root = spec.parent.resolve()
    file = root / relative
    folder = file.parent.resolve()
    if not folder.is_relative_to(root):
        raise OSError(EPERM, "it lies outside the spec's folder", relative)
    _write_whole(folder / file.name, content)


def _write_whole(path: Path, content: bytes) -> None:
    making = path.with_name(f".{path.name}.making")
    making.unlink(missing_ok=True)
    try:
        with making.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        making.replace(path)
    finally:
        making.unlink(missing_ok=True)


def _plain(path: Path, most: int = MOST) -> bytes:
    """At most so many bytes of a plain file; a pipe or device is refused before opening it."""
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise ValueError("it is a folder")
    if not stat.S_ISREG(mode):
        raise ValueError("it is no plain file")
    with path.open("rb") as stream:
        return stream.read(most)


def why(error: Exception) -> str:
    """What a failure to read says, in words."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
