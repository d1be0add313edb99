"""Loops with dents to try things on, and their facetted twins for an outside library."""

import math

from hypothesis import strategies as st
from shapely.geometry import Polygon

from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Arc, Line, placed


def kidney(radius, end, half):
    """A slot of width 2 ``end`` bent round a circle of ``radius``, its dent upwards."""
    down = -math.pi / 2
    right, left = (
        (radius * math.cos(down + side * half), radius * math.sin(down + side * half))
        for side in (1, -1)
    )
    loop = (
        Arc((0.0, 0.0), radius + end, down - half, 2 * half),
        Arc(right, end, down + half, math.pi),
        Arc((0.0, 0.0), radius - end, down + half, -2 * half),
        Arc(left, end, down - half + math.pi, math.pi),
    )
    return placed(loop, (0.0, radius))


def notched(width, height, depth, turn):
    """A rectangle with a V notch in its top and one in its side, turned."""
    x, y = width / 2, height / 2
    corners = [
        (-x, -y),
        (x, -y),
        (x, -0.3 * y),
        (x - depth, 0.0),
        (x, 0.3 * y),
        (x, y),
        (0.4 * x, y),
        (0.1 * x, y - depth),
        (-0.2 * x, y),
        (-x, y),
    ]
    lines = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    return placed(lines, (0.0, 0.0), turn)


DENTED = st.one_of(
    st.builds(kidney, st.floats(25, 60), st.floats(8, 16), st.floats(0.3, 1.3)),
    st.builds(notched, st.floats(40, 60), st.floats(35, 50), st.floats(1, 9), st.floats(0, 6)),
)


def twin(loop, steps=120):
    """The loop as a polygon of many chords."""
    return Polygon([point_at(piece, i / steps) for piece in loop for i in range(steps)])
