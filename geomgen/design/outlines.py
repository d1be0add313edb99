"""Outlines of a head flange: hugging its ports and studs, a straight bar; relief slots."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from geomgen.design.slot_mouths import blended
from geomgen.plates import PlateHole, hole_loop
from geomgen.profiles.crossings import meetings
from geomgen.profiles.distances import inside, loop_to_loop, point_to_loop
from geomgen.profiles.loops import (
    Arc,
    Line,
    Loop,
    Point2,
    Segment,
    area,
    bounding_box,
    circle,
    placed,
)
from geomgen.profiles.union import closing, difference, erode

FILLETS = tuple(
    float(r)
    for r in (10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000, 2000, 5000)
)
"""Radii tried between bosses and ports, smallest first [mm]."""

STEP = 2.0
"""Between places tried for a relief slot [mm]."""

BESIDE = 1.0
"""From a relief slot to a boss [mm]."""

SHALLOW = 0.4
"""A relief slot that reaches less of the way across the plate relieves nothing [-]; common
practice, no source."""


@dataclass(frozen=True)
class Relief:
    """Saw slots between neighbouring windows [mm].

    Attributes:
        width: of the slot.
        web: metal left at its end.
        stop: diameter of the round end; the slot's own width when that is more.
    """

    width: float
    web: float
    stop: float


def boss_of(hole: PlateHole) -> Loop:
    """The washer and tool land round a hole; along a slot it is as long as the slot."""
    return hole_loop(hole.at, 2.0 * hole.boss, hole.slot, hole.turn)


def hugging(shapes: Sequence[Loop], neck: float, fillet: float | None = None) -> Loop:
    """One outline round all shapes; holes that close between bosses are left solid.

    Args:
        shapes: windows with their land, and bosses; convex.
        neck: least width between any two parts of the plate [mm].
        fillet: radius between bosses and ports [mm]; the smallest of ``FILLETS`` that gives
            one piece with the neck when left out.

    Raises:
        ValueError: no such outline exists.
    """
    if fillet is not None:
        loops = closing(shapes, fillet)
        if _pieces(loops) != 1:
            raise ValueError(f"a fillet of {fillet:g} mm leaves the flange in several pieces")
        return loops[0]
    boxes = [bounding_box(shape) for shape in shapes]
    widest = min(min(box.width, box.height) for box in boxes)
    wanted = min(neck, 0.95 * widest)
    low, high = 0, len(FILLETS) - 1
    found: Loop | None = None
    while low <= high:
        middle = (low + high) // 2
        loops = closing(shapes, FILLETS[middle])
        if _holds(loops, wanted):
            found, high = loops[0], middle - 1
        else:
            low = middle + 1
    if found is None:
        raise ValueError("ports and studs lie too far apart for one flange")
    return found


def _pieces(loops: Sequence[Loop]) -> int:
    """How many separate pieces a region has: its counter-clockwise loops."""
    return sum(area(loop) > 0.0 for loop in loops)


def _holds(loops: tuple[Loop, ...], neck: float) -> bool:
    """Whether a region is one piece, and still is with half the neck taken off all round."""
    return _pieces(loops) == 1 and _pieces(erode(loops[:1], neck / 2.0)) == 1


def bar(shapes: Sequence[Loop], row: float) -> Loop:
    """A straight bar along the row round all shapes, its corners as round as they can be.

    Each corner has the largest radius, up to half the bar's height or length, that leaves
    every shape inside: about a lone boss in a corner it is the boss's own.

    Args:
        shapes: windows with their land, and bosses; convex.
        row: direction of the row of ports [rad].
    """
    turned = [placed(shape, (0.0, 0.0), -row) for shape in shapes]
    box = bounding_box(*turned)
    most = min(box.width, box.height) / 2.0
    corners = (
        (box.right, box.top),
        (box.left, box.top),
        (box.left, box.bottom),
        (box.right, box.bottom),
    )
    arcs = []
    for k, corner in enumerate(corners):
        side = (1.0 if k in (0, 3) else -1.0, 1.0 if k < 2 else -1.0)
        radius = _corner_radius(turned, corner, side, most)
        centre = (corner[0] - side[0] * radius, corner[1] - side[1] * radius)
        arcs.append(Arc(centre, radius, k * math.pi / 2.0, math.pi / 2.0))
    pieces: list[Segment] = []
    for arc, after in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        if arc.radius > 1e-6:
            pieces.append(arc)
        if math.dist(arc.end, after.start) > 1e-9:
            pieces.append(Line(arc.end, after.start))
    return placed(tuple(pieces), (0.0, 0.0), row)


def _corner_radius(shapes: Sequence[Loop], corner: Point2, side: Point2, most: float) -> float:
    """Largest radius of a corner that leaves the shapes inside, by halving."""

    def holds(radius: float) -> bool:
        centre = (corner[0] - side[0] * radius, corner[1] - side[1] * radius)
        return all(
            _beyond(piece, centre, side) <= radius + 1e-9 for shape in shapes for piece in shape
        )

    if holds(most):
        return most
    low, high = 0.0, most
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _beyond(piece: Segment, centre: Point2, side: Point2) -> float:
    """Farthest point of a piece from a corner's centre, in the corner's quarter [mm]."""
    points = [piece.start, piece.end]
    if isinstance(piece, Arc):
        away = math.atan2(piece.centre[1] - centre[1], piece.centre[0] - centre[0])
        gone = (away - piece.begin) % math.tau
        if gone <= piece.sweep:
            points.append(piece.at(gone / piece.sweep))
    return max(
        (
            math.dist(point, centre)
            for point in points
            if (point[0] - centre[0]) * side[0] >= 0.0 and (point[1] - centre[1]) * side[1] >= 0.0
        ),
        default=0.0,
    )


def relieved(
    outer: Loop,
    windows: Sequence[Loop],
    holes: Sequence[PlateHole],
    row: float,
    land: float,
    relief: Relief,
) -> tuple[Loop, tuple[int, ...], tuple[float, ...]]:
    """An outline with a slot between every two neighbouring windows, from one edge.

    A slot stands square to the row, a land from both windows. Of all places and both edges
    that one is taken where it goes deepest without coming into a boss or nearer to the far
    edge than ``relief.web``; of equal ones that nearest the middle between the windows.

    Args:
        outer: outline.
        windows: in any order.
        holes: with the bosses that no slot may cut.
        row: direction of the row of ports [rad].
        land: from a slot to a window [mm].
        relief: sizes of the slots.

    Returns:
        The outline, its corners at the slots' mouths rounded; the gaps between windows (by
        place along the row, from 0) where no slot would reach ``SHALLOW`` of the way across; and
        how much metal there was at those of the corners that are horns [rad].
    """
    turned = sorted(
        (bounding_box(placed(window, (0.0, 0.0), -row)) for window in windows),
        key=lambda box: box.left,
    )
    whole = placed(outer, (0.0, 0.0), -row)
    c, s = math.cos(row), math.sin(row)
    bosses = [
        (
            (hole.at[0] * c + hole.at[1] * s, hole.at[1] * c - hole.at[0] * s),
            hole.boss + hole.slot / 2.0,
        )
        for hole in holes
    ]
    missing, chosen = [], []
    plain = whole
    for k, (a, b) in enumerate(pairwise(turned)):
        cuts = list(_cuts(whole, (a.right + land, b.left - land), bosses, relief))
        if not cuts:
            missing.append(k)
            continue
        best = max(cuts, key=lambda cut: (round(cut.depth / 5.0), -cut.aside, cut.from_top))
        chosen.append(best)
        whole = difference(whole, _slot(whole, best, relief))[0]
    for cut in chosen:  # without their stops, whose corners are left
        plain = difference(plain, _slot(plain, cut, replace(relief, stop=0.0)))[0]
    plain, horns = blended(plain)
    for cut in chosen if relief.stop > relief.width else ():
        plain = difference(plain, circle((cut.x, cut.stop), relief.stop / 2.0))[0]
    return placed(plain, (0.0, 0.0), row), tuple(missing), horns


@dataclass(frozen=True)
class _Cut:
    """A slot that would do: its place, the height of its stop's centre, its depth [mm]."""

    x: float
    stop: float
    depth: float
    aside: float
    from_top: bool


