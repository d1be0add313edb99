"""There is metal enough between holes, windows and the edge of a plate.

What: hole centre to edge over hole diameter; land from window to edge; webs from hole to
window, window to window and hole to hole; the metal at the end of a relief slot; the
tightest inside corner.
Why: a thin web overheats, moves or falls out in the cut; a narrow land does not seal; a
boss too small tears. Gasket sheet has no bosses: there it is what is left beside a hole's rim.
Limit: ``limits.edge_factor``, ``land_min``, ``bar_min``, ``gasket_neck``, ``web_ratio_plasma``,
``web_ratio_laser``, ``web_ratio_waterjet``, ``corner_plasma``, ``corner_laser``,
``corner_waterjet``. A hole that is drilled after cutting needs the land only.
Source: edge and land common practice, no source; plasma web and corner public guides.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from geomgen.checks import Early
from geomgen.design.groundwork import Ground
from geomgen.design.model import FlatPart, Hole
from geomgen.errors import Finding, Verdict
from geomgen.profiles.convex import corner_turns
from geomgen.profiles.distances import inside, loop_to_loop, segment_to_segment
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment

NAME = "edge-and-web"
EARLY = Early.TOLD


@dataclass(frozen=True)
class _Measure:
    """One distance of one kind, with what it must be [mm, or a ratio]."""

    value: float
    limit: float
    what: str
    at: Point2


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a plate and kind of distance: the worst of its kind."""
    return tuple(finding for part in design.flats for finding in _plate(design, part))


def _plate(design: Ground, part: FlatPart) -> Iterable[Finding]:
    limits = design.limits
    land = limits["land_min"]
    web = limits[f"web_ratio_{part.process}"] * part.cut_thickness
    beside = limits["gasket_neck"] if part.sheet else land
    kinds = (
        ("hole to edge", "ratio", [] if part.sheet else _hole_edges(part, limits["edge_factor"])),
        ("rim to edge", "mm", _rims(part, beside) if part.sheet else []),
        ("window land", "mm", _lands(part, land)),
        ("hole to window", "mm", _hole_windows(part, beside, web)),
        ("window to window", "mm", _window_windows(part, max(web, limits["bar_min"]))),
        ("hole to hole", "mm", _hole_holes(part, beside, web)),
        ("relief web", "mm", _reliefs(part, web)),
        ("inside corner", "mm", _corners(part, limits[f"corner_{part.process}"])),
    )
    for kind, unit, measures in kinds:
        if measures:
            worst = min(measures, key=lambda m: m.value - m.limit)
            yield _finding(part, kind, unit, worst)


def _finding(part: FlatPart, kind: str, unit: str, worst: _Measure) -> Finding:
    good = worst.value >= worst.limit - 1e-9
    size = "hole diameters" if unit == "ratio" else "mm"
    return Finding(
        NAME,
        f"{part.name} / {kind}",
        Verdict.PASS if good else Verdict.FAIL,
        f"least {kind}: {worst.value:.2f} {size} at {worst.what}; {worst.limit:.2f} wanted",
        value=worst.value,
        limit=worst.limit,
        unit=unit,
        remedy="" if good else _REMEDIES[kind],
        where=part.frame.point((worst.at[0], worst.at[1], 0.0)),
    )


_REMEDIES = {
    "hole to edge": "leave a larger boss round the bolt",
    "rim to edge": "open the gasket's holes less",
    "window land": "leave more land round the window",
    "hole to window": "move the bolt away, or make the window smaller: tube, fit, bore or seat",
    "window to window": "take a greater pitch, a wider bar or narrower windows, or another process",
    "hole to hole": "move the bolts apart, or have them drilled",
    "relief web": "leave more web (flange.relief.web)",
    "inside corner": "make the corner's radius larger, or take another process",
}


def _hole_edges(part: FlatPart, factor: float) -> list[_Measure]:
    return [
        _Measure(_signed(hole, part.profile.outer) / hole.diameter, factor, hole.name, hole.at)
        for hole in part.holes
    ]


def _rims(part: FlatPart, neck: float) -> list[_Measure]:
    return [
        _Measure(_signed(hole, part.profile.outer) - hole.diameter / 2.0, neck, hole.name, hole.at)
        for hole in part.holes
    ]


def _lands(part: FlatPart, land: float) -> list[_Measure]:
    measures = []
    for name, window in _windows(part):
        start = window[0].start
        apart = loop_to_loop(window, part.profile.outer)
        value = apart if inside(start, part.profile.outer) else -apart
        measures.append(_Measure(value, land, name, start))
    return measures


