"""Paper, and how a drawing at full size is spread over pages."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.profiles.loops import Box, Point2

PAPER = {
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "a2": (420.0, 594.0),
    "a1": (594.0, 841.0),
    "a0": (841.0, 1189.0),
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
}
"""Width and height, upright [mm]: ISO 216, and the inch sizes 8.5 x 11 and 11 x 17."""

MARGIN = 10.0
"""What printers may leave white all round [mm]; common practice, no source."""

HEAD, FOOT, SIDE = 15.0, 17.0, 16.0
"""Strips for the head line, and for check bars below and on the left [mm]."""

OVERLAP = 12.0
"""Of neighbouring pages [mm]."""

AIR = 5.0
"""White round the drawing [mm]."""


@dataclass(frozen=True)
class Tile:
    """One page of a drawing at full size.

    Attributes:
        name: ``A1``: column and row, from the top left.
        window: what of the part is on it [mm].
        shift: from the part's coordinates to the page's [mm].
    """

    name: str
    window: Box
    shift: Point2


@dataclass(frozen=True)
class Tiling:
    """A drawing over pages of one size.

    Attributes:
        page: width and height [mm].
        area: where the drawing may be, in the page's coordinates [mm].
        tiles: row by row.
        uprights: x of the lines where columns are joined, in the part's coordinates [mm].
        levels: y of the lines where rows are joined.
    """

    page: Point2
    area: Box
    tiles: tuple[Tile, ...]
    uprights: tuple[float, ...]
    levels: tuple[float, ...]


def shows(window: Box, box: Box) -> bool:
    """Whether anything of a box is on the page with this window."""
    return (
        box.left < window.right
        and window.left < box.right
        and box.bottom < window.top
        and window.bottom < box.top
    )


def tiling(box: Box, paper: str) -> Tiling:
    """As few pages as can be; lying if it makes no difference.

    Args:
        box: round the part [mm].
        paper: a key of ``PAPER``.
    """
    short, long = PAPER[paper]
    need = Box(box.left - AIR, box.bottom - AIR, box.right + AIR, box.top + AIR)
    ways = [_spread(need, page) for page in ((long, short), (short, long))]
    return min(ways, key=lambda way: len(way.tiles))


def _spread(need: Box, page: Point2) -> Tiling:
    area = Box(MARGIN + SIDE, MARGIN + FOOT, page[0] - MARGIN, page[1] - MARGIN - HEAD)
    columns, rows = _count(need.width, area.width), _count(need.height, area.height)
    left = (need.left + need.right) / 2.0 - _reach(columns, area.width) / 2.0
    top = (need.bottom + need.top) / 2.0 + _reach(rows, area.height) / 2.0
    if rows == 1:  # at the top of its page, with room for words below
        top = need.top
    step_x, step_y = area.width - OVERLAP, area.height - OVERLAP
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x, y = left + column * step_x, top - row * step_y
            window = Box(x, y - area.height, x + area.width, y)
            shift = (area.left - x, area.top - y)
            tiles.append(Tile(f"{_letters(column)}{row + 1}", window, shift))
    half = OVERLAP / 2.0
    return Tiling(
        page,
        area,
        tuple(tiles),
        tuple(left + k * step_x + half for k in range(1, columns)),
        tuple(top - k * step_y - half for k in range(1, rows)),
    )


def _count(need: float, there: float) -> int:
    if need <= there:
        return 1
    return math.ceil((need - OVERLAP) / (there - OVERLAP) - 1e-9)


def _reach(count: int, one: float) -> float:
    return count * one - (count - 1) * OVERLAP


def _letters(column: int) -> str:
    """``A`` to ``Z``, then ``AA``."""
    first, last = divmod(column, 26)
    return (chr(64 + first) if first else "") + chr(65 + last)
