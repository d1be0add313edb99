"""Does an answer keep every rule of its problem? Measured anew, from the pieces.

Shares no code with the generator, the project's distances or any solver. Each centreline is
evaluated here by rotating a travelling triad; distances are taken between dense samples.
A curve travelled by arc length moves no further than the arc length does, so a sample that
stands for a stretch of half-length h bounds the distance of that stretch from below by the
sampled distance less h. Stretches that are not decided by that are halved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Floats = NDArray[np.float64]
Problem = dict[str, Any]
Answer = dict[str, Any]

LENGTH_TOLERANCE = 0.01
"""Of a path's length [mm]: the bar for solved lengths."""
END_TOLERANCE = 1e-3
"""Of a path's end from its slot [mm]."""
DIRECTION_TOLERANCE = 1e-5
"""Of a path's end direction [rad]."""
ANGLE_TOLERANCE = 1e-6
"""Of an angle from the nearest whole step, where steps are asked for [rad]."""
RESOLUTION = 0.02
"""Distances that cannot be proven to more than this are taken as kept [mm]."""
_FIRST = 2.5
_FINEST = 0.004
_MOST = 3_000_000
_AMPLE = 12.0  # margins proven to be larger than this are not measured any finer


class Curve:
    """A path of straights and arcs from a triad, by distance travelled [mm]."""

    def __init__(self, start: dict[str, Any], pieces: list[list[float]]) -> None:
        x, z = np.array(start["x"]), np.array(start["z"])
        triad = np.column_stack([x, np.cross(z, x), z])
        here, travelled = np.array(start["origin"], dtype=float), 0.0
        self.parts: list[tuple[float, float, Floats, Floats, float]] = []
        for piece in pieces:
            if len(piece) == 1:
                size, radius = piece[0], math.inf
            else:
                radius, angle, roll = piece
                size = radius * angle
                c, s = math.cos(roll), math.sin(roll)
                triad = triad @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
            self.parts.append((travelled, size, here, triad, radius))
            here = self._local(here, triad, radius, np.array([size]))[0]
            if math.isfinite(radius):
                c, s = math.cos(angle), math.sin(angle)
                triad = triad @ np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
            travelled += size
        self.length, self.end, self.way = travelled, here, triad[:, 2]

    @staticmethod
    def _local(here: Floats, triad: Floats, radius: float, s: Floats) -> Floats:
        if math.isinf(radius):
            return np.asarray(here + s[:, None] * triad[:, 2])
        turn = s / radius
        return np.asarray(
            here
            + (radius * np.sin(turn))[:, None] * triad[:, 2]
            + (2.0 * radius * np.sin(turn / 2.0) ** 2)[:, None] * triad[:, 0]
        )

    def at(self, stations: Floats) -> Floats:
        """Points (n, 3)."""
        out = np.empty((len(stations), 3))
        begins = np.array([part[0] for part in self.parts])
        which = np.clip(np.searchsorted(begins, stations, side="right") - 1, 0, None)
        for i, (begin, _, here, triad, radius) in enumerate(self.parts):
            mine = which == i
            if mine.any():
                out[mine] = self._local(here, triad, radius, stations[mine] - begin)
        return out


@dataclass(frozen=True)
class Bound:
    """Least distance: certainly not below ``lower``, certainly as near as ``upper`` [mm]."""

    lower: float
    upper: float


def _stretches(begin: float, end: float) -> tuple[Floats, float]:
    count = max(1, math.ceil((end - begin) / _FIRST))
    half = 0.5 * (end - begin) / count
    return begin + half * (2.0 * np.arange(count) + 1.0), half


def pair(
    a: Curve,
    span_a: tuple[float, float],
    b: Curve,
    span_b: tuple[float, float],
    need: float,
    apart: float = 0.0,
    ample: float = _AMPLE,
) -> Bound:
    """Least distance of two stretches; with ``apart``, only of points that far apart by station."""
    if span_a[1] <= span_a[0] or span_b[1] <= span_b[0]:
        return Bound(math.inf, math.inf)
    sa, ha = _stretches(*span_a)
    sb, hb = _stretches(*span_b)
    tree_a, tree_b = cKDTree(a.at(sa)), cKDTree(b.at(sb))
    reach = max(need, 1.0) + ha + hb + 12.0
    near = tree_a.sparse_distance_matrix(tree_b, reach, output_type="coo_matrix")
    i, j, d = near.row, near.col, near.data
    sa, sb, upper, outside = sa[i], sb[j], math.inf, reach - ha - hb
    while True:
        if apart:
            may = np.abs(sa - sb) + ha + hb > apart
            sa, sb, d = sa[may], sb[may], d[may]
        if not len(d):
            return Bound(min(outside, upper - 0.5 * _FINEST), upper)
        sure = d[np.abs(sa - sb) > apart] if apart else d
        if len(sure):
            upper = min(upper, float(sure.min()))
        lower = float(d.min()) - ha - hb
        keep = d - ha - hb < min(upper, outside) - 0.5 * _FINEST
        known = min(lower, outside, upper - 0.5 * _FINEST)
        settled = max(ha, hb) <= _FINEST or upper < need - 1e-6 or known >= need + ample
        if settled or not keep.any() or keep.sum() * 4 > _MOST:
            return Bound(known, upper)
        ha, hb = 0.5 * ha, 0.5 * hb
        base_a, base_b = sa[keep], sb[keep]
        sa = np.concatenate([base_a - ha, base_a - ha, base_a + ha, base_a + ha])
        sb = np.concatenate([base_b - hb, base_b + hb, base_b - hb, base_b + hb])
        d = np.linalg.norm(a.at(sa) - b.at(sb), axis=1)


