"""A layout as samples, and how each sample moves with the free numbers of its tube."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.paths import Batch, Bools, Floats, Lines, Measure, measure, points_along, rooms
from geomgen.routing.problem import Problem

Ints = NDArray[np.intp]

SPACING = 7.0
"""Between samples [mm]; half a spacing's sagitta on a 40 mm radius is 0.15 mm."""

_STEP = 1e-3


@dataclass(frozen=True)
class Trace:
    """One tube as it stands, and what each of its free numbers changes, per mm.

    Attributes:
        batch: of one.
        straights, angles, length, rooms: of that one path.
        d_straights, d_angles, d_length, d_rooms: (d, ...).
    """

    batch: Batch
    straights: Floats
    angles: Floats
    length: float
    rooms: Floats
    d_straights: Floats
    d_angles: Floats
    d_length: Floats
    d_rooms: Floats

    @property
    def turn(self) -> float:
        """Total turn [rad]."""
        return float(self.angles.sum())


@dataclass(frozen=True)
class Layout:
    """All tubes as samples, one after the other, and how each sample moves.

    Attributes:
        traces: of each tube.
        begins: (tubes + 1,) where each tube's samples begin.
        offsets: (tubes + 1,) where each tube's free numbers begin.
        tube: (p,) whose sample it is.
        stations: (p,) [mm].
        points: (p, 3) [mm].
        last: (p,) whether on the last straight.
        back, ahead: (p,) how far a sample stands for its tube, against and along it [mm].
        tangents: (p, 3).
        bows: (p, 3) half the curvature, towards the centre [1/mm].
        slopes: (d, p, 3) per mm of each free number.
        radius: (p,) of the tube [mm].
    """

    traces: tuple[Trace, ...]
    begins: Ints
    offsets: Ints
    tube: Ints
    stations: Floats
    points: Floats
    last: Bools
    back: Floats
    ahead: Floats
    tangents: Floats
    bows: Floats
    slopes: Floats
    radius: Floats

    @property
    def free(self) -> int:
        """How many free numbers there are."""
        return int(self.offsets[-1])


def layout(problem: Problem, batches: tuple[Batch, ...]) -> Layout:
    """Trace all tubes; derivatives are differences over a small step.

    Tubes of as many bends are traced together.
    """
    sizes = [len(batch.form.moves) for batch in batches]
    offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)
    alike: dict[int, list[int]] = {}
    for edge, batch in enumerate(batches):
        alike.setdefault(batch.radii.shape[1], []).append(edge)
    drawn: dict[int, _Drawn] = {}
    for edges in alike.values():
        drawn.update(zip(edges, _drawn(tuple(batches[e] for e in edges)), strict=True))
    every = [drawn[edge] for edge in range(len(batches))]
    counts = [len(one.last) for one in every]
    begins = np.concatenate([[0], np.cumsum(counts)]).astype(np.intp)
    slopes = np.zeros((int(offsets[-1]), int(begins[-1]), 3))
    for e, one in enumerate(every):
        moved = (one.points[1:] - one.points[0]) / _STEP
        slopes[offsets[e] : offsets[e + 1], begins[e] : begins[e + 1]] = moved
    where = np.concatenate([one.points[0] for one in every])
    last = np.concatenate([one.last for one in every])
    spacing = np.concatenate([one.spacing for one in every])
    back, ahead = -0.5 * spacing, 0.5 * spacing
    # Nothing before the start or behind the end, and what is held ends where it ends.
    back[begins[:-1]], ahead[begins[1:] - 1] = 0.0, 0.0
    ahead[np.flatnonzero(last[1:] > last[:-1])] = 0.0
    tangents, bows = _bent(where, last, spacing, begins)
    return Layout(
        tuple(one.trace for one in every),
        begins,
        offsets,
        np.repeat(np.arange(len(batches)), counts),
        np.concatenate([one.stations for one in every]),
        where,
        last,
        back,
        ahead,
        tangents,
        bows,
        slopes,
        np.repeat([edge.radius for edge in problem.edges], counts),
    )


