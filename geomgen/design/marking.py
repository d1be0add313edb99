"""Where marks go on a plate: centre marks, and lettering clear of every cut.

The search is exhaustive over a grid and deterministic. For every grid point the greatest
letter height that clears all edges follows in closed form from points sampled along
them; the one chosen is then verified against the exact edges.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.design.lettering import Block
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import inside, loop_to_loop
from geomgen.profiles.loops import Line, Loop, Point2, bounding_box

GRID = 4.0
"""Step between places that are tried [mm]."""

SAMPLE = 2.0
"""Step between the sampled points of an edge [mm]."""

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Placed:
    """Lettering that found its place."""

    block: Block
    centre: Point2
    cap: float
    upright: bool

    @property
    def strokes(self) -> tuple[Line, ...]:
        """Its strokes [mm]."""
        return self.block.strokes(self.centre, self.cap, self.upright)

    @property
    def box(self) -> Loop:
        """The box round it [mm]."""
        return _box(self.centre, *_half(self.block, self.cap, self.upright))


@dataclass(frozen=True)
class Room:
    """A plate with what lettering has to keep clear of.

    Attributes:
        outer: outline.
        keep_off: windows and holes at their finished size, boxes of other lettering.
        clear: from lettering to any edge [mm].
        places: grid points in the metal, shape (n, 2).
        edge: points sampled along all edges, shape (m, 2).
    """

    outer: Loop
    keep_off: tuple[Loop, ...]
    clear: float
    places: Points
    edge: Points

    def with_taken(self, placed: Placed) -> Room:
        """The room with one more lettering in it."""
        edge = np.concatenate([self.edge, sampled(placed.box)])
        free = ~_within(self.places, sampled(placed.box))
        return Room(self.outer, (*self.keep_off, placed.box), self.clear, self.places[free], edge)


def room(outer: Loop, cuts: Sequence[Loop], clear: float) -> Room:
    """A plate on which nothing is written yet."""
    box = bounding_box(outer)
    xs = np.arange(math.floor(box.left / GRID), math.ceil(box.right / GRID) + 1) * GRID
    ys = np.arange(math.floor(box.bottom / GRID), math.ceil(box.top / GRID) + 1) * GRID
    grid = np.stack(np.meshgrid(xs, ys, indexing="ij"), axis=-1).reshape(-1, 2)
    edges = [sampled(loop) for loop in (outer, *cuts)]
    metal = _within(grid, edges[0])
    for edge in edges[1:]:
        metal &= ~_within(grid, edge)
    return Room(outer, tuple(cuts), clear, grid[metal], np.concatenate(edges))


def sampled(loop: Loop) -> Points:
    """Points along a loop, no farther apart than ``SAMPLE``, shape (n, 2)."""
    points = [
        point_at(piece, i / steps)
        for piece in loop
        for steps in (max(1, math.ceil(piece.length / SAMPLE)),)
        for i in range(steps)
    ]
    return np.array(points, dtype=np.float64)


def _within(places: Points, edge: Points) -> Mask:
    """Which places lie in a polygon, by crossings of a ray to the right."""
    box = edge.min(axis=0), edge.max(axis=0)
    near: Mask = np.all((places >= box[0]) & (places <= box[1]), axis=1)
    a, b = edge, np.roll(edge, -1, axis=0)
    x, y = places[near, :1], places[near, 1:]
    spans = (a[:, 1] <= y) != (b[:, 1] <= y)
    rise = np.where(a[:, 1] == b[:, 1], 1.0, b[:, 1] - a[:, 1])
    right = a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0]) > x
    near[near] = np.count_nonzero(spans & right, axis=1) % 2 == 1
    return near


def caps(where: Room, places: Points, block: Block, upright: bool) -> Points:
    """Greatest cap height at each place of shape (n, 2), by sampled edges [mm].

    A box of half width ``w`` and half height ``h`` a millimetre of cap clears a point at
    (dx, dy) up to a cap of max((dx - clear) / w, (dy - clear) / h).
    """
    half_w, half_h = _half(block, 1.0, upright)
    best: Points = np.empty(len(places))
    for low in range(0, len(places), 64):  # in slices that stay in the cache
        some = places[low : low + 64]
        dx = (np.abs(some[:, :1] - where.edge[:, 0]) - where.clear) / half_w
        dy = (np.abs(some[:, 1:] - where.edge[:, 1]) - where.clear) / half_h
        best[low : low + 64] = np.maximum(dx, dy, out=dx).min(axis=1)
    return best


def place(
    where: Room,
    blocks: Sequence[Block],
    caps_allowed: tuple[float, float],
    near: Point2,
    wanted: Callable[[Points], Mask] | None = None,
    turnable: bool = True,
) -> Placed | None:
    """The largest lettering that fits, in the middle of its room; None when there is none.

    Args:
        where: the plate.
        blocks: ways of breaking the text into lines, best liked first.
        caps_allowed: least and greatest cap height [mm].
        near: of places that are equally roomy, or of all that are wanted, the nearest to
            this is taken [mm].
        wanted: restricts the places, mask over an array of shape (n, 2); the nearest of
            them that takes the greatest height is taken then.
        turnable: whether it may stand on end.
    """
    least, most = caps_allowed
    places = where.places if wanted is None else where.places[wanted(where.places)]
    if len(places) == 0:
        return None
    best: tuple[float, Placed] | None = None
    for block in blocks:
        for upright in (True, False) if turnable else (True,):
            fits = caps(where, places, block, upright)
            cap = _steps(np.minimum(fits, most))
            top = float(cap.max())
            worth = top * (1.0 if upright else 0.75)
            if top < least or (best is not None and worth <= best[0]):
                continue
            some = cap == top
            centre = _best(places[some], fits[some] * (wanted is None), near)
            best = (worth, Placed(block, centre, top, upright))
    if best is None:
        return None
    found = best[1] if wanted is not None else _centred(where, best[1], most, near)
    return _verified(where, found, least)


def _steps(cap: Points) -> Points:
    """Cap heights rounded down to quarters of a millimetre."""
    return np.floor(cap * 4.0 + 1e-9) / 4.0


def _best(places: Points, room_there: Points, near: Point2) -> Point2:
    """The roomiest place; of those the nearest to a point, the lowest, the leftmost."""
    away = np.hypot(places[:, 0] - near[0], places[:, 1] - near[1])
    keys = (places[:, 0], places[:, 1], np.round(away, 6), -np.round(room_there, 1))
    first = np.lexsort(keys)[0]
    return (float(places[first, 0]), float(places[first, 1]))


def _centred(where: Room, found: Placed, most: float, near: Point2) -> Placed:
    """The find moved within a grid step to where there is most room."""
    shift = np.arange(-GRID, GRID + 0.5)
    grid = np.stack(np.meshgrid(shift, shift, indexing="ij"), axis=-1).reshape(-1, 2)
    places = grid + np.array(found.centre)
    fits = caps(where, places, found.block, found.upright)
    centre = _best(places, fits, near)
    cap = float(_steps(np.minimum(fits.max(keepdims=True), most))[0])
    return Placed(found.block, centre, cap, found.upright)


def _verified(where: Room, found: Placed, least: float) -> Placed | None:
    """The find, made smaller until the exact edges agree that it is clear."""
    cap = found.cap
    while cap >= least - 1e-9:
        placed = Placed(found.block, found.centre, cap, found.upright)
        if is_clear(where, placed.box):
            return placed
        cap -= 0.25
    return None


def is_clear(where: Room, box: Loop) -> bool:
    """Whether a box lies in the metal and keeps its distance from every edge."""
    corner = box[0].start
    if not inside(corner, where.outer) or any(inside(corner, cut) for cut in where.keep_off):
        return False
    edges = (where.outer, *where.keep_off)
    return all(loop_to_loop(box, edge) >= where.clear - 1e-9 for edge in edges)


def cross(at: Point2, arm: float) -> tuple[Line, Line]:
    """Centre mark: two strokes whose middles are at ``at`` [mm]."""
    x, y = at
    return (Line((x - arm, y), (x + arm, y)), Line((x, y - arm), (x, y + arm)))


def _half(block: Block, cap: float, upright: bool) -> tuple[float, float]:
    half_w, half_h = cap * block.width / 2.0, cap * block.height / 2.0
    return (half_w, half_h) if upright else (half_h, half_w)


def _box(centre: Point2, half_w: float, half_h: float) -> Loop:
    x, y = centre
    corners = [
        (x - half_w, y - half_h),
        (x + half_w, y - half_h),
        (x + half_w, y + half_h),
        (x - half_w, y + half_h),
    ]
    return tuple(Line(p, q) for p, q in zip(corners, corners[1:] + corners[:1], strict=True))
