"""Move all tubes of a layout together: first clear of everything, then to a better score.

Each step solves a small quadratic program: the score falls as fast as the linearised
limits allow, within a box about the present corners. What falls short is weighed against
the score by an exact penalty, so a layout that begins short is moved clear on the way. The
lengths are equations, restored after every step. What is wanted on straights is priced in the
same way, each by itself, and never keeps a layout from being clear.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geomgen.routing import stations
from geomgen.routing.candidates import PER_RADIAN
from geomgen.routing.contacts import SHAPE_ROOM, Bars, Rows, bars, limits
from geomgen.routing.layout import Layout, layout
from geomgen.routing.lengths import NEAR
from geomgen.routing.paths import Batch, Floats, Lines, measure
from geomgen.routing.problem import Problem
from geomgen.routing.score import PER_MM_ASIDE, PER_RIGHT_ANGLE, PER_UNEVEN_RIGHT_ANGLE

_RIGHT = math.pi / 2.0
_PENALTY = 1.0
"""What a mm short costs in score: more than any move of a mm can gain."""
_FIRST, _WIDEST = 10.0, 30.0
_FINEST = 0.02
_RESTORES = 4


@dataclass(frozen=True)
class Settled:
    """A layout at the end of a descent.

    Attributes:
        batches: one path a tube.
        turns: the part of the score that bends' angles make.
        short: by how much its worst limit falls short [mm]; 0 when all are kept.
        steps: how many were taken.
        blamed: tubes that keep what falls short from being made good, most to blame first.
    """

    batches: tuple[Batch, ...]
    turns: float
    short: float
    steps: int
    blamed: tuple[int, ...]


def descend(
    problem: Problem,
    slots: tuple[int, ...],
    batches: tuple[Batch, ...],
    steps: int,
    slack: float,
    whole: tuple[Floats | None, ...] | None = None,
    apart: bool = False,
) -> Settled:
    """Improve a layout.

    Args:
        problem: the bundle.
        slots: of each tube.
        batches: one path a tube, of its length.
        steps: at most.
        slack: on top of every gap, for what sampling hides [mm].
        whole: angles that the bends of each tube are to have [rad]; None for any.
        apart: weigh what falls short for each pair of tubes, not only the worst of all. It
            brings more layouts clear that begin short in many places, on the average to
            slightly worse scores.
    """
    solid = bars(problem)
    box = _FIRST
    state = _State.at(problem, slots, batches, solid, slack, whole, 1.7 * box, apart)
    taken = 0
    blame = np.zeros(len(batches))
    while taken < steps and box > _FINEST:
        taken += 1
        step, promised, blame = _step(state, box)
        if promised < 2e-3 or (box <= 10.0 and promised < 0.03 * state.short):
            break  # done, or stuck where no small move helps
        moved = _moved(problem, state, step)
        if moved is None:
            box *= 0.4
            continue
        after = _State.at(problem, slots, moved, solid, slack, whole, 1.7 * box, apart)
        gained = state.merit - after.merit
        if gained > 0.1 * promised:
            state = after
            box = min(_WIDEST, 1.7 * box) if gained > 0.6 * promised else box
        else:
            box *= 0.35
    return Settled(
        tuple(t.batch for t in state.here.traces),
        state.turns,
        state.short,
        taken,
        tuple(int(e) for e in np.argsort(-blame, kind="stable") if blame[e] > 0.0),
    )


@dataclass(frozen=True)
class _State:
    """A layout with its linearisation; ``wished`` rows are to be zero.

    Attributes:
        here: the layout.
        rows: its limits.
        wished: angles that are asked for.
        placed: straights about what is wanted on them; ``pair`` says which of those.
        aside: how far all of that is from its straights, together [mm].
        turns: the part of the score that bends' angles make.
        lack: what falls short, weighed against it [mm].
        apart: whether that is the sum over all pairs, or the worst.
    """

    here: Layout
    rows: Rows
    wished: Rows
    placed: Rows
    aside: float
    turns: float
    lack: float
    apart: bool

    @staticmethod
    def at(
        problem: Problem,
        slots: tuple[int, ...],
        batches: tuple[Batch, ...],
        solid: Bars,
        slack: float,
        whole: tuple[Floats | None, ...] | None,
        box: float,
        apart: bool,
    ) -> _State:
        here = layout(problem, batches)
        rows = limits(problem, slots, here, solid, 4.0 * box + 8.0, slack)
        turns = np.array([t.turn for t in here.traces]) / _RIGHT
        score = PER_RIGHT_ANGLE * turns.sum() + PER_UNEVEN_RIGHT_ANGLE * (turns.max() - turns.min())
        wished = _wishes(here, whole)
        by = np.concatenate([-rows.value, np.abs(wished.value)])
        pair = np.concatenate([rows.pair, wished.pair]) if apart else np.zeros(len(by), np.intp)
        worst = np.zeros(int(pair.max(initial=0)) + 1)
        np.maximum.at(worst, pair, by)
        placed, aside = _placed(problem, here)
        return _State(here, rows, wished, placed, aside, float(score), float(worst.sum()), apart)

    @property
    def short(self) -> float:
        """Worst of everything [mm]."""
        off = float(np.abs(self.wished.value).max()) if len(self.wished.value) else 0.0
        return max(self.rows.worst, off)

    @property
    def merit(self) -> float:
        """What is made small."""
        return self.turns + _PENALTY * self.lack + PER_MM_ASIDE * self.aside


def _placed(problem: Problem, here: Layout) -> tuple[Rows, float]:
    """Straights about what is wanted on them, and how far that is from them, together [mm]."""
    if not any(edge.stations for edge in problem.edges):
        return Rows.none(here.free), 0.0
    value, gradient = stations.limits(problem, here, SHAPE_ROOM)
    which = np.repeat(np.arange(len(value)), 2)
    off = np.maximum(-value, 0.0).max(axis=1, initial=0.0)
    return Rows(value.reshape(-1), gradient.reshape(len(which), here.free), which), float(off.sum())


def _wishes(here: Layout, whole: tuple[Floats | None, ...] | None) -> Rows:
    """Bend angles that are asked to be whole steps."""
    parts = [Rows.none(here.free)]
    for i, mine in enumerate(here.traces):
        wanted = None if whole is None else whole[i]
        if wanted is not None:
            loose = ~mine.batch.form.kept
            rows = np.zeros((int(loose.sum()), here.free))
            part = slice(int(here.offsets[i]), int(here.offsets[i + 1]))
            rows[:, part] = PER_RADIAN * mine.d_angles.T[loose]
            values = PER_RADIAN * (mine.angles - wanted)[loose]
            parts.append(Rows(values, rows, np.full(len(rows), i)))
    return Rows.joined(parts)


def _step(state: _State, box: float) -> tuple[Floats, float, Floats]:
    """Best step within a box by the linearised limits, and the fall of merit it promises.

    Unknowns are the free numbers, the largest and the least turn of a tube, by how much limits
    fall short: the worst of all, or of each pair, and how far what is wanted on straights is aside.

    Returns:
        The step, the promised fall, and how much each tube holds up what falls short.
    """
    import daqp  # its first use costs more than a solve; only a search needs it

    d = state.rows.gradient.shape[1]
    traces, offsets = state.here.traces, state.here.offsets
    turns = np.array([t.turn for t in traces]) / _RIGHT
    near = state.rows.value < 4.0 * box + 8.0
    wished = state.wished
    pair = np.concatenate([state.rows.pair[near], wished.pair, wished.pair])
    if state.apart:
        kinds, pair = np.unique(pair, return_inverse=True)
        aside = d + 2 + max(1, len(kinds))
    else:
        aside, pair = d + 3, np.zeros_like(pair)
    placed = state.placed
    size = aside + len(placed.value) // 2
    slopes = np.zeros((len(turns), d))
    lengths = np.zeros((len(turns), size))
    for i, mine in enumerate(traces):
        part = slice(int(offsets[i]), int(offsets[i + 1]))
        slopes[i, part] = mine.d_angles.sum(axis=1) / _RIGHT
        lengths[i, part] = mine.d_length
    most, least, short = d, d + 1, d + 2
    f = np.zeros(size)
    f[:d] = PER_RIGHT_ANGLE * slopes.sum(axis=0)
    f[most], f[least] = PER_UNEVEN_RIGHT_ANGLE, -PER_UNEVEN_RIGHT_ANGLE
    f[short:aside], f[aside:] = _PENALTY, PER_MM_ASIDE
    ends = np.zeros((2 * len(turns), size))
    ends[: len(turns), :d], ends[: len(turns), most] = -slopes, 1.0
    ends[len(turns) :, :d], ends[len(turns) :, least] = slopes, -1.0
    ends_low = np.concatenate([turns, -turns])
    rows = np.zeros((int(near.sum()), size))
    rows[:, :d] = state.rows.gradient[near]
    rows[np.arange(len(rows)), short + pair[: len(rows)]] = 1.0
    # Lengths are kept as they are; whole angles are come to like any other limit.
    same = np.zeros((2 * len(wished.value), size))
    half = len(wished.value)
    same[:half, :d], same[half:, :d] = wished.gradient, -wished.gradient
    same[np.arange(len(same)), short + pair[len(rows) :]] = 1.0
    same_low = np.concatenate([-wished.value, wished.value])
    there = np.zeros((len(placed.value), size))
    there[:, :d] = placed.gradient
    there[np.arange(len(there)), aside + placed.pair] = 1.0
    low = np.concatenate(
        [
            np.full(d, -box),
            [turns.max() - 10.0, turns.min() - 10.0],
            np.zeros(size - short),
            ends_low,
            -state.rows.value[near],
            same_low,
            -placed.value,
            np.zeros(len(lengths)),
        ]
    )
    high = np.full(len(low), 1e30)
    high[len(low) - len(lengths) :] = 0.0
    high[:d] = box
    high[most], high[least], high[short:size] = turns.max() + 10.0, turns.min() + 10.0, 1e4
    a = np.concatenate([ends, rows, same, there, lengths])
    h = np.full(size, 1e-5)
    h[most:] = 1e-6
    sense = np.zeros(len(low), dtype=np.int32)
    sense[len(low) - len(lengths) :] = 5
    x, _, flag, info = daqp.solve(np.diag(h), f, a, high, low, sense)
    blame = np.zeros(len(turns))
    if flag < 1:
        return np.zeros(d), 0.0, blame
    if float(x[short:aside].max()) > 1e-6:
        prices = np.abs(info["lam"][size + len(ends) :][: len(rows) + len(same)])
        pulls = prices @ np.abs(np.concatenate([rows, same])[:, :d])
        blame = np.array([pulls[offsets[e] : offsets[e + 1]].sum() for e in range(len(turns))])
    step = np.asarray(x[:d])
    after = turns + slopes @ step
    promised = state.turns - float(
        PER_RIGHT_ANGLE * after.sum() + PER_UNEVEN_RIGHT_ANGLE * (after.max() - after.min())
    )
    promised += _PENALTY * (state.lack - float(x[short:aside].sum()))
    return step, promised + PER_MM_ASIDE * (state.aside - float(x[aside:].sum())), blame


def _moved(problem: Problem, state: _State, step: Floats) -> tuple[Batch, ...] | None:
    """The layout after a step, its lengths restored along their own slope; None when torn."""
    traces, offsets = state.here.traces, state.here.offsets
    out = []
    for i, mine in enumerate(traces):
        part = step[int(offsets[i]) : int(offsets[i + 1])]
        out.append(_shifted(mine.batch, part) if len(part) else mine.batch)
    left = [i for i, mine in enumerate(traces) if len(mine.d_length)]
    for turn in range(_RESTORES + 1):
        lengths = _lengths([out[i] for i in left])
        off = [length - problem.edges[i].length for i, length in zip(left, lengths, strict=True)]
        again = []
        for i, by in zip(left, off, strict=True):
            slope = traces[i].d_length
            square = float(slope @ slope)
            if abs(by) < 1e-7 or square < 1e-9 or turn == _RESTORES:
                if not abs(by) < NEAR:
                    return None
            else:
                out[i] = _shifted(out[i], -slope * (by / square))
                again.append(i)
        left = again
    return tuple(out)


def _shifted(batch: Batch, by: Floats) -> Batch:
    """A path with its free numbers changed."""
    moves = batch.form.moves
    return Batch(batch.form, batch.corners + np.einsum("d,dkc->kc", by, moves), batch.radii)


def _lengths(batches: list[Batch]) -> list[float]:
    """Of paths (one a batch) [mm]; those of as many bends are measured together."""
    alike: dict[int, list[int]] = {}
    for i, batch in enumerate(batches):
        alike.setdefault(batch.radii.shape[1], []).append(i)
    out = [0.0] * len(batches)
    for members in alike.values():
        nodes = np.concatenate([batches[i].nodes for i in members])
        lines = Lines(nodes, np.concatenate([batches[i].radii for i in members]))
        for i, length in zip(members, measure(lines).length, strict=True):
            out[i] = float(length)
    return out
