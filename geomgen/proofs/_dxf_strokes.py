"""Marks of a flat part's DXF: every stroke where it should be, and none of them mirrored."""

from __future__ import annotations

import math
from collections.abc import Iterable

from geomgen.design.model import FlatPart
from geomgen.errors import Finding, Verdict
from geomgen.profiles.loops import Line, Point2, bounding_box
from geomgen.proofs._dxf_measures import CLOSE, finding
from geomgen.proofs._dxf_reading import Contour

Strokes = tuple[Line, ...]


def strokes_of(contours: Iterable[Contour]) -> Strokes:
    """Every straight stroke among them."""
    return tuple(p for c in contours for p in c.pieces if isinstance(p, Line))


def compared(wanted: Strokes, there: Strokes) -> tuple[float, int, int]:
    """Strokes against strokes: worst distance of those that pair [mm], number lacking, over.

    Each takes the nearest that is left. What is the same to 1e-4 mm is paired first.
    """
    spare: dict[tuple[float, ...], list[Line]] = {}
    for stroke in there:
        spare.setdefault(_key(stroke), []).append(stroke)
    worst, rest = 0.0, []
    for stroke in wanted:
        same = spare.get(_key(stroke))
        if same:
            worst = max(worst, _stroke_apart(stroke, same.pop()))
        else:
            rest.append(stroke)
    left = [stroke for same in spare.values() for stroke in same]
    lost = max(0, len(rest) - len(left))
    for stroke in rest[: len(rest) - lost]:
        away = [_stroke_apart(stroke, other) for other in left]
        nearest = min(range(len(left)), key=away.__getitem__)
        worst = max(worst, away[nearest])
        left.pop(nearest)
    return worst, lost, len(left)


def _key(stroke: Line) -> tuple[float, ...]:
    return tuple(round(v, 4) + 0.0 for v in (*stroke.start, *stroke.end))


def _stroke_apart(a: Line, b: Line) -> float:
    return max(math.dist(a.start, b.start), math.dist(a.end, b.end))


def marks(part: FlatPart, strokes: Strokes) -> Finding:
    """Every stroke of the design once on the mark layer, and no other."""
    worst, lost, left = compared(part.marks, strokes)
    good = worst <= CLOSE and not lost and not left
    message = f"{len(part.marks)} strokes, at most {worst:.6f} mm off"
    if lost or left:
        message += f"; {lost} missing, {left} too many"
    return finding("dxf-marks", part, good, message, worst, CLOSE, "mm")


def mirrored(strokes: Iterable[Line], about: float = 0.0) -> Strokes:
    """Strokes with left and right exchanged about an upright line [mm]."""
    return tuple(
        Line((2.0 * about - s.start[0], s.start[1]), (2.0 * about - s.end[0], s.end[1]))
        for s in strokes
    )


def _same(a: Strokes, b: Strokes) -> bool:
    """Whether two sets of strokes are one, whichever way round each is drawn."""
    return sorted(map(_rounded, a)) == sorted(map(_rounded, b))


def _rounded(stroke: Line) -> list[Point2]:
    return sorted((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in (stroke.start, stroke.end))


def hand(part: FlatPart, strokes: Strokes) -> Finding:
    """The marks read right from the tube side, and could not if the part were mirrored."""
    other = mirrored(part.marks)
    if strokes and _same(strokes, other) and not _same(part.marks, other):
        return finding("dxf-hand", part, False, "the file is mirrored, left for right")
    box = bounding_box(part.profile.outer)
    turned = mirrored(strokes, (box.left + box.right) / 2.0)
    if not strokes or _same(strokes, turned):
        return Finding(
            "dxf-hand",
            part.name,
            Verdict.WARN,
            "no mark on this part tells it from its mirror image",
            remedy="mark UP and TUBE SIDE on it by hand before it leaves the table",
            source="proof",
        )
    return finding("dxf-hand", part, True, "the marks tell the part from its mirror image")
