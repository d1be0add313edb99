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
        pair: (m,) a number for each tube beside what stands still and itself, and for each
            pair of tubes.
    """

    value: Floats
    gradient: Floats
    pair: Ints

    @staticmethod
    def none(free: int) -> Rows:
        """No limits, of so many free numbers."""
        return Rows(np.zeros(0), np.zeros((0, free)), np.zeros(0, dtype=np.intp))

    @staticmethod
    def joined(parts: list[Rows]) -> Rows:
        """All of some."""
        return Rows(
            np.concatenate([part.value for part in parts]),
            np.concatenate([part.gradient for part in parts]),
            np.concatenate([part.pair for part in parts]),
        )

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
    parts.append(_fields(fields, here, reach))
    parts.append(_bodies(problem, slots, here, solid, reach, slack))
    parts.append(_tubes(problem, slots, here, reach, slack))
    return Rows.joined(parts)


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
    return Rows(value, full, np.full(len(value), edge))


def _fields(fields: list[tuple[Field, float]], here: Layout, reach: float) -> Rows:
    """Every tube from fields, each with its gap."""
    found = []
    for field, gap in fields:
        room = field.distance(here.points) - here.radius - gap
        found.append(_minima(room, here.begins, reach))
    begins = np.cumsum([0, *(len(near) for near in found)])
    if not begins[-1]:
        return Rows.none(here.free)
    near = np.concatenate(found)

    def each(points: Floats) -> Floats:
        """Distances (m, n) of points (m, n, 3), each row's from its own field."""
        out = np.empty(points.shape[:2])
        for (field, _), a, b in zip(fields, begins[:-1], begins[1:], strict=True):
            if b > a:
                out[a:b] = field.distance(points[a:b].reshape(-1, 3)).reshape(b - a, -1)
        return out

    # Between samples the least is looked for along the tangent.
    shifts = here.back[near, None] * np.array([1.0, 0.5, 0.0, 0.0, 0.0])
    shifts = shifts + here.ahead[near, None] * np.array([0.0, 0.0, 0.0, 0.5, 1.0])
    tried = here.points[near, None, :] + shifts[:, :, None] * here.tangents[near, None, :]
    tried += (shifts**2)[:, :, None] * here.bows[near, None, :]
    values = each(tried)
    pick = values.argmin(axis=1)
    rows = np.arange(len(near))
    where, value = tried[rows, pick], values[rows, pick]
    step = 1e-3
    normals = (each(where[:, None, :] + step * np.eye(3)) - value[:, None]) / step
    gradient = np.einsum("dmc,mc->md", here.slopes[:, near], normals)
    gaps = np.repeat([gap for _, gap in fields], np.diff(begins))
    return Rows(value - here.radius[near] - gaps, gradient, here.tube[near])


def _minima(room: NDArray[Any], begins: Ints, reach: float) -> Ints:
    """Samples where a gap along a tube is locally least, and some of those that fall short.

    Args:
        room: what is left of the gap at samples of tubes, one after the other [mm]: (p,), or
            (others, p) for one gap after the other.
        begins: where each tube's samples begin, and the end.
        reach: how near a least gap must be to be listed [mm].

    Returns:
        Places in ``room`` as it is when laid flat.
    """
    p = room.shape[-1]
    flat = room.ravel()
    near = np.flatnonzero(flat < reach)
    if not len(near):
        return near
    ends = np.zeros((2, p), dtype=bool)
    ends[0, begins[:-1]], ends[1, begins[1:] - 1] = True, True
    sample, here = near % p, flat[near]
    low = ends[0, sample] | (here <= flat[near - 1])
    low &= ends[1, sample] | (here <= flat[(near + 1) % len(flat)])
    return np.asarray(near[low | ((here < 0.0) & (sample % 3 == 0))])


def _bodies(
    problem: Problem,
    slots: tuple[int, ...],
    here: Layout,
    solid: Bars,
    reach: float,
    slack: float,
) -> Rows:
    if not problem.bodies:
        return Rows.none(here.free)
    d2 = squares(here.points[None], solid.points)[0]
    turns = [half_turn(problem, edge) for edge in problem.edges]
    for i, body in enumerate(problem.bodies):
        cols = slice(int(solid.begins[i]), int(solid.begins[i + 1]))
        part, along = d2[:, cols], solid.along[cols]
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
    kept = here.radius[:, None] + (solid.radius[solid.begins[:-1]] + problem.gap + slack)
    room = _apart(np.minimum.reduceat(d2, solid.begins[:-1], axis=1)) - kept.astype(np.float32)
    at, by = _nearest(room, d2, here.begins, solid.begins, reach)
    away = here.points[at] - solid.points[by]
    size = np.maximum(np.sqrt((away * away).sum(axis=1)), 1e-9)
    value = size - here.radius[at] - solid.radius[by] - problem.gap - slack
    gradient = np.einsum("dmc,mc->md", here.slopes[:, at], away / size[:, None])
    return Rows(value, gradient, here.tube[at])


