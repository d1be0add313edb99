"""What a cut may be off: ISO 9013 for plasma and laser, shops' rules for waterjet.

The standard's text was not at hand: perpendicularity ranges 1 to 4 agree between two public
texts that quote it, range 5 stands in one; limit deviations are from one reprint, for plate
over 3.15 to 15 mm. The class that is typical of a process is common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

Rows = tuple[tuple[float, tuple[float, ...]], ...]

_PERPENDICULARITY = ((0.05, 0.003), (0.15, 0.007), (0.4, 0.01), (0.8, 0.02), (1.2, 0.035))

_NOMINAL = (3.0, 10.0, 35.0, 125.0, 315.0, 1000.0, 2000.0)

_LIMITS: dict[int, Rows] = {
    1: (
        (6.3, (0.20, 0.25, 0.25, 0.30, 0.40, 0.45)),
        (10.0, (0.25, 0.30, 0.30, 0.35, 0.45, 0.55)),
        (15.0, (0.30, 0.35, 0.40, 0.45, 0.55, 0.65)),
    ),
    2: (
        (6.3, (0.8, 0.9, 0.9, 1.1, 1.2, 1.3)),
        (10.0, (1.0, 1.1, 1.3, 1.4, 1.5, 1.6)),
        (15.0, (1.8, 1.8, 1.8, 1.9, 2.3, 3.0)),
    ),
}
"""By class: thickness up to, and a deviation for each range of nominal sizes."""

CLASSES = tuple(_LIMITS)
RANGES = tuple(range(1, len(_PERPENDICULARITY) + 1))


def perpendicularity(number: int, thickness: float) -> float:
    """Perpendicularity or angularity tolerance u of a range, a wall [mm].

    u = 0.05 + 0.003 a, 0.15 + 0.007 a, 0.4 + 0.01 a, 0.8 + 0.02 a, 1.2 + 0.035 a for the
    ranges 1 to 5, with a the thickness.

    Args:
        number: of the range.
        thickness: of the plate as cut [mm].
    """
    least, growing = _PERPENDICULARITY[number - 1]
    return least + growing * thickness


def limit_deviation(number: int, thickness: float, nominal: float) -> float | None:
    """Limit deviation of a size, plus or minus [mm]; None where the table does not reach.

    Thinner plate than the table has takes its thinnest row, and smaller sizes its first.

    Args:
        number: of the class.
        thickness: of the plate as cut [mm].
        nominal: the size [mm].
    """
    rows = _LIMITS[number]
    row = bisect_left([most for most, _ in rows], thickness)
    column = max(bisect_right(_NOMINAL, nominal) - 1, 0)
    if row >= len(rows) or column >= len(rows[row][1]):
        return None
    return rows[row][1][column]


@dataclass(frozen=True)
class CutQuality:
    """What a process holds in one size [mm].

    Attributes:
        deviation: of the size, plus or minus.
        taper: of each wall, from one face of the plate to the other.
        source: of both, in words.
    """

    deviation: float
    taper: float
    source: str
