"""A layout as samples, and how each sample moves with the free numbers of its tube."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.paths import Batch, Bools, Floats, Measure, measure, points_along, rooms
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
    """Trace all tubes; derivatives are differences over a small step."""
    sizes = [len(batch.form.moves) for batch in batches]
    offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)
    traces, parts, slopes = [], [], []
    for edge, batch in enumerate(batches):
        one, samples, moved = _trace(batch)
        traces.append(one)
        parts.append((*samples, np.full(len(samples[0]), problem.edges[edge].radius)))
        slopes.append(moved)
    counts = [len(part[0]) for part in parts]
    begins = np.concatenate([[0], np.cumsum(counts)]).astype(np.intp)
    every = np.zeros((int(offsets[-1]), int(begins[-1]), 3))
    for e, moved in enumerate(slopes):
        every[offsets[e] : offsets[e + 1], begins[e] : begins[e + 1]] = moved
    stations, where, last, back, ahead, tangents, bows, radius = (
        np.concatenate([part[i] for part in parts]) for i in range(8)
    )
    tube = np.repeat(np.arange(len(batches)), counts)
    return Layout(
        tuple(traces),
        begins,
        offsets,
        tube,
        stations,
        where,
        last,
        back,
        ahead,
        tangents,
        bows,
        every,
        radius,
    )


def _trace(batch: Batch) -> tuple[Trace, tuple[NDArray[Any], ...], Floats]:
    moves = batch.form.moves
    corners = np.concatenate([batch.corners, batch.corners[0] + _STEP * moves])
    radii = np.broadcast_to(batch.radii, (len(corners), batch.radii.shape[1]))
    varied = Batch(batch.form, corners, radii)
    measured = measure(varied)
    stations, last, spacing = _stations(measured)
    where = points_along(varied, measured, stations)
    room = rooms(varied, measured)
    tangents = np.empty_like(where[0])
    tangents[1:-1] = where[0, 2:] - where[0, :-2]
    tangents[0], tangents[-1] = where[0, 1] - where[0, 0], where[0, -1] - where[0, -2]
    tangents /= np.maximum(np.sqrt((tangents**2).sum(axis=1)), 1e-12)[:, None]

    bows = np.zeros_like(tangents)
    bows[1:-1] = (where[0, 2:] - 2.0 * where[0, 1:-1] + where[0, :-2]) / 2.0
    bows[1:-1] /= np.maximum(spacing[1:-1, None], 1e-9) ** 2
    bows[np.flatnonzero(np.diff(last)) + np.array([[0], [1]])] = 0.0  # spacing changes there

    def slope(values: Floats) -> Floats:
        return np.asarray((values[1:] - values[0]) / _STEP)

    one = Trace(
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
    back, ahead = -0.5 * spacing, 0.5 * spacing
    # Nothing before the start or behind the end, and what is held ends where it ends.
    back[0], ahead[-1] = 0.0, 0.0
    ahead[np.flatnonzero(np.diff(last))] = 0.0
    return one, (stations[0], where[0], last, back, ahead, tangents, bows), slope(where)


def _stations(measured: Measure) -> tuple[Floats, Bools, Floats]:
    """Where to sample: evenly before the last straight, its beginning included, and on it.

    Returns:
        stations (n, count) [mm], whether each is on the last straight (count,), and the
        spacing there (count,) [mm].
    """
    begin = measured.length - measured.straights[:, -1]
    before = max(2, int(np.ceil(begin[0] / SPACING)) + 1)
    behind = max(1, int(np.ceil(measured.straights[0, -1] / SPACING)))
    f, g = np.linspace(0.0, 1.0, before), (np.arange(behind) + 1.0) / behind
    stations = np.concatenate(
        [begin[:, None] * f, begin[:, None] + measured.straights[:, -1:] * g], axis=1
    )
    last = np.arange(before + behind) >= before
    steps = (float(begin[0]) / (before - 1), float(measured.straights[0, -1]) / behind)
    return stations, last, np.where(last, steps[1], steps[0])
