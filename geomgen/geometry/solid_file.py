"""A measured solid as bytes and back: what is kept so that it need not be measured again.

A line with the format, a line of JSON, then all arrays, little-endian and compressed. The
key says what the solid was made from and how; a digest of the rest shows damage.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame
from geomgen.geometry.solid_field import MARGIN, NODES, Body, Solid
from geomgen.geometry.triangles import Skin

FORMAT = 1
DEFLECTION = 0.2
"""How far triangles may lie from the surface, as asked of the mesher [mm]."""
TURN = 0.9
"""Largest angle between neighbouring triangles of a curved face, as asked of it [rad]."""

_MAGIC = f"geomgen solid {FORMAT}\n".encode()
_MOST = 400_000_000
_ARRAYS = (("points", "<f8", 3), ("corners", "<i4", 3), ("values", "<f4", 1), ("nearest", "<i4", 1))


def key_of(step: bytes) -> str:
    """Digest of a STEP file's bytes and of everything that decides how it is measured."""
    how = f"{FORMAT} {DEFLECTION!r} {TURN!r} {MARGIN!r} {NODES}"
    return hashlib.sha256(how.encode() + b"\n" + hashlib.sha256(step).digest()).hexdigest()


def packed(solid: Solid) -> bytes:
    """The solid in its own frame; the same bytes for the same solid."""
    heads, arrays = [], []
    for body in solid.bodies:
        held = (body.skin.points, body.skin.corners, body.values, body.nearest)
        for array, (_, kind, _) in zip(held, _ARRAYS, strict=True):
            arrays.append(np.ascontiguousarray(array, dtype=kind).tobytes())
        head = {
            "points": len(body.skin.points),
            "corners": len(body.skin.corners),
            "grid": list(body.values.shape),
            "low": [float(v) for v in body.low],
            "step": body.step,
        }
        heads.append(head)
    content = zlib.compress(b"".join(arrays), 6)
    header = {
        "key": solid.key,
        "outside": solid.outside,
        "within": solid.within,
        "bodies": heads,
        "sha256": hashlib.sha256(content).hexdigest(),
    }
    line = json.dumps(header, sort_keys=True, allow_nan=False, separators=(",", ":"))
    return _MAGIC + line.encode() + b"\n" + content


def unpacked(data: bytes, key: str) -> Solid | None:
    """A solid from its bytes; None when they are damaged, or of another key or format."""
    if not data.startswith(_MAGIC):
        return None
    line, _, content = data[len(_MAGIC) :].partition(b"\n")
    try:
        header = json.loads(line)
        if header["key"] != key or header["sha256"] != hashlib.sha256(content).hexdigest():
            return None
        whole = zlib.decompressobj()
        raw = whole.decompress(content, _MOST)
        bodies = tuple(_bodies(header["bodies"], raw))
        outside, within = float(header["outside"]), float(header["within"])
    except (ValueError, KeyError, TypeError, IndexError, OverflowError, zlib.error):
        return None
    if not bodies or not (0.0 <= outside < np.inf and 0.0 <= within < np.inf):
        return None
    return Solid(key, Frame(), bodies, outside, within)


def _bodies(heads: list[dict[str, Any]], raw: bytes) -> Iterator[Body]:
    at = 0
    for head in heads:
        grid = tuple(int(n) for n in head["grid"])
        if len(grid) != 3 or min(grid) < 2:
            raise ValueError("no grid")
        cells = grid[0] * grid[1] * grid[2]
        counts = (int(head["points"]), int(head["corners"]), cells, cells)
        arrays: list[NDArray[Any]] = []
        for count, (_, kind, wide) in zip(counts, _ARRAYS, strict=True):
            arrays.append(np.frombuffer(raw, dtype=kind, count=count * wide, offset=at))
            at += arrays[-1].nbytes
        points = arrays[0].astype(np.float64).reshape(-1, 3)
        corners = arrays[1].astype(np.int64).reshape(-1, 3)
        values, nearest = arrays[2].reshape(grid), arrays[3].reshape(grid)
        low, step = np.array(head["low"], dtype=np.float64), float(head["step"])
        _refuse_nonsense(points, corners, values, nearest, low, step)
        yield Body(
            Skin(points, corners), low, step, values.astype(np.float32), nearest.astype(np.int32)
        )


def _refuse_nonsense(
    points: NDArray[Any],
    corners: NDArray[Any],
    values: NDArray[Any],
    nearest: NDArray[Any],
    low: NDArray[Any],
    step: float,
) -> None:
    sound = (
        all(np.isfinite(array).all() for array in (points, values, low))
        and low.shape == (3,)
        and 0.0 < step < np.inf
        and corners.size
        and 0 <= corners.min() <= corners.max() < len(points)
        and 0 <= nearest.min() <= nearest.max() < len(corners)
    )
    if not sound:
        raise ValueError("numbers that no solid has")
