"""Where the name of a hole stands on a drawing: beside it, clear of lettering and of edges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise, product

from geomgen.design.model import FlatPart, Hole
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Box, Point2, bounding_box

_SIDES = ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1))
_FURTHER = (0.0, 2.0, 4.0, 7.0, 11.0)
_CLEAR = 0.5
"""Of paper round a name [mm]."""
_STEP = 1.0
"""Between the places at which an edge is looked at [mm]."""


def inked(part: FlatPart) -> tuple[Box, ...]:
    """Boxes of everything that is drawn on a part: strokes of marks, and edges, in small bits."""
    edges = [
        piece
        for loop in (part.profile.outer, *part.profile.holes, *(hole.loop for hole in part.holes))
        for piece in loop
    ]
    bits: list[Box] = [bounding_box((mark,)) for mark in part.marks]
    for piece in edges:
        count = max(2, int(piece.length / _STEP) + 1)
        places = [point_at(piece, k / count) for k in range(count + 1)]
        bits += [
            Box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
            for a, b in pairwise(places)
        ]
    return tuple(bits)


def place(hole: Hole, size: Point2, gap: float, taken: Sequence[Box]) -> Box:
    """A box for a hole's name: the nearest beside the hole that lies on nothing.

    Args:
        hole: what is named.
        size: width and height of the name [mm].
        gap: least between hole and name [mm].
        taken: boxes that it must not lie on; where it cannot, it lies on the fewest.
    """
    own = bounding_box(hole.loop)
    x, y = hole.at
    far = gap + _FURTHER[-1]
    reach = Box(
        own.left - far - size[0],
        own.bottom - far - size[1],
        own.right + far + size[0],
        own.top + far + size[1],
    )
    near = [box for box in taken if _meet(box, reach)]
    fewest, best = math.inf, own
    for more, (sx, sy) in product(_FURTHER, _SIDES):
        off = gap + more
        middle = (
            x + sx * (own.width / 2.0 + off + size[0] / 2.0),
            y + sy * (own.height / 2.0 + off + size[1] / 2.0),
        )
        box = _around(middle, size)
        clear = _around(middle, (size[0] + 2.0 * _CLEAR, size[1] + 2.0 * _CLEAR))
        count = sum(_meet(clear, other) for other in near)
        if count < fewest:
            fewest, best = count, box
        if count == 0:
            break
    return best


def is_clear(middle: Point2, size: Point2, taken: Sequence[Box]) -> bool:
    """Whether a name round a place lies on nothing."""
    box = _around(middle, size)
    return not any(_meet(box, other) for other in taken)


def _around(middle: Point2, size: Point2) -> Box:
    (x, y), (width, height) = middle, size
    return Box(x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)


def _meet(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top
