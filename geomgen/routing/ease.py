"""How easily tubes reach one another's ends, for many poses of free junctions at once.

Each tube is drawn as the cubic curve between its ends whose length is nearest to its own;
what those curves lack in length, radius and room tells which poses are worth routing. They
only choose: nothing is proven by them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from geomgen.geometry.frames import Frame
from geomgen.routing.assignments import allowed
from geomgen.routing.paths import Floats
from geomgen.routing.problem import Edge, Problem, shelf_of, together

_HANDLES = (0.06, 0.14, 0.22, 0.3, 0.38, 0.46, 0.56, 0.68)
"""Of the curves tried, as parts of the tube's length."""

_SAMPLES = 17
_TOO_LONG, _TOO_SHORT, _TOO_TIGHT, _TOO_NEAR, _TURN = 800.0, 80.0, 4.0, 20.0, 0.3
"""Weights of what falls short: squares of relative shortfalls; turn in rad as it is. A tube
may fold to use up length, but not be longer than it is."""

_EASY = 1.06
"""Length of a tube over that of its curve at which it is neither tight nor folded."""

_HELD = 2 * _SAMPLES // 3
"""Samples of a curve that are held against others of its collector."""

_FULLY = 300
"""Poses that are held against obstacles too, the others are so much worse."""


@dataclass(frozen=True)
class Ends:
    """Where tubes begin and end, for each of many poses: origins and directions (m, 3)."""

    starts: tuple[tuple[Floats, Floats], ...]
    slots: tuple[tuple[Floats, Floats], ...]


def ends_for(
    with_poses: Callable[[tuple[Frame, ...]], Problem],
    middles: tuple[Frame, ...],
    poses: tuple[tuple[Frame, ...], ...],
) -> tuple[Problem, Ends]:
    """The problem for the middles, and the ends of its tubes for every choice of poses.

    What moves with a junction is found by moving it, and then carried rigidly.
    """
    problem = with_poses(middles)
    frames = (*(edge.start for edge in problem.edges), *problem.slots)
    owner: dict[int, int] = {}
    for k, middle in enumerate(middles):
        other = with_poses((*middles[:k], middle.shifted((1.0, 0.0, 0.0)), *middles[k + 1 :]))
        after = (*(edge.start for edge in other.edges), *other.slots)
        pairs = enumerate(zip(frames, after, strict=True))
        owner |= {i: k for i, (a, b) in pairs if a.origin != b.origin}
    turned = [
        (
            np.array([choice[k].origin for choice in poses]),
            np.array([[choice[k].x, choice[k].y, choice[k].z] for choice in poses]),
        )
        for k in range(len(middles))
    ]
    found: list[tuple[Floats, Floats]] = []
    for i, frame in enumerate(frames):
        if i not in owner:
            rows = np.ones((len(poses), 1))
            found.append((rows * np.array(frame.origin), rows * np.array(frame.z)))
            continue
        k = owner[i]
        local = middles[k].seen(frame)
        origin, axes = turned[k]
        at = origin + np.einsum("c,mcd->md", np.array(local.origin), axes)
        found.append((at, np.einsum("c,mcd->md", np.array(local.z), axes)))
    n = len(problem.edges)
    return problem, Ends(tuple(found[:n]), tuple(found[n:]))


def strains(problem: Problem, ends: Ends) -> Floats:
    """What stands against each choice of poses, lower is easier (m,)."""
    costs, curves = _chosen(problem, ends)
    costs = costs + _clashes(problem, curves)
    easy = np.argsort(costs, kind="stable")[:_FULLY]
    total = np.full(len(costs), np.inf)
    total[easy] = costs[easy]
    for edge, points in zip(problem.edges, curves, strict=True):
        some = points[easy]
        for obstacle in problem.obstacles:
            need = edge.radius + obstacle.gap
            room = obstacle.field.distance(some.reshape(-1, 3)).reshape(some.shape[:2])
            short = np.maximum(need - room.min(axis=1), 0.0) / need
            total[easy] += _TOO_NEAR * short**2
    return total


