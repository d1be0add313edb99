"""Closed chains of arcs and lines that join smoothly but at stated corners, fitted to points.

A chain is a start, a heading, and for each piece its curvature and length; a corner turns the
heading between two pieces. Joints are tangent by construction. Points are fitted by least
squares of their distances square to the chain (Gauss and Newton's method), while the chain
stays closed: three conditions, kept by Lagrange's multipliers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from geomgen.profiles.loops import Arc, Line, Loop, Segment

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

_STEPS = 20
_STILL = 1e-10
_NUDGE = 1e-7
_LEVER = 5.0
"""What a heading is worth in a length [mm/rad]."""

_STRAIGHT = 1e-12
"""Curvature below which an arc is a line [1/mm]."""


@dataclass(frozen=True)
class Chain:
    """A closed chain [mm, rad].

    Attributes:
        start: x, y and heading where the first piece begins.
        curvature: of each piece, positive to the left.
        length: of each piece.
        turn: of the heading at each piece's end.
        straight: pieces that stay lines.
        corner: pieces that end in a corner; at the others' ends ``turn`` is 0.
    """

    start: Array
    curvature: Array
    length: Array
    turn: Array
    straight: Mask
    corner: Mask

    @property
    def count(self) -> int:
        """Number of pieces."""
        return len(self.length)


def _unknowns(chain: Chain) -> Array:
    return np.concatenate((chain.start, chain.curvature, chain.length, chain.turn))


def _with(chain: Chain, values: Array) -> Chain:
    n = chain.count
    parts = (values[:3], values[3 : 3 + n], values[3 + n : 3 + 2 * n], values[3 + 2 * n :])
    start, curvature, length, turn = parts
    return replace(chain, start=start, curvature=curvature, length=length, turn=turn)


def _free(chain: Chain) -> Mask:
    """Unknowns that may move."""
    always = np.ones(3, dtype=bool)
    return np.concatenate((always, ~chain.straight, np.ones(chain.count, dtype=bool), chain.corner))


def _laid(values: Array, n: int) -> tuple[Array, Array, Array, Array]:
    """Start points, headings, end and closing heading of chains, one a row of unknowns."""
    curvature, length = values[:, 3 : 3 + n], values[:, 3 + n : 3 + 2 * n]
    sweep = curvature * length
    after = np.cumsum(sweep + values[:, 3 + 2 * n :], axis=1)
    heading = values[:, 2:3] + np.concatenate((np.zeros_like(after[:, :1]), after[:, :-1]), axis=1)
    chord = length * np.sinc(sweep / (2.0 * math.pi))
    middle = heading + sweep / 2.0
    steps = np.stack((chord * np.cos(middle), chord * np.sin(middle)), axis=2)
    ends = values[:, None, :2] + np.cumsum(steps, axis=1)
    starts = np.concatenate((values[:, None, :2], ends[:, :-1]), axis=1)
    return starts, heading, ends[:, -1], values[:, 2] + after[:, -1]


def _local(points: Array, start: Array, heading: Array) -> tuple[Array, Array]:
    """Points along and to the left of where a piece starts."""
    c, s = np.cos(heading), np.sin(heading)
    dx, dy = points[..., 0] - start[..., 0], points[..., 1] - start[..., 1]
    return dx * c + dy * s, dy * c - dx * s


def _off(along: Array, left: Array, curvature: Array) -> Array:
    """Signed distance to a circle through the origin along x; exact for lines too."""
    out = left - 0.5 * curvature * (along**2 + left**2)
    distance: Array = 2.0 * out / (1.0 + np.sqrt(np.maximum(1.0 - 2.0 * curvature * out, 0.0)))
    return distance


def _gone(along: Array, left: Array, curvature: Array) -> Array:
    """How far along a piece the foot of a point lies."""
    bent = np.abs(curvature) > _STRAIGHT
    k = np.where(bent, curvature, 1.0)
    return np.where(bent, np.arctan2(k * along, 1.0 - k * left) / k, along)


def anchored(joints: Array, sweeps: Array, straight: Mask, corner: Mask) -> Chain:
    """The chain through given joints; headings that do not go on smoothly are turns.

    Args:
        joints: where each piece begins, one a row.
        sweeps: how far each piece turns, less than a whole turn.
        straight: pieces that are lines.
        corner: pieces that end in a corner; turns at other joints go when it is fitted.
    """
    sweeps = np.where(straight, 0.0, sweeps)
    chord = np.roll(joints, -1, axis=0) - joints
    long = np.linalg.norm(chord, axis=1)
    length = long / np.sinc(sweeps / (2.0 * math.pi))
    middle = np.arctan2(chord[:, 1], chord[:, 0])
    begin, end = middle - sweeps / 2.0, middle + sweeps / 2.0
    turn = np.roll(begin, -1) - end
    turn -= math.tau * np.round(turn / math.tau)
    start = np.array([joints[0, 0], joints[0, 1], begin[0]])
    return Chain(start, sweeps / length, length, turn, straight, corner)


def joints_of(chain: Chain) -> tuple[Array, Array]:
    """Where each piece begins, and its sweep."""
    starts, _, _, _ = _laid(_unknowns(chain)[None], chain.count)
    return starts[0], chain.curvature * chain.length


def fitted(
    chain: Chain, points: Array, owner: npt.NDArray[np.int64], settled: float = 2e-3
) -> Chain:
    """The chain that is closed and nearest to its points.

    Turns that are no corners are taken out as the chain is drawn to its points.

    Args:
        chain: to begin with.
        points: one a row, in order round.
        owner: piece that each point is nearest to, to begin with.
        settled: share of what is left by which a step must still gain.
    """
    damping = 1e-3
    best = _merit(chain, points)
    for _ in range(_STEPS):
        move = _move(chain, points, owner, damping)
        trial = _with(chain, _unknowns(chain) + move)
        merit = _merit(trial, points) if float(trial.length.min()) > 0.0 else math.inf
        if merit > best * (1.0 + 1e-6) + 1e-18:
            damping *= 16.0
            if damping > 1e8:
                break
            continue
        gained = best - merit
        chain, best, damping = trial, merit, max(damping / 8.0, 1e-6)
        owner = _owners(chain, points, owner)
        if gained <= settled * best or float(np.abs(move).max()) < _STILL:
            break
    return closed(chain)


def _merit(chain: Chain, points: Array) -> float:
    """What must fall: squared distances, and what is still open or turned, as mm."""
    turned = float((np.where(chain.corner, 0.0, chain.turn) ** 2).sum())
    missed = _open_by(chain, _unknowns(chain)[None])[0]
    gap = float((missed**2 * np.array([1.0, 1.0, _LEVER**2])).sum())
    off = float((distances(chain, points) ** 2).sum())
    return off + len(points) * (gap + _LEVER**2 * turned)


def _move(chain: Chain, points: Array, owner: npt.NDArray[np.int64], damping: float) -> Array:
    """One step of Gauss and Newton's, damped; turns that are no corners go as far as may be."""
    n, values, free = chain.count, _unknowns(chain), _free(chain)
    away = np.zeros_like(values)
    away[3 + 2 * n :] = np.where(chain.corner, 0.0, -chain.turn)
    residual, slopes, closing, tied = _linearised(chain, values, free, away, points, owner)
    move = away.copy()
    move[free] = _step(residual, slopes, closing, tied, chain, free, damping)
    return move