def _cuts(
    outer: Loop,
    room: tuple[float, float],
    bosses: Sequence[tuple[Point2, float]],
    relief: Relief,
) -> Iterator[_Cut]:
    """Slots that reach far enough, at every place between two windows, from both edges."""
    half = max(relief.width, relief.stop) / 2.0
    left, right = room[0] + half, room[1] - half
    for k in range(int((right - left) / STEP) + 1 if right >= left else 0):
        x = left + (right - left) * (k * STEP / max(right - left, STEP))
        ends = [_ends(outer, x + shift) for shift in (-half, 0.0, half)]
        if any(len(pair) != 2 for pair in ends):
            continue
        low, high = max(pair[0] for pair in ends), min(pair[1] for pair in ends)
        for from_top in (True, False):
            sign, near, far = (1.0, high, low) if from_top else (-1.0, -low, -high)
            stop = max([far + relief.web + half, *_stops(x, half, sign, bosses)])
            last = near + half - SHALLOW * (high - low)
            stop = _with_web(outer, x, stop, last, sign, relief.web + half)
            depth = near - stop + half
            if stop <= last:
                yield _Cut(x, sign * stop, depth, abs(x - (left + right) / 2.0), from_top)


def _with_web(outer: Loop, x: float, stop: float, last: float, sign: float, keep: float) -> float:
    """A stop drawn back, to ``last`` at most, until it keeps off a curved far edge."""
    while stop <= last:
        lacks = keep - point_to_loop((x, sign * stop), outer)
        if lacks <= 1e-9:
            break
        stop += lacks + 1e-3
    return stop


