"""The lock: solved centrelines in full precision, kept beside the spec.

It carries a hash of every input that the routes depend on. While that holds, a build uses
the lock and does not solve, so the same spec gives the same metal on any machine, and a
git diff shows what moved. The version of the program is not among the inputs.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.routing.problem import Problem
from geomgen.spec.header import HeaderSpec

FORMAT = 1
_END_SLIP = 1e-6

_ROUTED_BY = ("engine", "heads", "flange", "runners", "shelf", "collector", "tools", "obstacles")


@dataclass(frozen=True)
class Lock:
    """Routes as read from a lock.

    Attributes:
        inputs: hash of what they were solved for.
        slots: slot of each edge.
        pieces: of each edge's path.
        score: of the layout.
    """

    inputs: str
    slots: tuple[int, ...]
    pieces: tuple[tuple[Piece, ...], ...]
    score: float


def fingerprint(spec: HeaderSpec, lengths: tuple[float, ...], files: Mapping[str, bytes]) -> str:
    """Hash of every input that the routes depend on.

    Args:
        spec: what was said.
        lengths: the targets that followed from it [mm].
        files: bytes of obstacle files, by name.
    """
    said = spec.model_dump(mode="json", by_alias=True)
    inputs = {key: said[key] for key in _ROUTED_BY}
    inputs["engine"] = {"firing_order": said["engine"]["firing_order"]}
    inputs["runners"] = {k: v for k, v in said["runners"].items() if k in ("tube", "transition")}
    inputs["flange"] = {k: said["flange"][k] for k in ("thickness", "land", "window")}
    inputs["limits"] = {
        key: value
        for key, value in said["limits"].items()
        if key.startswith("gap_")
        or key in ("runner_gap", "tool_play", "straight_min", "engine_roll")
    }
    inputs["vertical"] = said["vertical"]
    inputs["lengths"] = [round(length, 9) for length in lengths]
    inputs["files"] = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    text = json.dumps(inputs, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def write(lock: Lock, names: tuple[str, ...]) -> str:
    """The lock as YAML, a line a piece; floats in full precision (lengths mm, angles deg)."""
    lines = [
        "# Solved runners. Written by geomgen; commit it beside the spec.",
        "# straight: length; bend: centreline radius, angle, and roll of its plane against",
        "# the bend before, right-hand rule along the gas. mm and degrees.",
        f"format: {FORMAT}",
        f"inputs: {lock.inputs}",
        f"score: {lock.score!r}",
        "runners:",
    ]
    for name, slot, pieces in zip(names, lock.slots, lock.pieces, strict=True):
        lines += [f"  - name: {name}", f"    slot: {slot}", "    pieces:"]
        for piece in pieces:
            if isinstance(piece, Straight):
                lines.append(f"      - {{straight: {piece.length!r}}}")
            else:
                angle, roll = math.degrees(piece.angle), math.degrees(piece.roll)
                lines.append(
                    f"      - {{bend: {piece.radius!r}, angle: {angle!r}, roll: {roll!r}}}"
                )
    return "\n".join(lines) + "\n"


def read(text: str, names: tuple[str, ...]) -> Lock | None:
    """A lock from its text; None when it is not one for these runners."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        data = YAML(typ="safe", pure=True).load(text)
        return _parsed(data, names)
    except (YAMLError, KeyError, TypeError, ValueError, AttributeError, RecursionError):
        return None


def _parsed(data: Mapping[str, Any], names: tuple[str, ...]) -> Lock | None:
    runners = list(data["runners"])
    if data["format"] != FORMAT or tuple(str(r["name"]) for r in runners) != names:
        return None
    slots = tuple(int(r["slot"]) for r in runners)
    if sorted(slots) != list(range(len(names))):
        return None
    pieces = tuple(tuple(_piece(row) for row in r["pieces"]) for r in runners)
    return Lock(str(data["inputs"]), slots, pieces, float(data["score"]))


def _piece(row: Mapping[str, Any]) -> Piece:
    if "straight" in row:
        piece: Piece = Straight(float(row["straight"]))
    else:
        piece = Bend(
            float(row["bend"]), math.radians(float(row["angle"])), math.radians(float(row["roll"]))
        )
    if not (math.isfinite(piece.length) and piece.length >= -1e-9):
        raise ValueError("a piece with no sensible length")
    return piece


def paths(lock: Lock, problem: Problem) -> tuple[Centreline, ...] | None:
    """The locked routes in this problem; None unless each ends in its slot.

    A lock that was edited, or that was made for another layout of the same inputs, does
    not end where it should and is not used.
    """
    found = []
    for edge, slot, pieces in zip(problem.edges, lock.slots, lock.pieces, strict=True):
        path = Centreline(edge.start, pieces)
        if not _arrives(path.end, problem.slots[slot]) or abs(path.length - edge.length) > 0.01:
            return None
        found.append(path)
    return tuple(found)


def _arrives(end: Frame, slot: Frame) -> bool:
    near = distance(end.origin, slot.origin) <= _END_SLIP
    return near and angle_between(end.z, slot.z) <= 1e-8