def closed(chain: Chain) -> Chain:
    """The chain with its last rounding taken out of the gap and of the heading."""
    for _ in range(4):
        values, free = _unknowns(chain), _free(chain)
        closing, tied = _closing(chain, values, free)
        move = np.zeros_like(values)
        move[free] = -np.linalg.lstsq(tied, closing, rcond=None)[0]
        chain = _with(chain, values + move)
    return chain


def _nudged(values: Array, free: Mask) -> Array:
    index = np.flatnonzero(free)
    rows = np.tile(values, (len(index) + 1, 1))
    rows[np.arange(len(index)) + 1, index] += _NUDGE
    return rows


def _slopes(values: Array) -> Array:
    """Differences of what nudged rows give to the first, which is not nudged."""
    slopes: Array = (values[1:] - values[0]) / _NUDGE
    return slopes.T


def _open_by(chain: Chain, rows: Array) -> Array:
    """Gap and heading by which chains miss their own start, one a row."""
    _, _, end, heading = _laid(rows, chain.count)
    lost = heading - rows[:, 2]
    return np.column_stack((end - rows[:, :2], lost - math.tau))


def _closing(chain: Chain, values: Array, free: Mask) -> tuple[Array, Array]:
    missed = _open_by(chain, _nudged(values, free))
    return missed[0], _slopes(missed)


