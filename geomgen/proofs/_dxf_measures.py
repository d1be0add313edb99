"""What is measured in a flat part's DXF, once it is lines and arcs in mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from geomgen.design.model import FlatPart, Hole
from geomgen.errors import Finding, Verdict
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Arc, Box, Line, Loop, Point2, bounding_box
from geomgen.profiles.loops import area as exact_area

CLOSE = 0.01
"""What places and sizes may be off [mm]."""

DO_NOT_CUT = "do not cut this file; build again and report it"

Pair = tuple[Loop | None, Loop | None]
"""A loop of the design and the file's loop for it; None where one has no other."""

Points = NDArray[np.float64]


def finding(
    name: str,
    part: FlatPart,
    good: bool,
    message: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
) -> Finding:
    """A finding on a part's file."""
    return Finding(
        name,
        part.name,
        Verdict.PASS if good else Verdict.FAIL,
        message,
        value=value,
        limit=limit,
        unit=unit,
        remedy="" if good else DO_NOT_CUT,
        source="proof",
    )


def apart(a: Loop, b: Loop) -> float:
    """Farthest that points of either loop are from the other [mm]: ends and quarters."""
    return max(float(away(_quarters(one), other).max()) for one, other in ((a, b), (b, a)))


def _quarters(loop: Loop) -> Points:
    return np.array([point_at(piece, k / 4.0) for piece in loop for k in range(4)])


def away(points: Points, loop: Loop) -> Points:
    """Distance of each point of shape (n, 2) from a loop's edge [mm]."""
    least: Points = np.min([_from_segment(points, piece) for piece in loop], axis=0)
    return least


def _from_segment(points: Points, piece: Line | Arc) -> Points:
    start, end = np.array(piece.start), np.array(piece.end)
    if isinstance(piece, Line):
        along = end - start
        square = float(along @ along)
        share = np.clip((points - start) @ along / square, 0.0, 1.0) if square else 0.0
        foot = start + np.multiply.outer(share, along)
        off: Points = np.hypot(*(points - foot).T)
        return off
    x, y = (points - np.array(piece.centre)).T
    gone = math.copysign(1.0, piece.sweep) * (np.arctan2(y, x) - piece.begin) % math.tau
    ends = np.minimum(np.hypot(*(points - start).T), np.hypot(*(points - end).T))
    beside: Points = np.where(gone <= abs(piece.sweep), np.abs(np.hypot(x, y) - piece.radius), ends)
    return beside


def pairs(wanted: Sequence[Loop], there: Sequence[Loop]) -> list[Pair]:
    """Each wanted loop with the loop of the file whose box is nearest to its own."""
    left = [(loop, bounding_box(loop)) for loop in there]
    paired: list[Pair] = []
    for loop in wanted:
        if not left:
            paired.append((loop, None))
            continue
        box = bounding_box(loop)
        nearest = min(range(len(left)), key=lambda k: _off(left[k][1], box))
        paired.append((loop, left.pop(nearest)[0]))
    return paired + [(None, loop) for loop, _ in left]


def _off(a: Box, b: Box) -> float:
    return max(
        abs(a.left - b.left),
        abs(a.bottom - b.bottom),
        abs(a.right - b.right),
        abs(a.top - b.top),
    )


def shape(part: FlatPart, paired: Sequence[Pair]) -> Finding:
    """Every loop of the design has its own loop in the file, nowhere off by more."""
    both = [(a, b) for a, b in paired if a is not None and b is not None]
    worst = max((apart(a, b) for a, b in both), default=0.0)
    lost, over = (sum(pair[k] is None for pair in paired) for k in (1, 0))
    message = f"edges at most {worst:.6f} mm off the design"
    if lost or over:
        message += f"; {lost} loops missing, {over} too many"
    good = worst <= CLOSE and not lost and not over
    return finding("dxf-shape", part, good, message, worst, CLOSE, "mm")


def arcs(part: FlatPart, paired: Sequence[Pair]) -> Finding:
    """As many arcs as the design's outline has, loop by loop, each of its radius."""
    worst, counted, faults = 0.0, 0, []
    for a, b in paired:
        wanted, there = radii(a or ()), radii(b or ())
        counted += len(there)
        if len(wanted) != len(there):
            faults.append(f"{len(there)} arcs in a loop where {len(wanted)} are wanted")
            continue
        worst = max([worst, *(abs(r - s) for r, s in zip(wanted, there, strict=True))])
    message = "; ".join(faults[:5]) or f"{counted} arcs, radii within {worst:.6f} mm"
    good = worst <= CLOSE and not faults
    return finding("dxf-arcs", part, good, message, worst, CLOSE, "mm")


def radii(loop: Loop) -> list[float]:
    """Radii of a loop's arcs, rising [mm]; one that is drawn in several pieces counts once."""
    arcs = [
        piece.radius
        for before, piece in zip((*loop[-1:], *loop[:-1]), loop, strict=True)
        if isinstance(piece, Arc) and not _goes_on(before, piece)
    ]
    return sorted(arcs) or [piece.radius for piece in loop[:1] if isinstance(piece, Arc)]


