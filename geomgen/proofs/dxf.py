"""The written DXF of every flat part, read back and measured again.

What: unit, layers and entities; loops closed, single, simple, apart, inside the outline
and before it; every edge, hole, centre mark and letter where the design has it; metal area
times thickness against the part's own solid.
Why: open loops, doubled lines, wrong units and small holes are what cutters reject.
Limit: 0.01 mm for places and sizes, the project's own bar; 1e-6 of the volume.
Source: cutters' public guides; units and bulges as in the DXF reference.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from typing import TypeVar

from geomgen.design.model import Design, FlatPart, Hole
from geomgen.errors import Finding, Verdict
from geomgen.exports.dxf import CUT, MARK, METRIC, MILLIMETRES, REFERENCE, file_name
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import inside, is_simple, loop_to_loop, point_to_loop
from geomgen.profiles.loops import Arc, Line, Loop, Point2
from geomgen.proofs._dxf_reading import Reading, Unreadable, chained, read

T = TypeVar("T")

NAME = "dxf"

CLOSE = 0.01
"""What places and sizes may be off [mm]."""

TOUCHING = 1e-4
"""Ends nearer than this touch [mm]."""


def prove(
    design: Design, files: Mapping[str, bytes], volumes: Mapping[str, float] | None = None
) -> tuple[Finding, ...]:
    """Findings on every flat part's DXF.

    Args:
        design: what was decided.
        files: every file's bytes, by name.
        volumes: each part's solid [mm3] by part name; built from the recipe when left out.
    """
    if volumes is None:
        volumes = _volumes(design)
    found: list[Finding] = [_all_there(design, files)]
    for part in design.flats:
        data = files.get(file_name(part))
        if data is None:
            continue
        try:
            reading = read(data)
        except Unreadable as error:
            found.append(_finding("dxf-file", part, False, f"cannot be read: {error}"))
            continue
        found += _prove_part(part, reading, volumes.get(part.name))
    return tuple(found)


def _volumes(design: Design) -> dict[str, float]:
    """Volume of each flat part's solid, from the recipe [mm3]."""
    from geomgen.recipe.nodes import parts_of
    from geomgen.solids.build import build
    from geomgen.solids.measure import volume

    flat = {part.name for part in design.flats}
    return {
        part.name: volume(build(part.node))
        for part in parts_of(design.assembly)
        if part.name in flat
    }


def _all_there(design: Design, files: Mapping[str, bytes]) -> Finding:
    wanted = {file_name(part) for part in design.flats}
    written = {name for name in files if name.endswith(".dxf")}
    missing, strange = sorted(wanted - written), sorted(written - wanted)
    message = f"{len(wanted)} flat parts, a file each"
    if missing or strange:
        message = f"missing: {', '.join(missing) or 'none'}; not asked for: {', '.join(strange)}"
    return Finding(
        "dxf-file",
        "flat parts",
        Verdict.FAIL if missing or strange else Verdict.PASS,
        message,
        value=float(len(written)),
        limit=float(len(wanted)),
        unit="count",
        source="proof",
    )


def _prove_part(part: FlatPart, reading: Reading, volume: float | None) -> list[Finding]:
    loops, faults = chained(reading.on(CUT), TOUCHING)
    return [
        _units(part, reading),
        _entities(part, reading),
        _loops(part, loops, faults),
        _shape(part, loops),
        _holes(part, loops, reading),
        _marks(part, reading),
        _area(part, loops, volume),
    ]


def _finding(
    name: str,
    part: FlatPart,
    good: bool,
    message: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
) -> Finding:
    return Finding(
        name,
        part.name,
        Verdict.PASS if good else Verdict.FAIL,
        message,
        value=value,
        limit=limit,
        unit=unit,
        remedy="" if good else "do not cut this file; build again and report it",
        source="proof",
    )


