"""Words of SVG for charts: numbers, texts, lines, ticks; lengths in pixels, y down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape

from geomgen.design.assembly import colour_of

INK, PALE = "#1d2733", "#cfd5dc"
SOFT = 'fill="#5b6673"'


def n(value: float) -> str:
    """A number without needless figures."""
    said = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if said in ("-0", "") else said


def hexed(cylinder: int) -> str:
    """The colour of a cylinder's parts."""
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour_of(cylinder))


def text(x: float, y: float, said: str, size: float, extra: str = "") -> str:
    """A text, its base line's start there."""
    return f'<text x="{n(x)}" y="{n(y)}" font-size="{n(size)}" {extra}>{escape(said)}</text>'


def polyline(points: Sequence[tuple[float, float]], style: str) -> str:
    """An open line through points."""
    data = " L".join(f"{n(x)} {n(y)}" for x, y in points)
    return f'<path d="M{data}" fill="none" stroke-linejoin="round" {style}/>'


def sheet(title: str, width: float, height: float, body: Sequence[str]) -> str:
    """A whole SVG of that size, white below."""
    size = f'width="{n(width)}" height="{n(height)}"'
    open_tag = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {n(width)} {n(height)}" {size} '
        f'font-family="Helvetica, Arial, sans-serif" fill="{INK}">'
    )
    return "\n".join(
        [
            open_tag,
            f"<title>{escape(title)}</title>",
            f'<rect {size} fill="#ffffff"/>',
            *body,
            "</svg>",
            "",
        ]
    )


def ticks(most: float, count: int) -> tuple[float, ...]:
    """Round numbers from 0 to the first not below ``most``: steps of 1, 2 or 5 times ten to n.

    Args:
        most: what they reach, more than 0.
        count: of steps, about; never more.
    """
    decade = 10.0 ** math.floor(math.log10(most / count))
    step = next(s * decade for s in (1.0, 2.0, 5.0, 10.0) if s * decade * count >= most - 1e-9)
    return tuple(step * i for i in range(math.ceil(most / step - 1e-9) + 1))


def spread(wanted: Sequence[float], apart: float) -> tuple[float, ...]:
    """Places as near to the wanted ones, which rise, as can be while that far apart.

    Least squares: pools that would overlap share the mean of what they want.
    """
    pools: list[list[float]] = []
    for i, place in enumerate(wanted):
        pools.append([place - i * apart])
        while len(pools) > 1 and _mean(pools[-2]) > _mean(pools[-1]):
            pools[-2:] = [pools[-2] + pools[-1]]
    flat = [_mean(pool) for pool in pools for _ in pool]
    return tuple(place + i * apart for i, place in enumerate(flat))


def _mean(pool: Sequence[float]) -> float:
    return math.fsum(pool) / len(pool)