def field(
    curve: Curve, span: tuple[float, float], distance: Any, need: float, ample: float = _AMPLE
) -> Bound:
    """Least value on a stretch of a function that changes no faster than place does."""
    if span[1] <= span[0]:
        return Bound(math.inf, math.inf)
    s, half = _stretches(*span)
    upper = math.inf
    while True:
        d = distance(curve.at(s))
        upper = min(upper, float(d.min()))
        lower = float(d.min()) - half
        keep = d - half < upper - 0.5 * _FINEST
        known = min(lower, upper - 0.5 * _FINEST)
        settled = half <= _FINEST or upper < need - 1e-6 or known >= need + ample
        if settled or not keep.any():
            return Bound(known, upper)
        half *= 0.5
        s = np.concatenate([s[keep] - half, s[keep] + half])


def to_segment(begin: Any, end: Any) -> Any:
    """Distance of points to a segment."""
    a, b = np.array(begin), np.array(end)

    def distance(points: Floats) -> Floats:
        t = np.clip((points - a) @ (b - a) / float((b - a) @ (b - a)), 0.0, 1.0)
        return np.asarray(np.linalg.norm(points - a - t[:, None] * (b - a), axis=1))

    return distance


def to_obstacle(o: dict[str, Any]) -> Any:
    """Signed distance of points to an obstacle's surface."""
    if o["kind"] == "half_space":
        point, normal = np.array(o["point"]), np.array(o["normal"])
        return lambda points: (points - point) @ normal
    if o["kind"] == "box":
        low, high = np.array(o["low"]), np.array(o["high"])

        def box(points: Floats) -> Floats:
            nearest = np.clip(points, low, high)
            inside = np.minimum(points - low, high - points).min(axis=1)
            out = np.linalg.norm(points - nearest, axis=1)
            return np.where(inside > 0.0, -inside, out)

        return box
    a, b, radius = np.array(o["begin"]), np.array(o["end"]), o["radius"]
    tall = float(np.linalg.norm(b - a))
    axis = (b - a) / tall

    def cylinder(points: Floats) -> Floats:
        t = (points - a) @ axis
        rho = np.linalg.norm(np.cross(points - a, axis), axis=1)
        gone = np.maximum(np.maximum(-t, t - tall), 0.0)
        out = np.hypot(np.maximum(rho - radius, 0.0), gone)
        inside = np.minimum(radius - rho, np.minimum(t, tall - t))
        return np.where(inside > 0.0, -inside, out)

    return cylinder


def merged(pieces: list[list[float]]) -> list[list[float]]:
    """Straights that follow each other as one; a straight (perhaps of none) at either end."""
    out: list[list[float]] = [[0.0]]
    for piece in pieces:
        if len(piece) == 1 and len(out[-1]) == 1:
            out[-1] = [out[-1][0] + piece[0]]
        else:
            if len(piece) == 3 and len(out[-1]) == 3:
                out.append([0.0])
            out.append(list(piece))
    return out if len(out[-1]) == 1 else [*out, [0.0]]


def _shelf(problem: Problem, name: str, pieces: list[list[float]]) -> list[str]:
    shelf, out = problem["shelf"], []
    most = {r["clr"]: r["most_angle"] for r in shelf["radii"]}
    bends = [p for p in pieces if len(p) == 3]
    for radius, angle, _ in bends:
        limit = max((a for clr, a in most.items() if abs(clr - radius) < 1e-9), default=None)
        if limit is None:
            out.append(f"{name}: no radius {radius} on the shelf")
        elif not shelf["least_angle"] - 1e-9 <= angle <= limit + 1e-9:
            out.append(f"{name}: bend of {math.degrees(angle):.3f} deg")
        step = problem.get("angle_step")
        if step and abs(angle - step * round(angle / step)) > ANGLE_TOLERANCE:
            out.append(f"{name}: bend of {math.degrees(angle):.6f} deg is no whole step")
    if len(bends) > problem.get("most_bends", math.inf):
        out.append(f"{name}: {len(bends)} bends")
    straights = [p[0] for p in pieces if len(p) == 1]
    least = [shelf["straight"]] * len(straights)
    least[0] = shelf["straight_at_start"]
    least[-1] = max(shelf["straight_at_end"], least[0] if len(least) == 1 else 0.0)
    for i, (have, want) in enumerate(zip(straights, least, strict=True)):
        if have < want - 1e-9:
            out.append(f"{name}: straight {i + 1} is {have:.4f}, needs {want}")
    return out