def _goes_on(before: Line | Arc, piece: Arc) -> bool:
    """Whether an arc is the rest of the one before it."""
    return (
        isinstance(before, Arc)
        and math.dist(before.centre, piece.centre) <= CLOSE
        and abs(before.radius - piece.radius) <= CLOSE
        and before.sweep * piece.sweep > 0.0
    )


def holes(part: FlatPart, loops: Sequence[Loop], strokes: Sequence[Line]) -> Finding:
    """Holes cut to size or as pilots, and centre marks where nothing may be cut."""
    circles = [circle for loop in loops if (circle := _circle(loop)) is not None]
    middles = [(point_at(stroke, 0.5), stroke) for stroke in strokes]
    worst, faults = 0.0, []
    for hole in part.holes:
        if hole.how == "mark":
            off = max(_mark_off(centre, middles) for centre in hole.centres)
            if any(math.dist(centre, hole.at) < hole.diameter / 2.0 for centre, _ in circles):
                faults.append(f"{hole.name} is to be drilled and must not be cut")
        else:
            off = _cut_off(hole, circles, loops)
        worst = max(worst, off)
        if off > CLOSE:
            faults.append(f"{hole.name} is {off:.3f} mm off or missing")
    how = [hole.how for hole in part.holes]
    message = "; ".join(faults[:5]) or (
        f"{how.count('cut')} cut holes, {how.count('pilot')} pilots and {how.count('mark')} "
        f"centre marks within {worst:.6f} mm"
    )
    value = worst if math.isfinite(worst) else None
    return finding("dxf-holes", part, not faults, message, value, CLOSE, "mm")


def _circle(loop: Loop) -> tuple[Point2, float] | None:
    """Centre and diameter of a loop that is a circle to within the limit."""
    pieces = [piece for piece in loop if isinstance(piece, Arc)]
    if len(pieces) != len(loop):
        return None
    centre, radius = pieces[0].centre, pieces[0].radius
    if any(math.dist(a.centre, centre) > CLOSE or abs(a.radius - radius) > CLOSE for a in pieces):
        return None
    return centre, 2.0 * radius


def _cut_off(hole: Hole, circles: list[tuple[Point2, float]], loops: Sequence[Loop]) -> float:
    """Error of the nearest opening: of its place or its diameter, the greater [mm]."""
    wanted = hole.cut_loop
    if wanted is not None and hole.slot > 0.0:
        box = bounding_box(wanted)
        near = [loop for loop in loops if _off(bounding_box(loop), box) < 1.0]
        return min((2.0 * apart(loop, wanted) for loop in near), default=math.inf)
    size = hole.pilot if hole.how == "pilot" else hole.diameter
    return min(
        (max(math.dist(at, hole.at), abs(diameter - size)) for at, diameter in circles),
        default=math.inf,
    )


def _mark_off(at: Point2, middles: list[tuple[Point2, Line]]) -> float:
    """Error of the nearest cross: two square strokes whose middles are at the centre [mm]."""
    near = [(math.dist(m, at), s) for m, s in middles if math.dist(m, at) <= 1.0]
    best = math.inf
    for (off_a, a), (off_b, b) in combinations(near, 2):
        lean = (a.end[0] - a.start[0]) * (b.end[0] - b.start[0])
        lean += (a.end[1] - a.start[1]) * (b.end[1] - b.start[1])
        if a.length > 0.5 and b.length > 0.5 and abs(lean) < 1e-6 * a.length * b.length:
            best = min(best, max(off_a, off_b))
    return best


def area(part: FlatPart, loops: Sequence[Loop], volume: float | None) -> Finding:
    """Metal in the file, less what is drilled, times thickness: the solid's volume."""
    if volume is None:
        return Finding(
            "dxf-area",
            part.name,
            Verdict.NOT_RUN,
            "no solid of this part to compare with",
            source="proof",
        )
    areas = sorted((abs(_green(loop)) for loop in loops), reverse=True)
    drilled = math.fsum(
        exact_area(hole.loop) - (exact_area(hole.cut_loop) if hole.cut_loop else 0.0)
        for hole in part.holes
        if hole.how != "cut"
    )
    metal = (areas[0] - math.fsum(areas[1:]) if areas else 0.0) - drilled
    off = metal * part.thickness / volume - 1.0
    message = (
        f"{metal:.3f} mm2 as drilled times {part.thickness:g} mm is {metal * part.thickness:.1f} "
        f"mm3, the solid {volume:.1f} mm3"
    )
    return finding("dxf-area", part, abs(off) <= 1e-6, message, 100.0 * off, 1e-4, "%")


def _green(loop: Loop) -> float:
    """Enclosed area by Green's theorem along each piece, from its own points [mm2].

    For an arc, x dy - y dx integrates to r^2 sweep + cx (y1 - y0) - cy (x1 - x0).
    """
    terms = []
    for piece in loop:
        (x0, y0), (x1, y1) = piece.start, piece.end
        if isinstance(piece, Arc):
            cx, cy = piece.centre
            terms.append(piece.radius**2 * piece.sweep + cx * (y1 - y0) - cy * (x1 - x0))
        else:
            terms.append(x0 * y1 - x1 * y0)
    return math.fsum(terms) / 2.0
