"""What a drawn path keeps, and by how much it falls short: its shelf, and room for tools."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.paths import (
    ROUNDING,
    SHARPEST,
    Batch,
    Bools,
    Floats,
    Lines,
    Measure,
    points,
    rooms,
)
from geomgen.routing.problem import Edge, Problem, Shelf

SPACING = 12.0
"""Distance between samples along a path while searching [mm]; proofs do not use it."""

PER_RADIAN = 60.0
"""A radian too much or too little counts like so many mm."""


def sample_count(length: float) -> int:
    """Samples on a path of that length while choosing; the descent takes more."""
    return int(np.clip(np.ceil(length / SPACING), 24, 56))


def sampled(edge: Edge, batch: Batch | Lines, measured: Measure) -> tuple[Floats, Floats, Bools]:
    """Samples of one tube's paths.

    Returns:
        stations (n, count) [mm], points (n, count, 3) [mm], and whether each point is on
        the last straight (n, count).
    """
    stations, where = points(batch, measured, sample_count(edge.length))
    last = stations >= (measured.length - measured.straights[:, -1])[:, None]
    return stations, where, last


def most_angles(batch: Batch, shelf: Shelf) -> Floats:
    """Largest angle that each bend may have (n, k) [rad]; a kept bend any."""
    most = np.zeros_like(batch.radii)
    for radius in shelf.radii:
        most = np.where(batch.radii == radius.clr, min(radius.most, SHARPEST), most)
    return np.asarray(np.where(batch.form.kept, np.pi, most))


def shape_shortfall(measured: Measure, batch: Batch, shelf: Shelf) -> Floats:
    """By how much each path's worst straight or angle falls short of the shelf (n,) [mm].

    A radian counts like ``PER_RADIAN`` mm; negative when all are kept.
    """
    least = np.where(batch.form.kept, 0.0, shelf.least_angle)
    # A straight of none, between bends that touch, may come out as less by rounding.
    worst = (batch.form.least - measured.straights).max(axis=1) - ROUNDING
    if batch.radii.shape[1]:
        over = np.maximum(least - measured.angles, measured.angles - most_angles(batch, shelf))
        worst = np.maximum(worst, PER_RADIAN * over.max(axis=1))
    if batch.form.rooms:
        worst = np.maximum(worst, (-rooms(batch, measured)).max(axis=1) - ROUNDING)
    return np.asarray(worst)


def feasible(measured: Measure, batch: Batch, shelf: Shelf) -> Bools:
    """Which paths have straights and angles that the shelf allows."""
    return np.asarray(shape_shortfall(measured, batch, shelf) <= 0.0)


def squares(a: Floats, b: Floats, centre: Floats | None = None) -> NDArray[np.float32]:
    """Squared distances (n, count, m) of points (n, count, 3) from points (m, 3) [mm2].

    In single precision about a common centre: for choosing, not for proving.
    """
    centre = b.mean(axis=0) if centre is None else centre
    p, q = (a - centre).astype(np.float32), (b - centre).astype(np.float32)
    out = p.reshape(-1, 3) @ (-2.0 * q.T)
    out += np.einsum("...c,...c->...", p, p).reshape(-1, 1)
    out += np.einsum("mc,mc->m", q, q)
    return np.asarray(out.reshape(*a.shape[:2], len(b)))


def free_places(problem: Problem, edge: int, where: Floats, give: float = 0.0) -> Bools:
    """Which tool places each path leaves free, at the samples: (n, places)."""
    n, count, _ = where.shape
    radius = problem.edges[edge].radius - give
    free = np.ones((n, len(problem.places)), dtype=bool)
    if not problem.places or n == 0:
        return free
    flat, row = where.reshape(-1, 3), np.repeat(np.arange(n), count)
    lows = np.array([place.within.low for place in problem.places])
    highs = np.array([place.within.high for place in problem.places])
    reach = radius + max(place.gap for place in problem.places)
    near = ((flat > lows.min(axis=0) - reach) & (flat < highs.max(axis=0) + reach)).all(axis=1)
    flat, row = flat[near], row[near]
    for index, place in enumerate(problem.places):
        inside = ((flat > lows[index] - reach) & (flat < highs[index] + reach)).all(axis=1)
        if not inside.any():
            continue
        for field in place.fields:
            gap = field.distance(flat[inside]) - radius
            free[row[inside][gap < place.gap], index] = False
    return free


def studs_served(problem: Problem, free: Bools) -> Bools:
    """Whether every stud has a free place, for each row of ``free`` (n,)."""
    ok = np.ones(len(free), dtype=bool)
    for stud in problem.studs:
        mine = [i for i, place in enumerate(problem.places) if place.stud == stud]
        if mine:
            ok &= free[:, mine].any(axis=1)
    return ok