def _chosen(problem: Problem, ends: Ends) -> tuple[Floats, tuple[Floats, ...]]:
    """Cost of all tubes in the slots that suit them best, and their curves (m, samples, 3)."""
    options = [
        {s: _curve(problem, edge, ends.starts[e], ends.slots[s]) for s in allowed(problem, e)}
        for e, edge in enumerate(problem.edges)
    ]
    rows = np.arange(len(ends.starts[0][0]))
    total = np.zeros(len(rows))
    curves: list[Floats] = [np.zeros(0)] * len(problem.edges)
    for group in _groups(problem):
        ways = [
            way
            for way in permutations({s: None for e in group for s in options[e]}, len(group))
            if all(s in options[e] for e, s in zip(group, way, strict=True))
        ]
        costs = np.array(
            [sum(options[e][s][0] for e, s in zip(group, way, strict=True)) for way in ways]
        )
        best = costs.argmin(axis=0)
        total += costs[best, rows]
        for i, e in enumerate(group):
            curves[e] = np.stack([options[e][way[i]][1] for way in ways])[best, rows]
    return total, tuple(curves)


def _groups(problem: Problem) -> list[tuple[int, ...]]:
    """Tubes that share slots, by collector."""
    found: dict[tuple[int, ...], list[int]] = {}
    for e in range(len(problem.edges)):
        found.setdefault(allowed(problem, e), []).append(e)
    return [tuple(group) for group in found.values()]


def _curve(
    problem: Problem, edge: Edge, start: tuple[Floats, Floats], slot: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """Cost of a tube into a slot (m,) and its curve (m, samples, 3)."""
    t = np.linspace(0.0, 1.0, _SAMPLES)[:, None]
    weights = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3])
    rows = np.arange(len(start[0]))
    costs, drawn = [], []
    radius = min(radius.clr for radius in shelf_of(problem, edge).radii)
    for part in _HANDLES:
        handle = part * edge.length
        posts = (start[0], start[0] + handle * start[1], slot[0] - handle * slot[1], slot[0])
        points = sum(w * p[:, None, :] for w, p in zip(weights, posts, strict=True))
        costs.append(_lacking(points, edge.length, radius))
        drawn.append(points)
    table = np.array(costs)
    best = table.argmin(axis=0)
    return table[best, rows], np.stack(drawn)[best, rows]


def _lacking(points: Floats, length: float, radius: float) -> Floats:
    """What curves lack in length and radius (m,)."""
    legs = np.diff(points, axis=1)
    sizes = np.maximum(np.linalg.norm(legs, axis=2), 1e-9)
    off = np.log(_EASY * sizes.sum(axis=1) / length)
    cosine = np.einsum("mkc,mkc->mk", legs[:, 1:], legs[:, :-1]) / (sizes[:, 1:] * sizes[:, :-1])
    turns = np.arccos(np.clip(cosine, -1.0, 1.0))
    # Turn over any fifth of the curve, as a bend spreads it.
    tight = radius * turns / (0.5 * (sizes[:, 1:] + sizes[:, :-1]))
    spread = np.stack([tight[:, k : tight.shape[1] - 2 + k] for k in range(3)]).mean(axis=0)
    short = np.maximum(spread.max(axis=1) - 1.0, 0.0)
    return np.asarray(
        np.where(off > 0.0, _TOO_LONG, _TOO_SHORT) * off**2
        + _TOO_TIGHT * np.minimum(short, 3.0) ** 2
        + _TURN * turns.sum(axis=1)
    )


def _clashes(problem: Problem, curves: tuple[Floats, ...]) -> Floats:
    """What curves lack in room beside one another (m,)."""
    total = np.zeros(len(curves[0]))
    for i, one in enumerate(curves):
        for j in range(i):
            two = curves[j]
            need = problem.edges[i].radius + problem.edges[j].radius + problem.gap
            apart = one[:, :, None, :] - two[:, None, :, :]
            d = np.sqrt(np.einsum("mabc,mabc->mab", apart, apart))
            if _meet(problem, i, j):
                d[:, _HELD:, _HELD:] = np.inf
            short = np.maximum(need - d.min(axis=(1, 2)), 0.0) / need
            total += _TOO_NEAR * short**2
    return total


def _meet(problem: Problem, one: int, two: int) -> bool:
    return together(problem, allowed(problem, one)[0], allowed(problem, two)[0])