def _units(part: FlatPart, reading: Reading) -> Finding:
    good = reading.units == MILLIMETRES and reading.measurement == METRIC
    said = f"unit code {reading.units}, measurement {reading.measurement}"
    if reading.version <= "AC1009":
        return Finding(
            "dxf-units",
            part.name,
            Verdict.WARN,
            "this DXF version cannot name its unit; it is mm",
            remedy="say mm in the order; the file's name says it",
            source="proof",
        )
    return _finding("dxf-units", part, good, f"{said}; millimetres are 4 and 1")


def _entities(part: FlatPart, reading: Reading) -> Finding:
    known = (CUT, MARK, REFERENCE)
    faults = [f"{what}: not a line or arc" for what in reading.foreign]
    faults += [f"{what}: not at z = 0" for what in reading.raised]
    faults += [
        f"{c.kind} on unknown layer {c.layer}" for c in reading.contours if c.layer not in known
    ]
    faults += [f"{c.kind} on layer {MARK}" for c in reading.on(MARK) if c.kind != "LINE"]
    message = "; ".join(faults[:5]) or f"{len(reading.contours)} entities, lines and arcs at z = 0"
    return _finding("dxf-entities", part, not faults, message, float(len(faults)), 0.0, "count")


def _loops(part: FlatPart, loops: list[Loop], faults: list[str]) -> Finding:
    """Closed, simple, apart from each other, all but one inside that one, and before it."""
    faults = list(faults)
    faults += [
        f"loop {k + 1} crosses itself" for k, loop in enumerate(loops) if not is_simple(loop)
    ]
    faults += [
        f"loops {i + 1} and {j + 1} touch, cross or lie on each other"
        for (i, a), (j, b) in combinations(enumerate(loops), 2)
        if loop_to_loop(a, b) < TOUCHING
    ]
    outers = [k for k, loop in enumerate(loops) if not _within_another(loop, k, loops)]
    if len(outers) != 1:
        faults.append(f"{len(outers)} outlines in one file")
    elif outers[0] != len(loops) - 1:
        faults.append("the outline comes before an inner loop")
    wanted = 1 + len(part.profile.holes)
    if len(loops) != wanted:
        faults.append(f"{len(loops)} loops, {wanted} wanted")
    message = "; ".join(faults[:5]) or f"{len(loops)} closed loops, simple and apart"
    return _finding("dxf-loops", part, not faults, message, float(len(faults)), 0.0, "count")


def _within_another(loop: Loop, k: int, loops: list[Loop]) -> bool:
    start = loop[0].start
    return any(inside(start, other) for j, other in enumerate(loops) if j != k)


def _apart(a: Loop, b: Loop) -> float:
    """Farthest that points of either loop are from the other [mm]: ends and quarters."""
    far = 0.0
    for one, other in ((a, b), (b, a)):
        for piece in one:
            for quarter in range(4):
                far = max(far, point_to_loop(point_at(piece, quarter / 4.0), other))
    return far


def _paired(
    wanted: Sequence[T], there: Sequence[T], apart: Callable[[T, T], float]
) -> tuple[float, int, int]:
    """Pair each wanted thing with the nearest left: worst distance, number lacking, number over."""
    left = list(there)
    worst, lost = 0.0, 0
    for one in wanted:
        if not left:
            lost += 1
            continue
        away = [apart(one, other) for other in left]
        nearest = min(range(len(left)), key=away.__getitem__)
        worst = max(worst, away[nearest])
        left.pop(nearest)
    return worst, lost, len(left)


def _stroke_apart(a: Line, b: Line) -> float:
    return max(math.dist(a.start, b.start), math.dist(a.end, b.end))


def _shape(part: FlatPart, loops: list[Loop]) -> Finding:
    """Every loop of the design has its own loop in the file, nowhere off by more."""
    wanted = (part.profile.outer, *part.profile.holes)
    worst, lost, left = _paired(wanted, loops, _apart)
    good = worst <= CLOSE and not lost and not left
    message = f"edges at most {worst:.6f} mm off the design"
    if lost or left:
        message += f"; {lost} loops missing, {left} too many"
    return _finding("dxf-shape", part, good, message, worst, CLOSE, "mm")


