"""Where a layout is near its limits, and how each limit changes as the corners move.

Everything is sampled finely and each near place is refined along the tangents, so that
what is left of the sampling error is of the third order in half a spacing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Field
from geomgen.routing.candidates import PER_RADIAN, most_angles, squares
from geomgen.routing.layout import SPACING, Ints, Layout
from geomgen.routing.paths import Floats
from geomgen.routing.problem import (
    Problem,
    ToolPlace,
    half_turn,
    shelf_of,
    spared,
    together,
)

SHAPE_ROOM = 0.02
"""Kept on top of straights [mm] and, by ``PER_RADIAN``, of angles, for rounding."""


@dataclass(frozen=True)
class Rows:
    """Linearised limits: ``value + gradient . step >= 0`` for each row [mm].

    Attributes:
        value: (m,) what is left; negative is short.
        gradient: (m, d) over the free numbers of all tubes.
    """

    value: Floats
    gradient: Floats

    @property
    def worst(self) -> float:
        """By how much the worst row falls short [mm]; 0 when none does."""
        return float(max(0.0, -self.value.min())) if len(self.value) else 0.0


@dataclass(frozen=True)
class Bars:
    """Bodies as points: where, radius, which body, how far from its joint [mm]."""

    points: Floats
    radius: Floats
    begins: Ints
    along: Floats


def bars(problem: Problem) -> Bars:
    """All bodies of a problem, sampled."""
    points, radius, counts, along = [np.zeros((0, 3))], [np.zeros(0)], [0], [np.zeros(0)]
    for solid in problem.bodies:
        count = max(2, int(np.ceil(solid.path.length / 5.0)) + 1)
        s = np.linspace(0.0, solid.path.length, count)
        points.append(points_at(solid.path, s))
        radius.append(np.full(count, solid.radius))
        counts.append(count)
        along.append(solid.path.length - s if solid.edge is not None else s)
    return Bars(
        np.concatenate(points),
        np.concatenate(radius),
        np.cumsum(counts).astype(np.intp),
        np.concatenate(along),
    )


def limits(
    problem: Problem,
    slots: tuple[int, ...],
    here: Layout,
    solid: Bars,
    reach: float,
    slack: float,
) -> Rows:
    """Every limit that is within ``reach`` mm of a layout.

    Args:
        problem: the bundle.
        slots: of each tube.
        here: the layout.
        solid: the problem's bodies.
        reach: how near a limit must be to be listed [mm].
        slack: what every gap gets on top, for what sampling hides [mm].
    """
    parts = [_shape(problem, edge, here) for edge in range(len(here.traces))]
    fields = [(o.field, o.gap + slack) for o in (*problem.obstacles, *problem.off)]
    for place in _places(problem, here):
        fields += [(field, place.gap + slack) for field in place.fields]
    parts += [_field(field, gap, here, reach) for field, gap in fields]
    parts.append(_bodies(problem, slots, here, solid, reach, slack))
    parts.append(_tubes(problem, slots, here, reach, slack))
    return Rows(
        np.concatenate([part.value for part in parts]),
        np.concatenate([part.gradient for part in parts]),
    )


def _shape(problem: Problem, edge: int, here: Layout) -> Rows:
    """Straights, angles and kept straights of one tube."""
    mine = here.traces[edge]
    shelf = shelf_of(problem, problem.edges[edge])
    form, least = mine.batch.form, shelf.least_angle
    loose = ~form.kept
    most = most_angles(mine.batch, shelf)[0]
    per = PER_RADIAN
    values = [
        mine.straights - form.least,
        per * (mine.angles - least)[loose],
        per * (most - mine.angles)[loose],
        mine.rooms,
    ]
    gradients = [
        mine.d_straights.T,
        per * mine.d_angles.T[loose],
        -per * mine.d_angles.T[loose],
        mine.d_rooms.T,
    ]
    gradient = np.concatenate(gradients)
    # What no free number changes stands as it is kept, with nothing to spare.
    moves = (gradient != 0.0).any(axis=1)
    value = np.concatenate(values) - np.where(moves, SHAPE_ROOM, 0.0)
    full = np.zeros((len(value), here.free))
    full[:, here.offsets[edge] : here.offsets[edge + 1]] = gradient
    return Rows(value, full)


def _field(field: Field, gap: float, here: Layout, reach: float) -> Rows:
    room = field.distance(here.points) - here.radius - gap
    near = _minima(room, here.begins, reach)
    if not len(near):
        return Rows(np.zeros(0), np.zeros((0, here.free)))
    # Between samples the least is looked for along the tangent.
    shifts = here.back[near, None] * np.array([1.0, 0.5, 0.0, 0.0, 0.0])
    shifts = shifts + here.ahead[near, None] * np.array([0.0, 0.0, 0.0, 0.5, 1.0])
    tried = here.points[near, None, :] + shifts[:, :, None] * here.tangents[near, None, :]
    tried += (shifts**2)[:, :, None] * here.bows[near, None, :]
    values = field.distance(tried.reshape(-1, 3)).reshape(len(near), 5)
    pick = values.argmin(axis=1)
    rows = np.arange(len(near))
    where, value = tried[rows, pick], values[rows, pick]
    step = 1e-3
    probes = where[:, None, :] + step * np.eye(3)
    normals = (field.distance(probes.reshape(-1, 3)).reshape(-1, 3) - value[:, None]) / step
    gradient = np.einsum("dmc,mc->md", here.slopes[:, near], normals)
    return Rows(value - here.radius[near] - gap, gradient)


def _minima(room: NDArray[Any], begins: Ints, reach: float) -> Ints:
    """Samples where a gap along a tube is locally least, and some of those that fall short.

    Args:
        room: what is left of the gap at samples of tubes, one after the other (p,) [mm].
        begins: where each tube's samples begin, and the end.
        reach: how near a least gap must be to be listed [mm].
    """
    before, after = np.empty_like(room), np.empty_like(room)
    before[1:], after[:-1] = room[:-1], room[1:]
    before[begins[:-1]], after[begins[1:] - 1] = np.inf, np.inf
    low = (room <= before) & (room <= after) & (room < reach)
    return np.flatnonzero(low | ((room < 0.0) & (np.arange(len(room)) % 3 == 0)))


def _bodies(
    problem: Problem,
    slots: tuple[int, ...],
    here: Layout,
    solid: Bars,
    reach: float,
    slack: float,
) -> Rows:
    if not problem.bodies:
        return Rows(np.zeros(0), np.zeros((0, here.free)))
    d = np.sqrt(np.maximum(squares(here.points[None], solid.points)[0], 0.0))
    d -= (here.radius[:, None] + (solid.radius + problem.gap + slack)).astype(np.float32)
    turns = [half_turn(problem, edge) for edge in problem.edges]
    samples, others = [], []
    for i, body in enumerate(problem.bodies):
        cols = slice(int(solid.begins[i]), int(solid.begins[i + 1]))
        part, along = d[:, cols], solid.along[cols]
        if body.edge is not None:
            own = slice(int(here.begins[body.edge]), int(here.begins[body.edge + 1]))
            part[own][here.stations[own, None] + along < turns[body.edge]] = np.inf
        if body.edge is None or body.takes:
            free = [spared(problem, body, slot) for slot in slots]
            part[here.last & np.array(free)[here.tube]] = np.inf
            if body.slot in slots:
                edge = slots.index(body.slot)
                own = slice(int(here.begins[edge]), int(here.begins[edge + 1]))
                behind = along if body.edge is None else body.path.length - along
                gone = (problem.edges[edge].length - here.stations[own])[:, None] + behind
                part[own][gone < turns[edge]] = np.inf
        nearest = part.argmin(axis=1)
        room = part[np.arange(len(part)), nearest]
        near = _minima(room, here.begins, reach)
        samples.append(near)
        others.append(nearest[near] + cols.start)
    at, by = np.concatenate(samples), np.concatenate(others)
    away = here.points[at] - solid.points[by]
    size = np.maximum(np.sqrt((away * away).sum(axis=1)), 1e-9)
    value = size - here.radius[at] - solid.radius[by] - problem.gap - slack
    return Rows(value, np.einsum("dmc,mc->md", here.slopes[:, at], away / size[:, None]))


def _tubes(
    problem: Problem, slots: tuple[int, ...], here: Layout, reach: float, slack: float
) -> Rows:
    """Every tube from every other, and from itself farther along than half a turn.

    Pairs of samples are found in single precision; what they leave is worked out exactly.
    """
    points = (here.points - here.points.mean(axis=0)).astype(np.float32)
    square = (points * points).sum(axis=1)
    radius = here.radius.astype(np.float32)
    samples, others = [], []
    for one, two in _near_pairs(problem, here, reach + slack):
        rows = slice(int(here.begins[one]), int(here.begins[one + 1]))
        cols = slice(int(here.begins[two]), int(here.begins[two + 1]))
        d = points[rows] @ (-2.0 * points[cols].T)
        d += square[rows, None]
        d += square[cols]
        if together(problem, slots[one], slots[two]):
            d[here.last[rows, None] & here.last[cols]] = np.inf
        if one == two:
            turn = half_turn(problem, problem.edges[one])
            d[here.stations[cols] - here.stations[rows, None] <= turn] = np.inf
        nearest = d.argmin(axis=1)
        room = np.sqrt(np.maximum(d[np.arange(len(d)), nearest], 0.0))
        room -= radius[rows] + radius[cols][nearest] + np.float32(problem.gap + slack)
        near = _minima(room, np.array([0, len(room)]), reach)
        samples.append(near + rows.start)
        others.append(nearest[near] + cols.start)
    if not samples:
        return Rows(np.zeros(0), np.zeros((0, here.free)))
    return _contacts(problem, here, np.concatenate(samples), np.concatenate(others), slack)


_COARSE = 5


def _near_pairs(problem: Problem, here: Layout, reach: float) -> list[tuple[int, int]]:
    """Tubes (one, two <= one) that may come within reach of each other, by every fifth sample."""
    n = len(here.traces)
    picks: list[Ints] = []
    starts = [0]
    for e in range(n):
        picks.append(np.arange(here.begins[e], here.begins[e + 1], _COARSE))
        starts.append(starts[-1] + len(picks[-1]))
    index = np.concatenate(picks)
    points = here.points[index]
    d = np.sqrt(np.maximum(squares(points[None], points)[0], 0.0))
    # A sample is never farther than this along its tube from one that was picked.
    far = (_COARSE + 1) * SPACING
    far += 2.0 * float(here.radius.max()) + problem.gap + reach
    lengths = [float(here.stations[here.begins[e + 1] - 1]) for e in range(n)]
    turns = [half_turn(problem, edge) for edge in problem.edges]
    return [
        (a, b)
        for a in range(n)
        for b in range(a + 1)
        if (lengths[a] > turns[a] if a == b else True)
        and d[starts[a] : starts[a + 1], starts[b] : starts[b + 1]].min() < far
    ]


def _contacts(problem: Problem, here: Layout, i: Ints, j: Ints, slack: float) -> Rows:
    """Least distance of the tangents at pairs of samples, within half a spacing of them."""
    t, u = here.tangents[i], here.tangents[j]
    w = here.points[i] - here.points[j]
    cosine = np.einsum("mc,mc->m", t, u)
    p, q = np.einsum("mc,mc->m", w, t), np.einsum("mc,mc->m", w, u)
    square = np.maximum(1.0 - cosine**2, 1e-6)
    a = np.clip((cosine * q - p) / square, here.back[i], here.ahead[i])
    b = np.clip(q + cosine * a, here.back[j], here.ahead[j])
    a = np.clip(cosine * b - p, here.back[i], here.ahead[i])
    away = w + a[:, None] * t - b[:, None] * u
    away += (a * a)[:, None] * here.bows[i] - (b * b)[:, None] * here.bows[j]
    size = np.maximum(np.sqrt((away * away).sum(axis=1)), 1e-9)
    away /= size[:, None]
    value = size - here.radius[i] - here.radius[j] - problem.gap - slack
    gradient = np.einsum("dmc,mc->md", here.slopes[:, i] - here.slopes[:, j], away)
    return Rows(value, gradient)


def _places(problem: Problem, here: Layout) -> list[ToolPlace]:
    """For each stud the place for a tool that is least in the way."""
    chosen: list[ToolPlace] = []
    for stud in problem.studs:
        best: tuple[float, ToolPlace] | None = None
        for place in problem.places:
            if place.stud != stud:
                continue
            room = min(
                float((field.distance(here.points) - here.radius).min()) - place.gap
                for field in place.fields
            )
            if best is None or room > best[0]:
                best = (room, place)
            if room >= 1.0:
                break
        if best is not None:
            chosen.append(best[1])
    return chosen
