"""Layouts that close, have their lengths and keep their gaps: found, then walked on.

First a pool of paths of the right length for every tube, alone. Then one path a tube is
picked from the pools so that all keep clear of each other. From there the tubes walk
jointly: a random step of one tube at a time, brought back to its length, taken when all
gaps still hold (rejection, so the walk stays in the set of clear layouts).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from problem_set.fillets import Batch, Floats, allowed, along, filleted, to_length
from problem_set.scenes import Bar, Random, Scene
from scipy.optimize import linear_sum_assignment

_COARSE = 11.0
_POOL = 140


class Discarded(Exception):
    """No problem comes of this draw, and why."""


@dataclass(frozen=True)
class Pool:
    """Paths of one tube: parameters and radii a path (they differ in bends), and samples."""

    x: list[Floats]
    radii: list[Floats]
    points: Floats
    last: NDArray[np.bool_]
    turn: Floats


@dataclass
class Layout:
    """One path a tube: parameters, radii, slot; samples for the walk."""

    x: list[Floats]
    radii: list[Floats]
    slots: list[int]
    lengths: list[float]
    points: list[Floats]
    last: list[NDArray[np.bool_]]


def batch_of(scene: Scene, tube: int, slot: int, x: Floats, radii: Floats) -> Batch:
    """Filleted polylines of one tube."""
    return filleted(scene.ends(tube, slot), x, radii)


def _guesses(
    rng: Random, scene: Scene, tube: int, slot: int, length: float, bends: int, count: int
) -> tuple[Floats, Floats]:
    ends = scene.ends(tube, slot)
    radii = np.array(scene.rules.radii)[rng.integers(len(scene.rules.radii), size=(count, bends))]
    span = float(np.linalg.norm(ends.q - ends.p))
    reach = np.maximum(length - span, 0.15 * length)
    x = np.empty((count, 2 + 3 * (bends - 2)))
    least = scene.rules
    x[:, 0] = least.at_start + rng.exponential(0.30 * length, count) * rng.random(count) + 3.0
    x[:, 1] = least.at_end + rng.exponential(0.30 * length, count) * rng.random(count) + 3.0
    first = ends.p + x[:, :1] * ends.z
    final = ends.q - x[:, 1:2] * ends.w
    for i in range(bends - 2):
        t = (i + 1.0) / (bends - 1.0) + rng.normal(0.0, 0.12, (count, 1))
        spread = (
            rng.normal(size=(count, 3)) * (0.15 * length + 0.4 * reach) * rng.random((count, 1))
        )
        x[:, 2 + 3 * i : 5 + 3 * i] = first + t * (final - first) + spread
    return x, radii.astype(float)


@dataclass(frozen=True)
class Short:
    """Short paths of one tube alone, the shortest first: what pools of tight lengths grow from."""

    length: float
    x: list[Floats]
    radii: list[Floats]


def shortest(rng: Random, scene: Scene, tube: int, slot: int) -> Short:
    """Lengths near the least of one tube alone [mm], by narrowing random search."""
    ends = scene.ends(tube, slot)
    span = float(np.linalg.norm(ends.q - ends.p))
    found: list[tuple[float, Floats, Floats]] = []
    for bends in (2, 3):
        x, radii = _guesses(rng, scene, tube, slot, 1.3 * span, bends, 1500)
        size = 30.0
        for _ in range(14):
            batch = filleted(ends, x, radii)
            cost = np.where(allowed(batch, scene.rules, 0.05), batch.length, np.inf)
            keep = np.argsort(cost)[:60]
            keep = keep[np.isfinite(cost[keep])]
            if not len(keep):
                break
            found += [(float(cost[k]), x[k], radii[k]) for k in keep[:6]]
            x = np.concatenate([x[keep], np.repeat(x[keep], 12, axis=0)])
            radii = np.concatenate([radii[keep], np.repeat(radii[keep], 12, axis=0)])
            x[len(keep) :] += rng.normal(size=x[len(keep) :].shape) * size
            size *= 0.75
    found.sort(key=lambda item: item[0])
    return Short(found[0][0] if found else math.inf, [f[1] for f in found], [f[2] for f in found])


def _grown(rng: Random, short: Short, bends: int, count: int) -> tuple[Floats, Floats] | None:
    """Guesses around the short paths with so many bends."""
    same = [i for i, r in enumerate(short.radii) if len(r) == bends]
    if not same:
        return None
    index = [same[i] for i in rng.integers(len(same), size=count)]
    x = np.array([short.x[i] for i in index])
    size = np.exp(rng.uniform(math.log(2.0), math.log(80.0), (count, 1)))
    return x + rng.normal(size=x.shape) * size, np.array([short.radii[i] for i in index])


def pool(
    rng: Random, scene: Scene, tube: int, slot: int, length: float, need: float, short: Short
) -> Pool:
    """Paths of one tube that the shelf allows and that keep clear of bars and themselves."""
    count = math.ceil(length / _COARSE) + 1
    xs: list[Floats] = []
    rs: list[Floats] = []
    points, lasts, turns = [], [], []
    for bends, tries in ((2, 200 if 3 in scene.bends else 2500), (3, 1200), (4, 600)):
        if bends not in scene.bends:
            continue
        x, radii = _guesses(rng, scene, tube, slot, length, bends, tries)
        grown = _grown(rng, short, bends, tries // 2)
        if grown is not None:
            x, radii = np.concatenate([grown[0], x]), np.concatenate([grown[1], radii])
        ends = scene.ends(tube, slot)
        x = to_length(ends, x, radii, length)
        batch = filleted(ends, x, radii)
        good = np.flatnonzero(allowed(batch, scene.rules) & (np.abs(batch.length - length) < 1e-6))
        good = rng.permutation(good)[: 2 * _POOL]
        if not len(good):
            continue
        batch, x, radii = batch.take(good), x[good], radii[good]
        where, last = along(batch, count)
        ok = clear_of_fixed(scene, tube, where, last, need, length)
        points.append(where[ok])
        lasts.append(last[ok])
        turns.append(batch.angles[ok].sum(axis=1))
        xs += list(x[ok])
        rs += list(radii[ok])
    if not xs:
        return Pool([], [], np.empty((0, count, 3)), np.empty((0, count), bool), np.empty(0))
    turn = np.concatenate(turns)
    # The gentler ones more often, but not only those.
    order = np.argsort(turn + rng.exponential(1.0, len(turn)))[:_POOL]
    return Pool(
        [xs[i] for i in order],
        [rs[i] for i in order],
        np.concatenate(points)[order],
        np.concatenate(lasts)[order],
        turn[order],
    )


def to_bar(points: Floats, bar: Bar) -> Floats:
    """Distance of points (..., 3) to a bar's axis [mm]."""
    axis = bar.end - bar.begin
    t = np.clip((points - bar.begin) @ axis / float(axis @ axis), 0.0, 1.0)
    off = points - bar.begin - t[..., None] * axis
    return np.asarray(np.sqrt((off * off).sum(axis=-1)))


