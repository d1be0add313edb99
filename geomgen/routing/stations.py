"""Stretches of tubes that are wanted on straights, as steps are: how far each is from one.

A straight holds a stretch if it begins before it and ends behind it, a least straight away where
there is a bend. What either lacks is how far the stretch would have to be moved, or the bend.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from geomgen.geometry.centreline import Bend, Centreline
from geomgen.routing.layout import Layout
from geomgen.routing.paths import Floats, Measure
from geomgen.routing.problem import Edge, Problem, shelf_of
from geomgen.routing.score import ASTRAY, PER_MM_ASIDE

_OFF_ENDS = 0.05
"""What a stretch that is wanted beyond its tube keeps of its ends, for rounding [mm]."""


def _middles(tube: Edge) -> Floats:
    """Middles of a tube's stretches, as near as they can be on it (m,) [mm]."""
    half = np.array([0.5 * one.length for one in tube.stations])
    end = np.array([one.end for one in tube.stations])
    at = np.array([one.at for one in tube.stations])
    most = tube.length - end - half - _OFF_ENDS
    return np.asarray(np.maximum(np.minimum(at, most), half + _OFF_ENDS))


def _lacks(problem: Problem, edge: int, begins: Floats, ends: Floats) -> Floats:
    """What each straight lacks, before and behind it, to hold each stretch (2, n, m, k + 1) [mm].

    Args:
        problem: the bundle.
        edge: which tube.
        begins: of the straights of n paths (n, k + 1) [mm].
        ends: of the same.
    """
    tube = problem.edges[edge]
    room = np.full((len(tube.stations), begins.shape[1]), shelf_of(problem, tube).straight)
    before, behind = room.copy(), room
    before[:, 0], behind[:, -1] = 0.0, [one.end for one in tube.stations]
    half = np.array([[0.5 * one.length] for one in tube.stations])
    at = _middles(tube)[:, None]
    return np.stack([begins[:, None] + (before + half - at), (at + half + behind) - ends[:, None]])


def _straights(radii: Floats, straights: Floats, angles: Floats) -> tuple[Floats, Floats]:
    """Where straights begin and end along their paths (n, k + 1) [mm]."""
    begins = np.zeros_like(straights)
    np.cumsum(straights[:, :-1] + radii * angles, axis=1, out=begins[:, 1:])
    return begins, begins + straights


def aside(problem: Problem, edge: int, radii: Floats, measured: Measure) -> Floats:
    """How far each stretch of a tube is from a straight that holds it (n, m) [mm]."""
    found = _straights(radii, measured.straights, measured.angles)
    lacks = _lacks(problem, edge, *found).max(axis=0)
    return np.asarray(np.maximum(lacks.min(axis=2, initial=np.inf), 0.0))


def prices(problem: Problem, edge: int, radii: Floats, measured: Measure) -> Floats | float:
    """What a tube's stretches add to the costs of paths that may yet be moved (n,)."""
    if not problem.edges[edge].stations:
        return 0.0
    return np.asarray(PER_MM_ASIDE * aside(problem, edge, radii, measured).sum(axis=1))


def moved(problem: Problem, paths: tuple[Centreline, ...]) -> tuple[tuple[float, ...], ...]:
    """How far each stretch of each tube is from a straight that holds it [mm]."""
    return tuple(_moved(problem, edge, path) for edge, path in enumerate(paths))


def _moved(problem: Problem, edge: int, path: Centreline) -> tuple[float, ...]:
    if not problem.edges[edge].stations:
        return ()
    ends, at = [[0.0, 0.0]], 0.0
    for piece in path.pieces:
        at += piece.length
        if isinstance(piece, Bend):
            ends.append([at, at])
        ends[-1][1] = at
    begins, behind = np.array(ends).T
    lacks = _lacks(problem, edge, begins[None], behind[None]).max(axis=0)
    return tuple(float(value) for value in np.maximum(lacks.min(axis=2), 0.0)[0])


def price(problem: Problem, paths: tuple[Centreline, ...]) -> float:
    """What all stretches add to the score of a layout."""
    return math.fsum(
        priced(tube, values)
        for tube, values in zip(problem.edges, moved(problem, paths), strict=True)
    )


def priced(tube: Edge, values: Iterable[float]) -> float:
    """What a tube's stretches add to its score, so far from straights that hold them [mm]."""
    return math.fsum(
        PER_MM_ASIDE * value + (ASTRAY if value > one.within else 0.0)
        for one, value in zip(tube.stations, values, strict=True)
    )


def astray(problem: Problem, paths: tuple[Centreline, ...]) -> tuple[int, ...]:
    """Tubes with a stretch that is farther from a straight that holds it than it may be."""
    return tuple(
        edge
        for edge, values in enumerate(moved(problem, paths))
        for tube in [problem.edges[edge]]
        if any(value > one.within for one, value in zip(tube.stations, values, strict=True))
    )


def without(problem: Problem) -> Problem:
    """The same with nothing that is wanted on straights."""
    edges = tuple(replace(edge, stations=()) for edge in problem.edges)
    return replace(problem, edges=edges)


def limits(problem: Problem, here: Layout, room: float) -> tuple[Floats, Floats]:
    """What each stretch has before and behind it on its nearest straight, and its slope.

    Args:
        problem: the bundle.
        here: the layout.
        room: kept on top, for rounding [mm].

    Returns:
        values (stations, 2) [mm], negative where something lacks, and gradients (stations, 2, d)
        over the free numbers of all tubes.
    """
    values, gradients = [np.zeros((0, 2))], [np.zeros((0, 2, here.free))]
    for edge, (tube, mine) in enumerate(zip(problem.edges, here.traces, strict=True)):
        if not tube.stations:
            continue
        radii = mine.batch.radii
        lacks = _lacks(problem, edge, *_straights(radii, mine.straights[None], mine.angles[None]))[
            :, 0
        ]
        begins, ends = _straights(radii, mine.d_straights, mine.d_angles)
        nearest = lacks.max(axis=0).argmin(axis=1)
        gradient = np.zeros((len(nearest), 2, here.free))
        part = slice(int(here.offsets[edge]), int(here.offsets[edge + 1]))
        gradient[:, 0, part] = -begins.T[nearest]
        gradient[:, 1, part] = ends.T[nearest]
        values.append(-lacks[:, np.arange(len(nearest)), nearest].T - room)
        gradients.append(gradient)
    return np.concatenate(values), np.concatenate(gradients)