def _hole_windows(part: FlatPart, land: float, web: float) -> list[_Measure]:
    return [
        _Measure(
            -_signed(hole, window) - hole.diameter / 2.0,
            max(land, web) if hole.how == "cut" else land,
            f"{hole.name} and {name}",
            hole.at,
        )
        for hole in part.holes
        for name, window in _windows(part)
    ]


def _window_windows(part: FlatPart, web: float) -> list[_Measure]:
    measures = []
    for (name, a), (other, b) in combinations(_windows(part), 2):
        within = inside(a[0].start, b) or inside(b[0].start, a)
        value = 0.0 if within else loop_to_loop(a, b)
        measures.append(_Measure(value, web, f"{name} and {other}", a[0].start))
    return measures


def _hole_holes(part: FlatPart, land: float, web: float) -> list[_Measure]:
    return [
        _Measure(
            _between(a, b),
            max(land, web) if a.how == b.how == "cut" else land,
            f"{a.name} and {b.name}",
            a.at,
        )
        for a, b in combinations(part.holes, 2)
    ]


def _between(a: Hole, b: Hole) -> float:
    apart = segment_to_segment(_centre_line(a), _centre_line(b))
    return apart - (a.diameter + b.diameter) / 2.0


def _reliefs(part: FlatPart, web: float) -> list[_Measure]:
    """Metal between the end of a slot in the outline and the edge beyond it."""
    measures = []
    groups = _round_ends(part.profile.outer)
    for k, group in enumerate(groups):
        if math.fsum(p.sweep for p in group if isinstance(p, Arc)) < 1e-6 - math.pi:
            beside = {k, (k - 1) % len(groups), (k + 1) % len(groups)}
            far = [p for i, other in enumerate(groups) if i not in beside for p in other]
            left = min(segment_to_segment(a, b) for a in group for b in far)
            measures.append(_Measure(left, web, "a relief slot", group[0].end))
    return measures


def _round_ends(loop: Loop) -> list[list[Segment]]:
    """Pieces of a loop in order, arcs of one circle that follow each other together."""
    groups: list[list[Segment]] = []
    for piece in loop:
        if groups and _one_circle(groups[-1][-1], piece):
            groups[-1].append(piece)
        else:
            groups.append([piece])
    if len(groups) > 1 and _one_circle(groups[-1][-1], groups[0][0]):
        groups[0] = groups.pop() + groups[0]
    return groups


def _one_circle(a: Segment, b: Segment) -> bool:
    return (
        isinstance(a, Arc)
        and isinstance(b, Arc)
        and math.dist(a.centre, b.centre) < 1e-6
        and abs(a.radius - b.radius) < 1e-6
    )


def _corners(part: FlatPart, limit: float) -> list[_Measure]:
    """Inside corners: those of windows, and the hollows of the outline."""
    measures = []
    for name, window in _windows(part):
        measures += _radii(window, 1.0, limit, name)
    return measures + _radii(part.profile.outer, -1.0, limit, "the outline")


def _radii(loop: Loop, side: float, limit: float, name: str) -> list[_Measure]:
    """Arcs and sharp corners that turn left (side 1) or right (side -1)."""
    arcs = [
        _Measure(piece.radius, limit, name, piece.at(0.5))
        for piece in loop
        if isinstance(piece, Arc) and piece.sweep * side > 0.0
    ]
    sharp = [
        _Measure(0.0, limit, name, piece.end)
        for piece, turn in zip(loop, corner_turns(loop), strict=True)
        if turn * side > 1e-6
    ]
    return arcs + sharp


def _windows(part: FlatPart) -> list[tuple[str, Loop]]:
    names = part.cylinders or tuple(range(1, len(part.windows) + 1))
    return [(f"window {n}", window) for n, window in zip(names, part.windows, strict=True)]


def _centre_line(hole: Hole) -> Line:
    """From the centre of one end of a slot to the other's; a point of a round hole."""
    return Line(hole.centres[0], hole.centres[-1])


def _signed(hole: Hole, loop: Loop) -> float:
    """Distance of a hole's centre, or a slot's centre line, from a loop, positive inside [mm]."""
    line = _centre_line(hole)
    apart = min(segment_to_segment(line, piece) for piece in loop)
    return apart if inside(hole.at, loop) else -apart