def _linearised(
    chain: Chain,
    values: Array,
    free: Mask,
    away: Array,
    points: Array,
    owner: npt.NDArray[np.int64],
) -> tuple[Array, Array, Array, Array]:
    """Distances and gaps as they stand once turns have gone, and how they change."""
    n = chain.count
    rows = np.vstack((_nudged(values, free), values + _NUDGE * away))
    starts, heading, _, _ = _laid(rows, n)
    along, left = _local(points[None], starts[:, owner], heading[:, owner])
    off = _off(along, left, rows[:, 3 : 3 + n][:, owner])
    missed = _open_by(chain, rows)
    ahead = [what[0] + (what[-1] - what[0]) / _NUDGE for what in (off, missed)]
    return ahead[0], _slopes(off[:-1]), ahead[1], _slopes(missed[:-1])


def _step(
    residual: Array,
    slopes: Array,
    closing: Array,
    tied: Array,
    chain: Chain,
    free: Mask,
    damping: float,
) -> Array:
    """Least squares with three conditions; damping holds what points say nothing about."""
    n, m = slopes.shape[1], len(closing)
    scale: Array = np.ones(len(free))
    scale[3 : 3 + chain.count] = np.maximum(chain.length, 1.0) ** 2  # a curvature's own size
    scale[2] = _LEVER
    system = np.zeros((n + m, n + m))
    system[:n, :n] = slopes.T @ slopes + damping * np.diag(scale[free] ** 2)
    system[:n, n:], system[n:, :n] = tied.T, tied
    right = np.concatenate((-(slopes.T @ residual), -closing))
    try:
        answer = np.linalg.solve(system, right)
    except np.linalg.LinAlgError:
        return np.zeros(n)
    return np.asarray(answer[:n], dtype=np.float64)


def _owners(chain: Chain, points: Array, owner: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Each point's piece, or the one before or after where its foot has left that."""
    starts, heading, _, _ = _laid(_unknowns(chain)[None], chain.count)
    along, left = _local(points, starts[0, owner], heading[0, owner])
    k, length = chain.curvature[owner], chain.length[owner]
    gone = _gone(along, left, k)
    whole = math.tau / np.maximum(np.abs(k), _STRAIGHT)
    gone = gone + whole * np.round((length / 2.0 - gone) / whole)
    step = np.where(gone > length, 1, np.where(gone < 0.0, -1, 0))
    return (owner + step) % chain.count


def distances(chain: Chain, points: Array) -> Array:
    """Distance of each point to the nearest point of the chain [mm]."""
    starts, heading, _, _ = _laid(_unknowns(chain)[None], chain.count)
    along, left = _local(points[:, None], starts[0][None], heading[0][None])
    k, length = chain.curvature[None], chain.length[None]
    gone = _gone(along, left, k)
    whole = math.tau / np.maximum(np.abs(k), _STRAIGHT)
    gone = gone + whole * np.round((length / 2.0 - gone) / whole)
    beside = np.abs(_off(along, left, k))
    ends = np.linalg.norm(points[:, None] - starts[0][None], axis=2)
    within = (gone >= 0.0) & (gone <= length)
    off: Array = np.minimum(np.where(within, beside, np.inf), ends)
    nearest: Array = off.min(axis=1)
    return nearest


def along_chain(chain: Chain, fractions: Array) -> Array:
    """Points at fractions of every piece: piece, fraction, x and y."""
    starts, heading, _, _ = _laid(_unknowns(chain)[None], chain.count)
    gone = chain.length[:, None] * fractions[None]
    sweep = chain.curvature[:, None] * gone
    chord = gone * np.sinc(sweep / (2.0 * math.pi))
    middle = heading[0][:, None] + sweep / 2.0
    steps = np.stack((chord * np.cos(middle), chord * np.sin(middle)), axis=2)
    on: Array = starts[0][:, None] + steps
    return on


def as_loop(chain: Chain) -> Loop:
    """The chain as lines and arcs; an arc of more than half a turn is two."""
    starts, heading, _, _ = _laid(_unknowns(chain)[None], chain.count)
    joints = [(float(x), float(y)) for x, y in starts[0]]
    pieces: list[Segment] = []
    for i, start in enumerate(joints):
        k, length, way = (
            float(chain.curvature[i]),
            float(chain.length[i]),
            float(heading[0, i]),
        )
        if chain.straight[i] or abs(k) < _STRAIGHT:
            pieces.append(Line(start, joints[(i + 1) % len(joints)]))
            continue
        radius, sweep = 1.0 / abs(k), k * length
        side = math.copysign(1.0, k)
        centre = (start[0] - math.sin(way) / k, start[1] + math.cos(way) / k)
        begin = math.remainder(way - side * math.pi / 2.0, math.tau)
        parts = 2 if abs(sweep) > math.pi + 1e-6 else 1
        for part in range(parts):
            share = sweep / parts
            pieces.append(Arc(centre, radius, begin + part * share, share))
    return tuple(pieces)
