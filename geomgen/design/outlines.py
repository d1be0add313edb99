"""Outlines of a head flange: hugging its ports and studs, a straight bar; relief slots."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

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
    slot,
)
from geomgen.profiles.union import closing, difference, erode, union

FILLETS = tuple(
    float(r)
    for r in (10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000, 2000, 5000)
)
"""Radii tried between bosses and ports, smallest first [mm]."""

STEP = 1.0
"""Between places tried for a relief slot [mm]."""


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
) -> tuple[Loop, tuple[int, ...]]:
    """An outline with a slot between every two neighbouring windows, from one edge.

    A slot stands square to the row, as near the middle between its windows as it finds
    room: a land from both, clear of every boss, and ``relief.web`` of metal at its end.

    Args:
        outer: outline.
        windows: in any order.
        holes: with the bosses that no slot may cut.
        row: direction of the row of ports [rad].
        land: from a slot to a window [mm].
        relief: sizes of the slots.

    Returns:
        The outline, and the pairs (by place along the row, from 0) that have no room.
    """
    turned = sorted(
        (placed(window, (0.0, 0.0), -row) for window in windows),
        key=lambda window: bounding_box(window).left,
    )
    whole = placed(outer, (0.0, 0.0), -row)
    bosses = [placed(boss_of(hole), (0.0, 0.0), -row) for hole in holes]
    missing = []
    for k, (a, b) in enumerate(pairwise(turned)):
        left, right = bounding_box(a).right + land, bounding_box(b).left - land
        for tool in _tools(whole, left, right, relief):
            if min(loop_to_loop(tool, w) for w in (a, b)) < land - 1e-9 or any(
                loop_to_loop(tool, boss) < 1e-6 for boss in bosses
            ):
                continue
            cut = difference(whole, tool)
            if len(cut) == 1:
                whole = cut[0]
                break
        else:
            missing.append(k)
    return placed(whole, (0.0, 0.0), row), tuple(missing)


def _tools(outer: Loop, left: float, right: float, relief: Relief) -> Iterator[Loop]:
    """Slots to be tried between two windows, the middle first, from the top and the bottom."""
    half = max(relief.width, relief.stop) / 2.0
    room = (right - left) / 2.0 - half
    middle = (left + right) / 2.0
    for k in range(2 * int(max(room, 0.0) / STEP) + 1 if room >= 0.0 else 0):
        x = middle + STEP * ((k + 1) // 2) * (-1.0 if k % 2 else 1.0)
        ends = [_ends(outer, x + shift) for shift in (-half, 0.0, half)]
        if any(len(pair) != 2 for pair in ends):
            continue
        low, high = max(pair[0] for pair in ends), min(pair[1] for pair in ends)
        depth = high - low - relief.web
        if depth < 2.0 * half:
            continue
        box = bounding_box(outer)
        for from_top in (True, False):
            mouth = box.top + 5.0 if from_top else box.bottom - 5.0
            stop = low + relief.web + half if from_top else high - relief.web - half
            yield _slot(x, mouth, stop, relief)


def _slot(x: float, mouth: float, stop: float, relief: Relief) -> Loop:
    """A slot from beyond the edge to the centre of its stop."""
    radius = max(relief.width, relief.stop) / 2.0
    middle, height = (mouth + stop) / 2.0, abs(mouth - stop) + relief.width
    straight = slot(relief.width, height, (x, middle))
    if relief.stop <= relief.width:
        return straight
    return union([straight, circle((x, stop), radius)])[0]


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