def coarse(need: float, spacing: float) -> float:
    """What sampled points must keep so that the curves between them keep ``need``."""
    return math.sqrt(need * need + 0.5 * spacing * spacing)


def clear_of_fixed(
    scene: Scene, tube: int, points: Floats, last: NDArray[np.bool_], margin: float, length: float
) -> NDArray[np.bool_]:
    """Which sampled paths keep clear of bars, of the head's plane, and of themselves."""
    spacing = length / (points.shape[1] - 1)
    ok = np.ones(len(points), dtype=bool)
    keep = scene.gap + margin + scene.radius
    for i, bar in enumerate(scene.transitions):
        if i != tube:
            ok &= to_bar(points, bar).min(axis=1) >= coarse(keep + bar.radius, 0.7 * spacing)
    for bar in scene.bodies:
        d = np.where(last, np.inf, to_bar(points, bar))
        ok &= d.min(axis=1) >= coarse(keep + bar.radius, 0.7 * spacing)
    if not ok.any():
        return ok
    some = points[ok]
    square = (some * some).sum(axis=2)
    d = square[:, :, None] + square[:, None] - 2.0 * some @ some.transpose(0, 2, 1)
    s = np.arange(points.shape[1]) * spacing
    far = np.abs(s[:, None] - s) > math.pi * max(scene.rules.radii) - spacing
    d = np.where(far, d, np.inf).min(axis=(1, 2))
    ok[ok] = d >= coarse(2.0 * scene.radius + scene.gap + margin, spacing) ** 2
    return ok


