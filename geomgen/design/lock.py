"""The lock: solved centrelines in full precision, kept beside the spec.

It carries a hash of every input that the routes depend on. While that holds, a build uses
the lock and does not solve, so the same spec gives the same metal on any machine, and a
git diff shows what moved. The version of the program is not among the inputs.

It also keeps what a later solution starts from: where each runner began, the parts that
were pinned and where they stand, and for ``length: shortest`` the length and its bound.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from geomgen.design.attaching import routed_by
from geomgen.design.model import CommonLength
from geomgen.design.standing import place_of
from geomgen.families import Envelope
from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight
from geomgen.geometry.frames import Frame, angle_between, distance, dot, norm
from geomgen.routing.problem import Problem
from geomgen.spec.header import HeaderSpec

FORMAT = 1
_END_SLIP = 1e-6
_SQUARE = 1e-9
_MOST_PIECES, _LONGEST = 200, 1e5
"""Of one tube; whatever has more of them, or is longer [mm], was not written by us."""

_ROUTED_BY = ("engine", "heads", "flange", "runners", "shelf", "collector", "tools", "obstacles")


@dataclass(frozen=True)
class Pinned:
    """A bend or straight that the spec pinned, where it stands.

    ``runner`` is the tube's name; ``part`` is what the spec calls it, ``bend 1``, by the
    numbers of the layout that it was pinned in.
    """

    runner: str
    part: str
    path: Centreline


@dataclass(frozen=True)
class Lock:
    """Routes as read from a lock.

    Attributes:
        inputs: hash of what they were solved for.
        slots: slot of each edge.
        pieces: of each edge's path.
        score: of the layout.
        starts: where each path begins; empty in a lock that does not say.
        pins: parts that were pinned, in order along their tubes.
        length: common length found, and its bound, when the shortest was asked for.
        junctions: poses that were chosen for junctions that may stand where they like.
    """

    inputs: str
    slots: tuple[int, ...]
    pieces: tuple[tuple[Piece, ...], ...]
    score: float
    starts: tuple[Frame, ...] = ()
    pins: tuple[Pinned, ...] = ()
    length: CommonLength | None = None
    junctions: tuple[Frame, ...] = ()


def fingerprint(
    spec: HeaderSpec,
    lengths: tuple[float, ...],
    files: Mapping[str, bytes],
    plates: tuple[Envelope, ...] = (),
) -> str:
    """Hash of every input that the routes depend on.

    Args:
        spec: what was said.
        lengths: the targets that followed from it [mm].
        files: bytes of obstacle files, by name.
        plates: room that plates take in the manifold.
    """
    said = spec.model_dump(mode="json", by_alias=True)
    inputs = {key: said[key] for key in _ROUTED_BY}
    inputs["engine"] = {"firing_order": said["engine"]["firing_order"]}
    inputs["runners"] = {
        key: value
        for key, value in said["runners"].items()
        if key in ("tube", "transition", "slots")
    }
    inputs["flange"] = {k: said["flange"][k] for k in ("thickness", "land", "window")}
    inputs["flange"] |= {
        k: said["flange"][k]
        for k in ("outline", "growth", "dowels", "tapped", "slots")
        if k in said["flange"]
    }
    inputs["limits"] = {
        key: value
        for key, value in said["limits"].items()
        if key.startswith("gap_")
        or key in ("runner_gap", "tool_play", "straight_min", "engine_roll")
    }
    inputs["vertical"] = said["vertical"]
    inputs["lengths"] = [round(length, 9) for length in lengths]
    # Keys that a spec may do without are no inputs while it does.
    inputs |= {key: said[key] for key in ("pins", "bench") if said[key]}
    inputs["limits"] |= {
        key: said["limits"][key]
        for key in ("nut_start",)
        if said["limits"][key] != type(spec.limits).model_fields[key].default
    }
    attached = routed_by(spec)
    if attached:
        inputs["attachments"] = attached
    if plates:
        inputs["plates"] = [
            [round(x, 9) for x in (*ring.path.start.origin, *ring.path.start.z, *ring.path.start.x)]
            + [round(ring.path.length, 9), round(ring.radius, 9)]
            for ring in plates
        ]
    if spec.runners.transition.length == "auto":
        keys = ("wall_angle", "transition_ratio_min", "transition_ratio_max")
        inputs["limits"] |= {key: said["limits"][key] for key in keys}
    if spec.runners.length == "shortest":
        inputs["lengths"] = "shortest"
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
    ]
    if lock.length is not None:
        found, bound = lock.length.found, lock.length.bound
        lines.append(f"shortest: {{found: {found!r}, bound: {bound!r}}}")
    if lock.junctions:
        lines.append("junctions:")
        lines += [f"  - {{{_frame_text(pose)}}}" for pose in lock.junctions]
    lines.append("runners:")
    starts = lock.starts or (None,) * len(names)
    for name, slot, start, pieces in zip(names, lock.slots, starts, lock.pieces, strict=True):
        lines += [f"  - name: {name}", f"    slot: {slot}"]
        lines += [] if start is None else [f"    start: {{{_frame_text(start)}}}"]
        lines += ["    pieces:", *(f"      - {{{_piece_text(piece)}}}" for piece in pieces)]
    if lock.pins:
        lines += ["# parts that the spec pins, by the numbers that they had when they were pinned"]
        lines += ["pins:", *(_pin_text(pin) for pin in lock.pins)]
    return "\n".join(lines) + "\n"


def _piece_text(piece: Piece) -> str:
    if isinstance(piece, Straight):
        return f"straight: {piece.length!r}"
    angle, roll = _degrees(piece.angle), _degrees(piece.roll)
    return f"bend: {piece.radius!r}, angle: {angle!r}, roll: {roll!r}"


def _degrees(angle: float) -> float:
    """Degrees that are read back as exactly this angle, where there are any."""
    degrees = math.degrees(angle)
    near = (degrees, math.nextafter(degrees, math.inf), math.nextafter(degrees, -math.inf))
    exact = [d for d in (round(degrees, 10), *near) if math.radians(d) == angle]
    return exact[0] if exact else degrees


def _frame_text(frame: Frame) -> str:
    rows = (("at", frame.origin), ("x", frame.x), ("z", frame.z))
    return ", ".join(f"{key}: [{', '.join(map(repr, vec))}]" for key, vec in rows)


def _pin_text(pin: Pinned) -> str:
    (piece,) = pin.path.pieces
    place = _frame_text(pin.path.start)
    return f"  - {{runner: {pin.runner}, part: {pin.part}, {place}, {_piece_text(piece)}}}"


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
    shortest = data.get("shortest")
    pieces = tuple(tuple(_piece(row) for row in r["pieces"]) for r in runners)
    for path in pieces:
        if len(path) > _MOST_PIECES or math.fsum(piece.length for piece in path) > _LONGEST:
            raise ValueError("no tube of an exhaust")
    return Lock(
        str(data["inputs"]),
        slots,
        pieces,
        float(data["score"]),
        tuple(_frame(r["start"]) for r in runners if "start" in r),
        tuple(_pinned(row, names) for row in data.get("pins", ())),
        None if shortest is None else _common(shortest),
        tuple(_frame(row) for row in data.get("junctions", ())),
    )


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


def _frame(row: Mapping[str, Any]) -> Frame:
    at, x, z = (tuple(float(value) for value in row[key]) for key in ("at", "x", "z"))
    frame = Frame((at[0], at[1], at[2]), (x[0], x[1], x[2]), (z[0], z[1], z[2]))
    square = max(abs(norm(frame.x) - 1.0), abs(norm(frame.z) - 1.0), abs(dot(frame.x, frame.z)))
    if not (norm(frame.origin) < 1e6 and square <= _SQUARE):
        raise ValueError("no right-angled frame")
    return frame


def _pinned(row: Mapping[str, Any], names: tuple[str, ...]) -> Pinned:
    pin = Pinned(str(row["runner"]), str(row["part"]), Centreline(_frame(row), (_piece(row),)))
    if pin.runner not in names:
        raise ValueError("a pin on no runner")
    return pin


def _common(row: Mapping[str, Any]) -> CommonLength:
    length = CommonLength(float(row["found"]), float(row["bound"]))
    if not (0.0 < length.found < 1e6 and length.bound <= length.found + _END_SLIP):
        raise ValueError("no sensible length")
    return length


def paths(lock: Lock, problem: Problem) -> tuple[Centreline, ...] | None:
    """The locked routes in this problem; None unless each ends in its slot.

    A lock that was edited, or that was made for another layout of the same inputs, does
    not end where it should and is not used; nor is one that moved a part which is to stay.
    """
    found = []
    for edge, slot, pieces in zip(problem.edges, lock.slots, lock.pieces, strict=True):
        path = Centreline(edge.start, pieces)
        if not _arrives(path.end, problem.slots[slot]) or abs(path.length - edge.length) > 0.01:
            return None
        if any(place_of(path, part, _END_SLIP) is None for part in edge.kept):
            return None
        if edge.slots is not None and slot not in edge.slots:
            return None
        found.append(path)
    return tuple(found)


def old_paths(lock: Lock, problem: Problem) -> tuple[Centreline | None, ...]:
    """Where the locked routes stood when they were solved, whatever the problem asks now.

    None for a runner of a lock that does not say where it began, unless it still ends in
    its slot when it begins where it would now.
    """
    found: list[Centreline | None] = []
    for i, (edge, slot, pieces) in enumerate(
        zip(problem.edges, lock.slots, lock.pieces, strict=True)
    ):
        known = len(lock.starts) == len(problem.edges)
        path = Centreline(lock.starts[i] if known else edge.start, pieces)
        found.append(path if known or _arrives(path.end, problem.slots[slot]) else None)
    return tuple(found)


def _arrives(end: Frame, slot: Frame) -> bool:
    near = distance(end.origin, slot.origin) <= _END_SLIP
    return near and angle_between(end.z, slot.z) <= 1e-8
