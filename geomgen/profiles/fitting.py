"""A traced outline of many points as few lines and arcs, smooth where the trace is smooth.

First the trace is cut into as few stretches as a line or an arc can follow within part of
the tolerance. Joints whose two stretches disagree about the heading are corners, the others
become tangent. Then the whole chain is fitted to all points at once (``arc_chain``), cut
where it is still too far off, and pieces that it can do without are taken out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from geomgen.profiles.arc_chain import (
    Array,
    Chain,
    along_chain,
    anchored,
    as_loop,
    distances,
    fitted,
    joints_of,
)
from geomgen.profiles.loops import Arc, Line, Loop, Segment, area, backwards, heading, turn_between
from geomgen.profiles.stretches import CORNER, Indices, circle_through, first_chain, stretches

MOST_PIECES = 60
"""Pieces beyond which a trace is too rough for its tolerance."""

_SHARES = (0.85, 0.6, 0.4)
"""Parts of the tolerance that the first stretches may use: tangent joints cost the rest."""

_LONG, _SPACING, _ON_ARC = 2.0, 1.0, 0.5
"""Lines longer than the first get points of the second spacing, arcs of the third [mm]."""

_MOST_CUTS = 30
_CRUMB = 0.05
"""Pieces that are taken out again [mm]."""

_MOST_POINTS = 360
_TIGHT = 2.0
"""Radius up to which an arc may stand for a corner that the trace cut [mm]."""


@dataclass(frozen=True)
class Fit:
    """Lines and arcs that stand for a traced outline.

    Attributes:
        loop: counter-clockwise.
        deviation: farthest that trace and loop lie apart [mm].
        corners: number of joints that are not tangent.
    """

    loop: Loop
    deviation: float
    corners: int


def fit(drawn: Loop, tolerance: float) -> Fit:
    """Fit a closed, simple outline; it may run either way.

    An outline that was drawn with true arcs keeps its pieces; its joints are made exact.

    Args:
        drawn: as it was traced, closed.
        tolerance: farthest that the fit may lie from it [mm].

    Raises:
        ValueError: it takes more than ``MOST_PIECES`` pieces.
    """
    outline = drawn if area(drawn) > 0.0 else backwards(drawn)
    whole, starts = _sampled(outline)
    round_one = _one_circle(whole, tolerance)
    if round_one is not None:
        return round_one
    if not _faceted(outline):
        kept = _as_drawn(outline, whole, starts, tolerance)
        if kept is not None:
            return _answer(kept, whole)
    points = whole[:: math.ceil(len(whole) / _MOST_POINTS)]
    chain = _smooth(points, tolerance)
    chain = _sharper(chain, points, tolerance)
    chain = _fewer(chain, points, tolerance)
    chain = _straighter(chain, points, tolerance)
    return _answer(chain, whole)


def _answer(chain: Chain, points: Array) -> Fit:
    chain = fitted(chain, points, _owners(chain, points), 0.0)
    off = max(_off(chain, points), _astray(chain, points))
    corners = int(np.count_nonzero(np.abs(chain.turn) > 1e-9))
    return Fit(as_loop(chain), off, corners)


def _sampled(outline: Loop) -> tuple[Array, list[int]]:
    """Points of an outline, and the index of each piece's first one."""
    points: list[tuple[float, float]] = []
    starts: list[int] = []
    for piece in outline:
        starts.append(len(points))
        points += _points_on(piece)
    return np.array(points), starts


def _points_on(piece: Segment) -> list[tuple[float, float]]:
    """Points of a piece, its end left out."""
    if isinstance(piece, Arc):
        count = max(6, math.ceil(piece.length / _ON_ARC))
        return [piece.at(i / count) for i in range(count)]
    count = math.ceil(piece.length / _SPACING) if piece.length > _LONG else 1
    (x, y), (ex, ey) = piece.start, piece.end
    return [(x + i / count * (ex - x), y + i / count * (ey - y)) for i in range(count)]


def _faceted(outline: Loop) -> bool:
    """Whether lines stand in for a curve: two that meet at less than a corner's turn."""
    joints = zip(outline, (*outline[1:], outline[0]), strict=True)
    shallow = any(
        isinstance(a, Line)
        and isinstance(b, Line)
        and abs(turn_between(heading(a, 1.0), heading(b, 0.0))) < CORNER
        for a, b in joints
    )
    return shallow or len(outline) > MOST_PIECES


