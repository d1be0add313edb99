"""Improve a layout that fits: one tube at a time, the others standing still."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geomgen.routing.bundle import nearest_squares
from geomgen.routing.candidates import (
    SLACK,
    clear_of_fixed,
    feasible,
    free_places,
    kronecker,
    sampled,
    studs_served,
)
from geomgen.routing.paths import Batch, Measure, measure, with_length
from geomgen.routing.problem import Problem
from geomgen.routing.score import PER_UNEVEN_RIGHT_ANGLE, path_scores

Floats = NDArray[np.float64]

_SCALES = (40.0, 18.0, 8.0)
_VARIANTS = 160


def polish(
    problem: Problem, chosen: tuple[Batch, ...], slots: tuple[int, ...]
) -> tuple[Batch, ...]:
    """A layout of no worse score, every tube still of its exact length and clear at the samples.

    Args:
        problem: the bundle.
        chosen: one path a tube, each a batch of one.
        slots: slot of each tube.
    """
    current = list(chosen)
    for scale in _SCALES:
        for edge in range(len(current)):
            current[edge] = _better(problem, current, slots, edge, scale)
    return tuple(current)


def _better(
    problem: Problem, current: list[Batch], slots: tuple[int, ...], edge: int, scale: float
) -> Batch:
    length = problem.edges[edge].length
    varied, done = with_length(_varied(current[edge], scale), length)
    varied = varied.take(done)
    varied = varied.take(feasible(measure(varied), varied, problem.shelf))
    if len(varied) == 0:
        return current[edge]
    measured = measure(varied)
    scores = path_scores(measured) + PER_UNEVEN_RIGHT_ANGLE * _spread(current, edge, measured)
    own = measure(current[edge])
    limit = float(path_scores(own)[0] + PER_UNEVEN_RIGHT_ANGLE * _spread(current, edge, own)[0])
    order = np.argsort(scores, kind="stable")
    order = order[scores[order] < limit - 1e-6]
    varied = varied.take(order)
    if len(varied) == 0:
        return current[edge]
    good = _clear(problem, current, slots, edge, varied)
    return varied.take(good[:1]) if len(good) else current[edge]


def _clear(
    problem: Problem, current: list[Batch], slots: tuple[int, ...], edge: int, varied: Batch
) -> NDArray[np.intp]:
    """Rows of ``varied`` that are clear of everything, in order."""
    _, stations, where, last = sampled(problem, edge, varied)
    ok = clear_of_fixed(problem, edge, slots[edge], stations, where, last)
    rows = np.flatnonzero(ok)
    free = np.ones((1, len(problem.places)), dtype=bool)
    for other, batch in enumerate(current):
        if other == edge or len(rows) == 0:
            continue
        _, _, there, there_last = sampled(problem, other, batch)
        need = problem.edges[edge].radius + problem.edges[other].radius + problem.gap + SLACK
        d2 = nearest_squares(where[rows], last[rows], there, there_last)[:, 0]
        rows = rows[d2 >= need**2]
        free &= free_places(problem, other, there)
    if len(rows) == 0:
        return rows
    return rows[studs_served(problem, free_places(problem, edge, where[rows]) & free)]


def _spread(current: list[Batch], edge: int, measured: Measure) -> Floats:
    """Spread of total turn over the layout, for each variant, in right angles."""
    others = [float(measure(batch).angles.sum()) for i, batch in enumerate(current) if i != edge]
    mine = measured.angles.sum(axis=1)
    if not others:
        return np.zeros_like(mine)
    high, low = np.maximum(mine, max(others)), np.minimum(mine, min(others))
    return np.asarray((high - low) / (math.pi / 2.0))


def _varied(batch: Batch, scale: float) -> Batch:
    """Variants of one path: its free numbers moved by up to ``scale`` mm."""
    bends = batch.corners.shape[1]
    shift = (2.0 * kronecker(_VARIANTS, 2 + 3 * max(bends - 2, 0)) - 1.0) * scale
    corners = np.repeat(batch.corners, _VARIANTS, axis=0)
    corners[:, 0] += shift[:, :1] * np.array(batch.start.z)
    corners[:, -1] += shift[:, 1:2] * np.array(batch.end.z)
    for i in range(bends - 2):
        corners[:, i + 1] += shift[:, 2 + 3 * i : 5 + 3 * i]
    return Batch(batch.start, batch.end, corners, np.repeat(batch.radii, _VARIANTS, axis=0))