def _stops(
    x: float, half: float, sign: float, bosses: Sequence[tuple[Point2, float]]
) -> Iterator[float]:
    """Where each boss in the way stops a slot, upwards (sign 1) or downwards (-1)."""
    for (bx, by), radius in bosses:
        reach = radius + half + BESIDE
        if abs(bx - x) < reach:
            yield sign * by + math.sqrt(reach**2 - (bx - x) ** 2)


def _slot(outer: Loop, cut: _Cut, relief: Relief) -> Loop:
    """A slot from beyond the edge to its stop, counter-clockwise; the stop is two arcs."""
    box = bounding_box(outer)
    sign, mouth = (1.0, box.top + 5.0) if cut.from_top else (-1.0, box.bottom - 5.0)
    half, radius = relief.width / 2.0, max(relief.width, relief.stop) / 2.0
    opening = math.asin(min(1.0, half / radius))
    sweep = math.pi - opening
    begin = sign * math.pi / 2.0 + opening
    centre = (cut.x, cut.stop)
    first = Arc(centre, radius, begin, sweep)
    second = Arc(centre, radius, begin + sweep, sweep)
    out, back = (cut.x + sign * half, mouth), (cut.x - sign * half, mouth)
    return (first, second, Line(second.end, out), Line(out, back), Line(back, first.start))


def _ends(outer: Loop, x: float) -> list[float]:
    """Heights at which an upright line meets the outline, from below [mm]."""
    box = bounding_box(outer)
    line = Line((x, box.bottom - 1.0), (x, box.top + 1.0))
    found: list[float] = []
    for height in sorted(p[1] for piece in outer for p in meetings(line, piece)):
        if not found or height - found[-1] > 1e-6:
            found.append(height)
    return found


def apart(pieces: Sequence[Loop]) -> tuple[int, int, float] | None:
    """The two pieces that lie nearest or over one another, with their gap [mm]."""
    found = [
        (_gap(a, b), i, i + 1 + j)
        for i, a in enumerate(pieces)
        for j, b in enumerate(pieces[i + 1 :])
    ]
    if not found:
        return None
    gap, i, j = min(found)
    return i, j, gap


def _gap(a: Loop, b: Loop) -> float:
    over = inside(a[0].start, b) or inside(b[0].start, a)
    return -min(point_to_loop(a[0].start, b), 1.0) if over else loop_to_loop(a, b)