def _apart(squared: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)))


def _nearest(
    room: NDArray[np.float32], d2: NDArray[np.float32], tubes: Ints, cols: Ints, reach: float
) -> tuple[Ints, Ints]:
    """Samples nearest to others, and which point of each other they are nearest to.

    Args:
        room: (p, others) what is left of the gap at each sample [mm].
        d2: (p, m) squared distances from the others' points.
        tubes: where the tubes' samples begin, and the end.
        cols: where each other's points begin, and the end.
        reach: see ``_minima``.
    """
    p, others = room.shape
    other, at = np.divmod(_minima(room.T, tubes, reach), p)
    by = np.empty(len(at), dtype=np.intp)
    for k in np.flatnonzero(np.bincount(other, minlength=others)):
        mine = other == k
        by[mine] = cols[k] + _apart(d2[at[mine], cols[k] : cols[k + 1]]).argmin(axis=1)
    return at, by


def _tubes(
    problem: Problem, slots: tuple[int, ...], here: Layout, reach: float, slack: float
) -> Rows:
    """Every tube from every other, and from itself farther along than half a turn.

    Pairs of samples are found in single precision; what they leave is worked out exactly.
    """
    points = (here.points - here.points.mean(axis=0)).astype(np.float32)
    square = (points * points).sum(axis=1)
    samples, others = [], []
    for one, twos in enumerate(_near_pairs(problem, here, reach + slack)):
        if not len(twos):
            continue
        # The tubes up to this one that are near it, and those between.
        first = int(twos[0])
        rows = slice(int(here.begins[one]), int(here.begins[one + 1]))
        cols = slice(int(here.begins[first]), int(here.begins[one + 1]))
        d = points[rows] @ (-2.0 * points[cols].T)
        d += square[rows, None]
        d += square[cols]
        meet = [together(problem, slots[one], slots[two]) for two in range(first, one + 1)]
        free = here.last[cols] & np.array(meet)[here.tube[cols] - first]
        d[here.last[rows, None] & free] = np.inf
        own = here.stations[rows]
        turn = half_turn(problem, problem.edges[one])
        d[:, -len(own) :][own - own[:, None] <= turn] = np.inf
        begins = here.begins[first : one + 2] - cols.start
        radii = np.array([problem.edges[two].radius for two in range(first, one + 1)])
        kept = (problem.edges[one].radius + radii + problem.gap + slack).astype(np.float32)
        room = _apart(np.minimum.reduceat(d, begins[:-1], axis=1)) - kept
        at, by = _nearest(room, d, np.array([0, len(d)]), begins, reach)
        samples.append(at + rows.start)
        others.append(by + cols.start)
    if not samples:
        return Rows.none(here.free)
    return _contacts(problem, here, np.concatenate(samples), np.concatenate(others), slack)


_COARSE = 5


def _near_pairs(problem: Problem, here: Layout, reach: float) -> list[Ints]:
    """For each tube those up to it that may come within reach, by every fifth sample."""
    n = len(here.traces)
    picks: list[Ints] = []
    starts = [0]
    for e in range(n):
        picks.append(np.arange(here.begins[e], here.begins[e + 1], _COARSE))
        starts.append(starts[-1] + len(picks[-1]))
    index = np.concatenate(picks)
    points = here.points[index]
    d = _apart(squares(points[None], points)[0])
    least = np.minimum.reduceat(np.minimum.reduceat(d, starts[:-1], axis=0), starts[:-1], axis=1)
    # A sample is never farther than this along its tube from one that was picked.
    far = (_COARSE + 1) * SPACING
    far += 2.0 * float(here.radius.max()) + problem.gap + reach
    for e, edge in enumerate(problem.edges):
        if float(here.stations[here.begins[e + 1] - 1]) <= half_turn(problem, edge):
            least[e, e] = np.inf
    return [np.flatnonzero(least[e, : e + 1] < far) for e in range(n)]


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
    one, two = here.tube[i], here.tube[j]
    pair = np.where(one == two, one, len(here.traces) * (1 + one) + two)
    return Rows(value, gradient, pair)


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