def _one_circle(points: Array, tolerance: float) -> Fit | None:
    """The whole outline as one circle, if it is one."""
    a, b, c, _, worst = circle_through(points)
    if worst > tolerance or abs(a) < 1e-9:
        return None
    centre, radius = (float(-b / (2.0 * a)), float(-c / (2.0 * a))), float(0.5 / abs(a))
    loop = (Arc(centre, radius, 0.0, math.pi), Arc(centre, radius, math.pi, math.pi))
    return Fit(loop, worst, 0)


def _off(chain: Chain, points: Array) -> float:
    return float(distances(chain, points).max())


def _astray(chain: Chain, points: Array) -> float:
    return max(0.0, float(_strays(chain, points).max()))


def _strays(chain: Chain, points: Array) -> Array:
    """How far each piece strays from the trace, which is straight between its points [mm].

    An arc may bulge over a straight step of the trace by that step's own height. A row a
    piece, a column a place on it.
    """
    on = along_chain(chain, np.linspace(0.05, 0.95, 7))
    bulge = np.repeat(np.abs(chain.curvature)[:, None], on.shape[1], axis=1).ravel()
    flat = on.reshape(-1, 2)
    step = np.roll(points, -1, axis=0) - points
    long = np.einsum("ij,ij->i", step, step)
    rel = flat[:, None] - points[None]
    share = np.clip(np.einsum("ijk,jk->ij", rel, step) / np.maximum(long, 1e-18), 0.0, 1.0)
    away = np.linalg.norm(rel - share[..., None] * step[None], axis=2)
    nearest = away.argmin(axis=1)
    allowed = np.minimum(bulge * long[nearest] / 8.0, np.sqrt(long[nearest]) / 2.0)
    over: Array = away[np.arange(len(flat)), nearest] - allowed
    return over.reshape(on.shape[:2])