def clear_of(
    points: Floats,
    last: NDArray[np.bool_],
    other: Floats,
    other_last: NDArray[np.bool_],
    need: float,
) -> NDArray[np.bool_]:
    """Which sampled paths (B, m, 3) keep ``need`` from another's samples (k, 3)."""
    count = len(points)
    flat = points.reshape(-1, 3)
    d = (flat * flat).sum(axis=1)[:, None] + (other * other).sum(axis=1) - 2.0 * flat @ other.T
    exempt = last.reshape(-1, 1) & other_last
    return np.asarray((d + exempt * 1e9).reshape(count, -1).min(axis=1) >= need * need)


def with_stub(
    scene: Scene, slot: int, points: Floats, last: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Samples of a path and of the stub behind its slot."""
    q, w = scene.slots[slot]
    count = max(2, math.ceil(scene.stubs[slot] / _COARSE) + 1)
    t = np.linspace(0.0, scene.stubs[slot], count)[1:, None]
    return np.concatenate([points, q + t * w]), np.concatenate([last, np.ones(count - 1, bool)])


def assignment(rng: Random, scene: Scene, noise: float) -> list[int]:
    """Slots for the tubes: near ones preferred, each tube at its own collector."""
    n = len(scene.starts)
    cost = np.empty((n, n))
    for i, (p, z) in enumerate(scene.starts):
        for j, (q, w) in enumerate(scene.slots):
            cost[i, j] = float(np.linalg.norm(p + 40.0 * z - q + 40.0 * w))
            cost[i, j] += 1e6 * (scene.home[i] != scene.ring[j])
    cost += noise * rng.normal(size=cost.shape)
    return [int(j) for j in linear_sum_assignment(cost)[1]]


def picked(
    rng: Random,
    scene: Scene,
    slots: list[int],
    pools: list[Pool],
    lengths: list[float],
    need: float,
) -> list[int] | None:
    """One path a tube, all clear of each other: the tube with the fewest left goes next."""
    alive = [np.ones(len(p.x), dtype=bool) for p in pools]
    chosen: dict[int, int] = {}
    while len(chosen) < len(pools):
        left = [i for i in range(len(pools)) if i not in chosen]
        tube = min(left, key=lambda i: int(alive[i].sum()) + float(rng.random()))
        options = np.flatnonzero(alive[tube])
        if not len(options):
            return None
        pick = int(options[min(int(rng.exponential(0.25) * len(options)), len(options) - 1)])
        chosen[tube] = pick
        points, last = with_stub(
            scene, slots[tube], pools[tube].points[pick], pools[tube].last[pick]
        )
        spacing = max(lengths) / (pools[tube].points.shape[1] - 1)
        for i in left:
            if i == tube or not alive[i].any():
                continue
            live = np.flatnonzero(alive[i])
            ok = clear_of(
                pools[i].points[live], pools[i].last[live], points, last, coarse(need, spacing)
            )
            own_stub = with_stub(scene, slots[i], points[:0], last[:0])
            apart = ~last[:, None] | ~own_stub[1]
            d = ((points[:, None] - own_stub[0]) ** 2).sum(axis=-1)
            if d[apart].size and d[apart].min() < coarse(need, spacing) ** 2:
                return None
            alive[i][live] = ok
    return [chosen[i] for i in range(len(pools))]


def first_layout(
    rng: Random, scene: Scene, lengths: list[float], slots: list[int], margin: float
) -> Layout:
    """A clear layout.

    Raises:
        Discarded: none came up.
    """
    pools: dict[tuple[int, int], Pool] = {}
    need = 2.0 * scene.radius + scene.gap + margin
    for attempt in range(12):
        here = slots if attempt % 3 == 0 else assignment(rng, scene, 60.0)
        for i, slot in enumerate(here):
            if (i, slot) not in pools:
                pools[i, slot] = pool(
                    rng, scene, i, slot, lengths[i], margin, shortest(rng, scene, i, slot)
                )
        mine = [pools[i, slot] for i, slot in enumerate(here)]
        if any(not p.x for p in mine):
            if attempt >= 5:
                raise Discarded("no path of the length for some tube alone")
            continue
        pick = picked(rng, scene, here, mine, lengths, need)
        if pick is not None:
            return Layout(
                [p.x[k] for p, k in zip(mine, pick, strict=True)],
                [p.radii[k] for p, k in zip(mine, pick, strict=True)],
                list(here),
                list(lengths),
                [p.points[k] for p, k in zip(mine, pick, strict=True)],
                [p.last[k] for p, k in zip(mine, pick, strict=True)],
            )
    raise Discarded("no clear set picked from the pools")


@dataclass(frozen=True)
class Walked:
    """How far the walk went: proposals, accepted steps, root mean square shift of samples [mm]."""

    proposals: int
    accepted: int
    moved: float


def walk(rng: Random, scene: Scene, layout: Layout, margin: float, rounds: int) -> Walked:
    """Walk jointly from a clear layout to others, in place."""
    n = len(layout.x)
    first = [points.copy() for points in layout.points]
    need = 2.0 * scene.radius + scene.gap + margin
    proposals, accepted, batch_size = 0, 0, 6
    for step in range(rounds * n):
        tube = step % n
        found = _proposal(rng, scene, layout, tube, margin, batch_size)
        proposals += batch_size
        if found is None:
            continue
        xs, points, last, _ = found
        spacing = layout.lengths[tube] / (points.shape[1] - 1)
        keep = coarse(need, spacing)
        ok = np.ones(len(points), dtype=bool)
        for j in range(n):
            if j != tube:
                other, other_last = with_stub(
                    scene, layout.slots[j], layout.points[j], layout.last[j]
                )
                ok &= clear_of(points, last, other, other_last, keep)
        good = np.flatnonzero(ok)
        if len(good):
            k = int(good[0])
            layout.x[tube], layout.points[tube], layout.last[tube] = xs[k], points[k], last[k]
            accepted += 1
    moved = math.sqrt(
        float(
            np.mean(
                [
                    ((a - b) ** 2).sum(axis=1).mean()
                    for a, b in zip(first, layout.points, strict=True)
                ]
            )
        )
    )
    return Walked(proposals, accepted, moved)


def _proposal(
    rng: Random, scene: Scene, layout: Layout, tube: int, margin: float, count: int
) -> tuple[Floats, Floats, NDArray[np.bool_], Batch] | None:
    ends = scene.ends(tube, layout.slots[tube])
    x0, radii = layout.x[tube], np.repeat(layout.radii[tube][None], count, axis=0)
    # The longest step first: the first that holds is taken.
    size = np.exp(np.sort(rng.uniform(math.log(1.0), math.log(60.0), (count, 1)), axis=0)[::-1])
    way = rng.normal(size=(count, len(x0)))
    way /= np.sqrt((way * way).sum(axis=1, keepdims=True))
    x = to_length(ends, x0 + size * way, radii, layout.lengths[tube], 5)
    batch = filleted(ends, x, radii)
    good = allowed(batch, scene.rules) & (np.abs(batch.length - layout.lengths[tube]) < 1e-6)
    if not good.any():
        return None
    x, batch = x[good], batch.take(good)
    points, last = along(batch, len(layout.points[tube]))
    ok = clear_of_fixed(scene, tube, points, last, margin, layout.lengths[tube])
    if not ok.any():
        return None
    return x[ok], points[ok], last[ok], batch.take(ok)


def settled(scene: Scene, layout: Layout) -> list[Batch]:
    """Final paths, their lengths brought to rounding."""
    out = []
    for tube, slot in enumerate(layout.slots):
        ends = scene.ends(tube, slot)
        radii = layout.radii[tube][None]
        x = to_length(ends, layout.x[tube][None], radii, layout.lengths[tube], 8)
        out.append(filleted(ends, x, radii))
    return out
