"""Problems as plain JSON data, and back into arrays. README.md says what each key means."""

from __future__ import annotations

import copy
import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
from problem_set.fillets import LEAST_ANGLE, Batch, Floats
from problem_set.scenes import Scene

from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight, from_corners
from geomgen.geometry.frames import Frame, Vec

Problem = dict[str, Any]
HERE = Path(__file__).parent


def vec(v: Floats) -> Vec:
    """A plain tuple."""
    return (float(v[0]), float(v[1]), float(v[2]))


def frame(origin: Floats, z: Floats) -> dict[str, list[float]]:
    """A pose; x is any direction square to z, fixed once."""
    made = Frame.facing(vec(origin), vec(z))
    return {"origin": list(made.origin), "x": list(made.x), "z": list(made.z)}


def pose(data: dict[str, Any]) -> Frame:
    """The frame of a start or slot."""
    return Frame(tuple(data["origin"]), tuple(data["x"]), tuple(data["z"]))


def problem_of(scene: Scene, lengths: list[float]) -> Problem:
    """All that is fixed, without obstacles and answer."""
    rules = scene.rules
    return {
        "gap": scene.gap,
        "tube_radius": scene.radius,
        "shelf": {
            "radii": [
                {"clr": r, "most_angle": a} for r, a in zip(rules.radii, rules.most, strict=True)
            ],
            "least_angle": LEAST_ANGLE,
            "straight": rules.straight,
            "straight_at_start": rules.at_start,
            "straight_at_end": rules.at_end,
        },
        "tubes": [
            {
                "name": f"tube_{i + 1}",
                **frame(p, z),
                "length": lengths[i],
                "transition": {
                    "length": float(np.linalg.norm(p - scene.transitions[i].begin)),
                    "radius": scene.transitions[i].radius,
                },
            }
            for i, (p, z) in enumerate(scene.starts)
        ],
        "slots": [{**frame(q, w), "stub": scene.stubs[j]} for j, (q, w) in enumerate(scene.slots)],
        "bodies": [
            {
                "name": bar.name,
                "begin": list(vec(bar.begin)),
                "end": list(vec(bar.end)),
                "radius": bar.radius,
            }
            for bar in scene.bodies
        ],
        "obstacles": [],
    }


def answer_of(problem: Problem, slots: list[int], batches: list[Batch]) -> dict[str, Any]:
    """A layout as pieces: ``[length]`` is a straight, ``[radius, angle, roll]`` a bend."""
    paths = []
    for tube, batch in zip(problem["tubes"], batches, strict=True):
        points = batch.points[0]
        radii = tuple(float(r) for r in batch.radii[0])
        inner = tuple(vec(p) for p in points[1:-1])
        path = from_corners(pose(tube), inner, vec(points[-1]), radii)
        paths.append([plain(piece) for piece in path.pieces])
    return {"slots": list(slots), "paths": paths}


def plain(piece: Piece) -> list[float]:
    """A piece as numbers."""
    if isinstance(piece, Bend):
        return [piece.radius, piece.angle, piece.roll]
    return [piece.length]


def relaxed(problem: Problem) -> Problem:
    """An infeasible problem with the one thing relaxed that is said to bar it."""
    out = copy.deepcopy(problem)
    relax = problem["relax"]
    what = relax["what"]
    if what == "obstacle":
        out["obstacles"] = [o for o in out["obstacles"] if o["name"] != relax["name"]]
    elif what == "length":
        for tube, length in zip(out["tubes"], relax["value"], strict=True):
            tube["length"] = length
    elif what == "gap":
        out["gap"] = relax["value"]
    elif what == "angle_step":
        del out["angle_step"]
    elif what == "most_bends":
        out["most_bends"] = relax["value"]
    else:
        raise ValueError(f"unknown relaxation {what}")
    return out


def fingerprint(problem: Problem) -> str:
    """The same for a problem, its mirror images, turned copies and renumberings.

    Distances within and between starts and slots are what a rigid motion or a mirror
    leaves alone; sorted, they do not depend on numbering.
    """
    ports = np.array([t["origin"] for t in problem["tubes"]])
    slots = np.array([s["origin"] for s in problem["slots"]])

    def apart(a: Floats, b: Floats) -> list[float]:
        d = np.sqrt(((a[:, None] - b[None]) ** 2).sum(axis=-1))
        return [round(float(v), 1) for v in np.sort(d.ravel())]

    parts = [apart(ports, ports), apart(slots, slots), apart(ports, slots)]
    parts.append(sorted(round(float(t["length"]), 1) for t in problem["tubes"]))
    parts.append([problem["tube_radius"]])
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:16]


def load(folder: str) -> list[Problem]:
    """All committed problems of ``feasible`` or ``infeasible``, by name."""
    paths = sorted((HERE / folder).glob("*.json"))
    return [json.loads(path.read_text(encoding="utf-8")) for path in paths]


def saved(problem: Problem, folder: Path) -> Path:
    """Write one problem as compact JSON, every number in full precision."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{problem['name']}.json"
    text = json.dumps(problem, separators=(",", ":"), allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
    return path


def centrelines(problem: Problem, answer: dict[str, Any]) -> list[Centreline]:
    """An answer as the project's own centrelines."""
    out = []
    for tube, path in zip(problem["tubes"], answer["paths"], strict=True):
        pieces: list[Piece] = [Straight(p[0]) if len(p) == 1 else Bend(*p) for p in path]
        out.append(Centreline(pose(tube), tuple(pieces)))
    return out