def _ends(problem: Problem, answer: Answer, curves: list[Curve]) -> list[str]:
    out = []
    if sorted(answer["slots"]) != list(range(len(problem["slots"]))):
        return ["slots are not each used once"]
    for name, slot in zip((t["name"] for t in problem["tubes"]), answer["slots"], strict=True):
        given = problem["slots"][slot].get("tube", name)
        if given != name:
            out.append(f"{name}: is in slot {slot + 1}, which is given to {given}")
    for tube, slot, curve in zip(problem["tubes"], answer["slots"], curves, strict=True):
        pose = problem["slots"][slot]
        off = float(np.linalg.norm(curve.end - np.array(pose["origin"])))
        if not off <= END_TOLERANCE:
            out.append(f"{tube['name']}: ends {off:.4f} mm from its slot")
        turn = float(np.linalg.norm(np.cross(curve.way, pose["z"])))
        if not (turn <= DIRECTION_TOLERANCE and curve.way @ np.array(pose["z"]) > 0.0):
            out.append(f"{tube['name']}: ends in another direction than its slot")
        if not abs(curve.length - tube["length"]) <= LENGTH_TOLERANCE:
            out.append(f"{tube['name']}: {curve.length:.4f} mm, wanted {tube['length']:.4f}")
    return out


@dataclass(frozen=True)
class Margin:
    """What is left between two things beyond what is needed, as a bound [mm]."""

    subject: str
    other: str
    lower: float
    upper: float


def margins(problem: Problem, answer: Answer, ample: float = _AMPLE) -> list[Margin]:
    """Every clearance of an answer: gap less needed, measured to the end up to ``ample``."""
    curves, befores, whole = [], [], []
    for tube, slot, pieces in zip(problem["tubes"], answer["slots"], answer["paths"], strict=True):
        tidy = merged(pieces)
        stub = problem["slots"][slot]["stub"]
        curve = Curve(tube, [*tidy, [stub]])
        curves.append(curve)
        whole.append((0.0, curve.length))
        befores.append((0.0, curve.length - stub - tidy[-1][0]))
    out: list[Margin] = []
    r, gap = problem["tube_radius"], problem["gap"]

    def add(subject: str, other: str, bound: Bound, need: float) -> None:
        out.append(Margin(subject, other, bound.lower - need, bound.upper - need))

    for i, tube in enumerate(problem["tubes"]):
        me, name = curves[i], tube["name"]
        for j, other in enumerate(problem["tubes"]):
            if i == j:
                continue
            need = 2.0 * r + gap
            add(
                name,
                other["name"],
                pair(me, befores[i], curves[j], whole[j], need, 0.0, ample),
                need,
            )
            bar = other["transition"]
            at, z = np.array(other["origin"]), np.array(other["z"])
            need = r + bar["radius"] + gap
            axis = to_segment(at - bar["length"] * z, at)
            add(
                name, f"transition of {other['name']}", field(me, whole[i], axis, need, ample), need
            )
        for body in problem["bodies"]:
            need = r + body["radius"] + gap
            axis = to_segment(body["begin"], body["end"])
            add(name, body["name"], field(me, befores[i], axis, need, ample), need)
        need = 2.0 * r + gap
        far = math.pi * max(b["clr"] for b in problem["shelf"]["radii"])
        own = (0.0, me.length - problem["slots"][answer["slots"][i]]["stub"])
        add(name, "itself", pair(me, own, me, own, need, far, ample), need)
        for obstacle in problem["obstacles"]:
            need = r + obstacle["gap"]
            add(name, obstacle["name"], field(me, own, to_obstacle(obstacle), need, ample), need)
    return out


def reprove(problem: Problem, answer: Answer) -> list[str]:
    """Every rule that an answer breaks, in words; none when it keeps them all."""
    out: list[str] = []
    if any(len(p) not in (1, 3) or not np.isfinite(p).all() for q in answer["paths"] for p in q):
        return ["a piece is neither a straight nor a bend"]
    tidy = [merged(path) for path in answer["paths"]]
    for tube, pieces in zip(problem["tubes"], tidy, strict=True):
        out += _shelf(problem, tube["name"], pieces)
    curves = [Curve(t, p) for t, p in zip(problem["tubes"], tidy, strict=True)]
    out += _ends(problem, answer, curves)
    if out:
        return out
    for m in margins(problem, answer, 0.0):
        if m.upper < -1e-6 or m.lower < -RESOLUTION:
            out.append(f"{m.subject} to {m.other}: {m.upper:.4f} mm less than needed")
    return out