def _bent(where: Floats, last: Bools, spacing: Floats, begins: Ints) -> tuple[Floats, Floats]:
    """Tangents, and half the curvature towards the centre [1/mm], at samples of all tubes."""
    heads, tails = begins[:-1], begins[1:] - 1
    tangents, bows = np.empty_like(where), np.empty_like(where)
    tangents[1:-1] = where[2:] - where[:-2]
    tangents[heads] = where[heads + 1] - where[heads]
    tangents[tails] = where[tails] - where[tails - 1]
    tangents /= np.maximum(np.sqrt((tangents**2).sum(axis=1)), 1e-12)[:, None]
    bows[1:-1] = (where[2:] - 2.0 * where[1:-1] + where[:-2]) / 2.0
    bows[1:-1] /= np.maximum(spacing[1:-1, None], 1e-9) ** 2
    bows[heads], bows[tails] = 0.0, 0.0
    bows[np.flatnonzero(last[1:] > last[:-1]) + np.array([[0], [1]])] = 0.0  # spacing changes there
    return tangents, bows


@dataclass(frozen=True)
class _Drawn:
    """A tube traced: its samples as it stands, and those of each free number's small step.

    Attributes:
        trace: what is known of it.
        stations: (p,) as it stands [mm].
        points: (1 + d, p, 3) [mm].
        last: (p,) whether on the last straight.
        spacing: (p,) of samples there [mm].
    """

    trace: Trace
    stations: Floats
    points: Floats
    last: Bools
    spacing: Floats


def _drawn(batches: tuple[Batch, ...]) -> list[_Drawn]:
    """Tubes of as many bends, each as it stands and with each of its free numbers moved."""
    rows = np.cumsum([0, *(1 + len(batch.form.moves) for batch in batches)])
    varied = [
        Batch(
            batch.form,
            np.concatenate([batch.corners, batch.corners[0] + _STEP * batch.form.moves]),
            np.broadcast_to(batch.radii, (1 + len(batch.form.moves), batch.radii.shape[1])),
        )
        for batch in batches
    ]
    lines = Lines(
        np.concatenate([one.nodes for one in varied]), np.concatenate([one.radii for one in varied])
    )
    every = measure(lines)
    parts = [slice(int(a), int(b)) for a, b in pairwise(rows)]
    cuts = [_cut(every.length[part], every.straights[part, -1]) for part in parts]
    stations = np.zeros((len(lines), max(len(last) for _, last, _ in cuts)))
    for part, (where, last, _) in zip(parts, cuts, strict=True):
        stations[part, : len(last)] = where
    points = points_along(lines, every, stations)
    out = []
    for batch, one, part, (where, last, spacing) in zip(batches, varied, parts, cuts, strict=True):
        measured = Measure(every.straights[part], every.angles[part], every.length[part])
        trace = _trace(batch, one, measured)
        out.append(_Drawn(trace, where[0], points[part, : len(last)], last, spacing))
    return out


def _trace(batch: Batch, varied: Batch, measured: Measure) -> Trace:
    """What is known of a tube, from it and its variations."""
    room = rooms(varied, measured)

    def slope(values: Floats) -> Floats:
        return np.asarray((values[1:] - values[0]) / _STEP)

    return Trace(
        batch,
        measured.straights[0],
        measured.angles[0],
        float(measured.length[0]),
        room[0],
        slope(measured.straights),
        slope(measured.angles),
        slope(measured.length),
        slope(room),
    )


def _cut(length: Floats, end: Floats) -> tuple[Floats, Bools, Floats]:
    """Where to sample: evenly before the last straight, its beginning included, and on it.

    Args:
        length: of a tube and its variations (n,) [mm].
        end: their last straights (n,) [mm].

    Returns:
        stations (n, count) [mm], whether each is on the last straight (count,), and the
        spacing there (count,) [mm].
    """
    begin = length - end
    first, final = float(begin[0]), float(end[0])
    before = max(2, math.ceil(first / SPACING) + 1)
    behind = max(1, math.ceil(final / SPACING))
    f, g, last = _parts(before, behind)
    stations = begin[:, None] * f + end[:, None] * g
    return stations, last, np.where(last, final / behind, first / (before - 1))


@lru_cache(maxsize=1024)
def _parts(before: int, behind: int) -> tuple[Floats, Floats, Bools]:
    """Parts of what is before the last straight, and of that, up to each sample."""
    last = np.arange(before + behind) >= before
    f, g = np.ones(before + behind), np.zeros(before + behind)
    f[:before] = np.linspace(0.0, 1.0, before)
    g[before:] = (np.arange(behind) + 1.0) / behind
    return f, g, last