def _circle(loop: Loop) -> tuple[Point2, float] | None:
    """Centre and diameter of a loop that is a circle to within the limit."""
    arcs = [piece for piece in loop if isinstance(piece, Arc)]
    if len(arcs) != len(loop):
        return None
    centre, radius = arcs[0].centre, arcs[0].radius
    if any(math.dist(a.centre, centre) > CLOSE or abs(a.radius - radius) > CLOSE for a in arcs):
        return None
    return centre, 2.0 * radius


def _holes(part: FlatPart, loops: list[Loop], reading: Reading) -> Finding:
    """Cut holes as circles of their size, drilled ones as centre marks and nothing else."""
    circles = [circle for loop in loops if (circle := _circle(loop)) is not None]
    strokes = [piece for c in reading.on(MARK) for piece in c.pieces if isinstance(piece, Line)]
    middles = [(point_at(stroke, 0.5), stroke) for stroke in strokes]
    worst, faults = 0.0, []
    for hole in part.holes:
        off = _cut_off(hole, circles) if hole.how == "cut" else _mark_off(hole, middles)
        worst = max(worst, off)
        if off > CLOSE:
            faults.append(f"{hole.name} is {off:.3f} mm off or missing")
        if hole.how == "mark" and any(_near(hole, centre) for centre, _ in circles):
            faults.append(f"{hole.name} is to be drilled and must not be cut")
    cut = sum(hole.how == "cut" for hole in part.holes)
    message = "; ".join(faults[:5]) or (
        f"{cut} cut holes and {len(part.holes) - cut} centre marks within {worst:.6f} mm"
    )
    value = worst if math.isfinite(worst) else None
    return _finding("dxf-holes", part, not faults, message, value, CLOSE, "mm")


def _near(hole: Hole, centre: Point2) -> bool:
    return math.dist(centre, hole.at) < hole.diameter / 2.0


def _cut_off(hole: Hole, circles: list[tuple[Point2, float]]) -> float:
    """Error of the nearest circle: of its place or its diameter, the greater [mm]."""
    return min(
        (
            max(math.dist(centre, hole.at), abs(diameter - hole.diameter))
            for centre, diameter in circles
        ),
        default=math.inf,
    )


def _mark_off(hole: Hole, middles: list[tuple[Point2, Line]]) -> float:
    """Error of the nearest cross: two square strokes whose middles are at the centre [mm]."""
    near = [(math.dist(m, hole.at), s) for m, s in middles if math.dist(m, hole.at) <= 1.0]
    best = math.inf
    for (off_a, a), (off_b, b) in combinations(near, 2):
        lean = (a.end[0] - a.start[0]) * (b.end[0] - b.start[0])
        lean += (a.end[1] - a.start[1]) * (b.end[1] - b.start[1])
        if a.length > 0.5 and b.length > 0.5 and abs(lean) < 1e-6 * a.length * b.length:
            best = min(best, max(off_a, off_b))
    return best


def _marks(part: FlatPart, reading: Reading) -> Finding:
    """Every stroke of the design once on the mark layer, and no other."""
    strokes = [p for c in reading.on(MARK) for p in c.pieces if isinstance(p, Line)]
    worst, lost, left = _paired(part.marks, strokes, _stroke_apart)
    good = worst <= CLOSE and not lost and not left
    message = f"{len(part.marks)} strokes, at most {worst:.6f} mm off"
    if lost or left:
        message += f"; {lost} missing, {left} too many"
    return _finding("dxf-marks", part, good, message, worst, CLOSE, "mm")


def _area(part: FlatPart, loops: list[Loop], volume: float | None) -> Finding:
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
        math.pi * hole.diameter**2 / 4.0 for hole in part.holes if hole.how == "mark"
    )
    metal = (areas[0] - math.fsum(areas[1:]) if areas else 0.0) - drilled
    off = metal * part.thickness / volume - 1.0
    message = (
        f"{metal:.3f} mm2 as drilled times {part.thickness:g} mm is {metal * part.thickness:.1f} "
        f"mm3, the solid {volume:.1f} mm3"
    )
    return _finding("dxf-area", part, abs(off) <= 1e-6, message, 100.0 * off, 1e-4, "%")


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