def _owners(chain: Chain, points: Array) -> Indices:
    """Each point's nearest piece, by the chain's own points."""
    on = along_chain(chain, np.linspace(0.0, 1.0, 9))
    flat = on.reshape(-1, 2)
    away = ((points[:, None] - flat[None]) ** 2).sum(axis=2)
    owner: Indices = (away.argmin(axis=1) // on.shape[1]).astype(np.int64)
    return owner


def _solved(chain: Chain, points: Array) -> Chain | None:
    """The chain fitted anew, or None where a piece has shrunk to nothing or gone wild."""
    made = fitted(chain, points, _owners(chain, points))
    sound = np.all(np.isfinite(made.length)) and np.all(made.length > 0.02)
    whole = float(np.abs(np.diff(points, axis=0, append=points[:1])).sum())
    tame = sound and float(made.length.sum()) < 1.5 * whole
    return made if tame else None


def _good(chain: Chain | None, points: Array, tolerance: float) -> bool:
    return (
        chain is not None
        and _off(chain, points) <= tolerance
        and _astray(chain, points) <= tolerance
    )


def _smooth(points: Array, tolerance: float) -> Chain:
    """A chain within the tolerance; cut finer from the start where that does not come out."""
    for share in _SHARES:
        chain, owner = first_chain(points, stretches(points, share * tolerance))
        if chain.count > MOST_PIECES:
            break
        found = _within(fitted(chain, points, owner), points, tolerance)
        if found is not None:
            return found
    raise ValueError(f"more than {MOST_PIECES} lines and arcs")


def _within(chain: Chain, points: Array, tolerance: float) -> Chain | None:
    """The chain with pieces halved until it keeps the tolerance; None if that does not help."""
    for _ in range(_MOST_CUTS):
        off = distances(chain, points)
        if float(off.max()) <= tolerance:
            strays = _strays(chain, points)
            if float(strays.max()) <= tolerance:
                return chain
            worst = int(strays.max(axis=1).argmax())
        else:
            worst = int(_owners(chain, points)[int(off.argmax())])
        if chain.count >= MOST_PIECES:
            break
        halved = _halved(chain, worst)
        chain = fitted(halved, points, _owners(halved, points))
        if float(chain.length.min()) < _CRUMB:
            chain = _without_crumb(chain, points)
    return None


def _halved(chain: Chain, i: int) -> Chain:
    length = chain.length.copy()
    length[i] /= 2.0
    return Chain(
        chain.start,
        np.insert(chain.curvature, i, chain.curvature[i]),
        np.insert(length, i, length[i]),
        np.insert(chain.turn, i, 0.0),
        np.insert(chain.straight, i, False),
        np.insert(chain.corner, i, False),
    )


def _without_crumb(chain: Chain, points: Array) -> Chain:
    """The chain without the piece that has shrunk to nothing."""
    merged = _joined(chain, int(chain.length.argmin()))
    return fitted(merged, points, _owners(merged, points))


def _joined(chain: Chain, i: int) -> Chain:
    """Piece ``i`` and the one after as one."""
    joints, sweeps = joints_of(chain)
    j = (i + 1) % chain.count
    sweeps, corner, straight = sweeps.copy(), chain.corner.copy(), chain.straight.copy()
    sweeps[i] += sweeps[j]
    corner[i], straight[i] = corner[j], False
    keep = np.arange(chain.count) != j
    return anchored(joints[keep], sweeps[keep], straight[keep], corner[keep])


def _sharper(chain: Chain, points: Array, tolerance: float) -> Chain:
    """The chain with tight little arcs made corners, where the trace allows it."""
    for i in reversed(range(chain.count)):
        if i >= chain.count or chain.count <= 3:
            continue
        if abs(chain.curvature[i]) < 1.0 / _TIGHT:
            continue
        made = _solved(_cornered(chain, i), points)
        if made is not None and _good(made, points, tolerance):
            chain = made
    return chain


def _cornered(chain: Chain, i: int) -> Chain:
    """The chain with the middle of piece ``i`` as a corner between its neighbours."""
    joints, sweeps = joints_of(chain)
    joints, corner = joints.copy(), chain.corner.copy()
    after = (i + 1) % chain.count
    joints[after] = along_chain(chain, np.array([0.5]))[i, 0]
    corner[i - 1] = True
    keep = np.arange(chain.count) != i
    return anchored(joints[keep], sweeps[keep], chain.straight[keep], corner[keep])


def _fewer(chain: Chain, points: Array, tolerance: float) -> Chain:
    """The chain without joints that it does not need, most alike neighbours first."""
    missed = 0
    tried: set[float] = set()
    while missed < 2 and chain.count > 3:
        bend = np.abs(np.roll(chain.curvature, -1) - chain.curvature)
        cost = bend * np.minimum(chain.length, np.roll(chain.length, -1)) ** 2
        cost = np.where(chain.corner, np.inf, cost)
        order = [int(k) for k in np.argsort(cost) if float(cost[k]) not in tried]
        if not order or not math.isfinite(float(cost[order[0]])):
            break
        tried.add(float(cost[order[0]]))
        made = _solved(_joined(chain, order[0]), points)
        if made is not None and _good(made, points, tolerance):
            chain, missed = made, 0
        else:
            missed += 1
    return chain


def _straighter(chain: Chain, points: Array, tolerance: float) -> Chain:
    """The chain with lines for arcs that hardly bend, flattest first."""
    height = np.abs(chain.curvature) * chain.length**2 / 8.0
    joints, sweeps = joints_of(chain)
    flat = height <= tolerance
    if not _two_lines(chain, flat):
        made = _solved(anchored(joints, sweeps, flat, chain.corner), points)
        if made is not None and _good(made, points, tolerance):
            return made
    for i in np.argsort(height):
        if height[i] > tolerance:
            break
        straight = chain.straight.copy()
        straight[i] = True
        if _two_lines(chain, straight):
            continue
        joints, sweeps = joints_of(chain)
        made = _solved(anchored(joints, sweeps, straight, chain.corner), points)
        if made is not None and _good(made, points, tolerance):
            chain = made
    return chain


def _two_lines(chain: Chain, straight: npt.NDArray[np.bool_]) -> bool:
    """Whether two lines would meet smoothly: then they are one, which ``_fewer`` has tried."""
    return bool(np.any(straight & np.roll(straight, -1) & ~chain.corner))


def _as_drawn(outline: Loop, points: Array, starts: list[int], tolerance: float) -> Chain | None:
    """An outline of true lines and arcs with its joints made exact; None where that strays."""
    turns = [
        turn_between(heading(a, 1.0), heading(b, 0.0))
        for a, b in zip(outline, (*outline[1:], outline[0]), strict=True)
    ]
    sharp = np.array([abs(turn) > math.radians(1.0) for turn in turns])
    owner = np.repeat(np.arange(len(outline)), np.diff([*starts, len(points)])).astype(np.int64)
    chain = anchored(
        np.array([piece.start for piece in outline]),
        np.array([piece.sweep if isinstance(piece, Arc) else 0.0 for piece in outline]),
        np.array([isinstance(piece, Line) for piece in outline]),
        sharp,
    )
    made = fitted(chain, points, owner)
    sound = bool(np.all(np.isfinite(made.length)) and np.all(made.length > 0.0))
    near = sound and _good(made, points, min(tolerance, 0.01))
    return made if near else None
