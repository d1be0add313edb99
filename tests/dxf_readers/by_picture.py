"""Loops of a flat part as the picture kept beside its DXF shows them.

The picture is SVG: one filled path, every loop in it by lines and true arcs, to 0.001 mm, y
downwards. Arcs by their ends and radius, so centres are no better than ends that lie near half
a turn apart make them.
"""

import math
import re
from types import SimpleNamespace

from geomgen.profiles.loops import Arc, Line

_FILLED = re.compile(r'<path d="([^"]*)" fill="[^"]*" fill-rule="evenodd"')
_STEP = re.compile(r"([MLAZ])([^MLAZ]*)")


def part(svg):
    """As much of a flat part as a reading is compared with; the outline comes first."""
    (path,) = _FILLED.findall(svg)
    outer, *holes = _loops(path)
    return SimpleNamespace(profile=SimpleNamespace(outer=outer, holes=tuple(holes)))


def _loops(path):
    loops = []
    for kind, text in _STEP.findall(path):
        *said, x, y = (float(value) for value in text.split()) if text.strip() else (0.0, 0.0)
        if kind == "M":
            loops.append([])
            first = at = (x, -y)
            continue
        to = first if kind == "Z" else (x, -y)
        if kind == "A":
            loops[-1].append(_arc(at, to, *said))
        elif at != to:
            loops[-1].append(Line(at, to))
        at = to
    return tuple(tuple(loop) for loop in loops)


def _arc(start, end, radius, _, turned, large, clockwise):
    """SVG 2, appendix B.2.4, for a circle; ``clockwise`` as on the screen, as it is with y up."""
    assert turned == large == 0.0
    chord = math.dist(start, end)
    away = math.sqrt(max(0.0, radius**2 - chord**2 / 4.0)) / chord
    side = -1.0 if clockwise else 1.0
    dx, dy = end[0] - start[0], end[1] - start[1]
    centre = (
        (start[0] + end[0]) / 2.0 - side * away * dy,
        (start[1] + end[1]) / 2.0 + side * away * dx,
    )
    sweep = side * 2.0 * math.asin(min(1.0, chord / 2.0 / radius))
    return Arc(centre, radius, math.atan2(start[1] - centre[1], start[0] - centre[0]), sweep)
