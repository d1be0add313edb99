"""Loose strokes to closed loops: duplicates dropped, ends joined that lie near each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import (
    Line,
    Loop,
    Point2,
    Segment,
    area,
    backwards,
    bounding_box,
    perimeter,
)

SAME = 1e-6
"""Ends that are nearer than this are one point [mm]."""

TWIN = 0.01
"""Strokes that are nowhere farther apart than this are drawn twice [mm]."""


@dataclass(frozen=True)
class Chained:
    """What became of loose strokes.

    Attributes:
        loops: closed, greatest area first; they run as they were drawn.
        duplicates: strokes that were drawn twice and dropped.
        gaps: how many ends were joined that did not meet, by loop.
        widest: the widest of those gaps, by loop [mm].
        loose: strokes that are part of no loop.
        open_by: least distance between two ends that stayed loose; infinite without [mm].
        open_at: where that is.
    """

    loops: tuple[Loop, ...]
    duplicates: int
    gaps: tuple[int, ...]
    widest: tuple[float, ...]
    loose: int
    open_by: float
    open_at: Point2 | None


def chained(strokes: Sequence[Loop], gap: float) -> Chained:
    """Join strokes to closed loops.

    Args:
        strokes: each an unbroken run of segments; a closed one ends where it starts.
        gap: ends up to this far apart are joined, nearest first [mm].
    """
    whole = [kept for stroke in strokes if (kept := _without_specks(stroke))]
    single = _without_twins(whole)
    closed = [(stroke, 0, 0.0) for stroke in single if _is_closed(stroke)]
    rest = [stroke for stroke in single if not _is_closed(stroke)]
    links = _links(rest, gap)
    loose = 0
    for members in _rings(len(rest), links):
        if members is None:
            loose += 1
            continue
        closed.append(_closed_up(rest, members))
    closed = [ring for ring in closed if abs(area(ring[0])) > SAME]
    closed.sort(key=lambda ring: -abs(area(ring[0])))
    near, at = _nearest_ends(rest, links)
    return Chained(
        tuple(loop for loop, _, _ in closed),
        len(whole) - len(single),
        tuple(count for _, count, _ in closed),
        tuple(widest for _, _, widest in closed),
        loose,
        near,
        at,
    )


def _without_specks(stroke: Loop) -> Loop:
    return tuple(piece for piece in stroke if piece.length > SAME)


def _is_closed(stroke: Loop) -> bool:
    return math.dist(stroke[0].start, stroke[-1].end) <= SAME and perimeter(stroke) > 4 * SAME


def _without_twins(strokes: list[Loop]) -> list[Loop]:
    """Strokes without those that lie on an earlier one, whichever way they run."""
    kept: list[Loop] = []
    cells: dict[tuple[int, int], list[tuple[Loop, tuple[float, ...]]]] = {}
    for stroke in strokes:
        shape = _shape(stroke)
        i, j = (math.floor((shape[k] + shape[k + 2]) / 2.0 / TWIN) for k in (1, 2))
        around = ((i + di, j + dj) for di in (-1, 0, 1) for dj in (-1, 0, 1))
        near = [other for cell in around for other in cells.get(cell, [])]
        if any(_twins(stroke, shape, *other) for other in near[:_MOST_MEETING]):
            continue
        kept.append(stroke)
        cells.setdefault((i, j), []).append((stroke, shape))
    return kept


def _shape(stroke: Loop) -> tuple[float, ...]:
    box = bounding_box(stroke)
    return (perimeter(stroke), box.left, box.bottom, box.right, box.top)


def _twins(a: Loop, shape: tuple[float, ...], b: Loop, other: tuple[float, ...]) -> bool:
    if max(abs(p - q) for p, q in zip(shape, other, strict=True)) > TWIN:
        return False
    if _is_closed(a) and _is_closed(b):
        return abs(abs(area(a)) - abs(area(b))) <= TWIN * shape[0]
    forth = (b[0].start, _middle(b), b[-1].end)
    return any(
        max(math.dist(p, q) for p, q in zip((a[0].start, _middle(a), a[-1].end), way, strict=True))
        <= TWIN
        for way in (forth, forth[::-1])
    )


def _middle(stroke: Loop) -> Point2:
    left = perimeter(stroke) / 2.0
    for piece in stroke:
        if left <= piece.length:
            return point_at(piece, left / piece.length)
        left -= piece.length
    return stroke[-1].end


_End = tuple[int, int]
"""A stroke, and 0 for its start or 1 for its end."""


def _place(strokes: list[Loop], end: _End) -> Point2:
    stroke = strokes[end[0]]
    return stroke[-1].end if end[1] else stroke[0].start


def _links(strokes: list[Loop], gap: float) -> dict[_End, _End]:
    """Which end goes on at which, nearest first; each end once."""
    ends = [(k, side) for k in range(len(strokes)) for side in (0, 1)]
    places = {end: _place(strokes, end) for end in ends}
    reach = max(gap, SAME)
    cells: dict[tuple[int, int], list[_End]] = {}
    for end, (x, y) in places.items():
        cells.setdefault((math.floor(x / reach), math.floor(y / reach)), []).append(end)
    pairs = []
    for (i, j), here in cells.items():
        around = [
            e for di in (-1, 0, 1) for dj in (-1, 0, 1) for e in cells.get((i + di, j + dj), [])
        ]
        for a in here[:_MOST_MEETING]:
            for b in around[: 9 * _MOST_MEETING]:
                apart = math.dist(places[a], places[b])
                if a < b and apart <= reach:
                    pairs.append((apart, a, b))
    links: dict[_End, _End] = {}
    for _, a, b in sorted(pairs):
        if a not in links and b not in links:
            links[a], links[b] = b, a
    return links


_MOST_MEETING = 50
"""Ends in one small place that are looked at: a drawing with more is no outline."""


def _rings(count: int, links: dict[_End, _End]) -> list[list[_End] | None]:
    """Closed rings as the ends where their strokes are entered; None for a loose stroke."""
    found: list[list[_End] | None] = []
    seen: set[int] = set()
    for first in range(count):
        if first in seen:
            continue
        ring: list[_End] = []
        entry: _End | None = (first, 0)
        while entry is not None and entry[0] not in seen:
            seen.add(entry[0])
            ring.append(entry)
            entry = links.get((entry[0], 1 - entry[1]))
        if entry == ring[0]:
            found.append(ring)
            continue
        before = links.get((first, 0))
        while before is not None and before[0] not in seen:
            seen.add(before[0])
            ring.append(before)
            before = links.get((before[0], 1 - before[1]))
        found.extend([None] * len(ring))
    return found


def _closed_up(strokes: list[Loop], ring: list[_End]) -> tuple[Loop, int, float]:
    """One loop of a ring's strokes, with a line across every gap; how many, and the widest."""
    runs = [strokes[k] if side == 0 else backwards(strokes[k]) for k, side in ring]
    pieces: list[Segment] = []
    widths = []
    for run, after in pairwise([*runs, runs[0]]):
        pieces.extend(run)
        across = Line(run[-1].end, after[0].start)
        if across.length > SAME:
            widths.append(across.length)
            pieces.append(across)
    return tuple(pieces), len(widths), max(widths, default=0.0)


def _nearest_ends(strokes: list[Loop], links: dict[_End, _End]) -> tuple[float, Point2 | None]:
    """Least distance between two ends that stayed loose, and where."""
    free = [(k, side) for k in range(len(strokes)) for side in (0, 1) if (k, side) not in links]
    best: tuple[float, Point2 | None] = (math.inf, None)
    for i, a in enumerate(free[:400]):
        for b in free[i + 1 : 400]:
            apart = math.dist(_place(strokes, a), _place(strokes, b))
            if apart < best[0]:
                best = (apart, _place(strokes, a))
    return best
