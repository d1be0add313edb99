"""The hot flange can grow on its studs.

What: how much the flange outgrows the head between each stud and the one that holds it,
against the play of that stud in its hole, the same way. Without a register stud it is
reckoned from the middle of the studs, where a flange settles.
Why: a hot flange that its studs do not let grow bends them, tears its gasket or cracks
between the ports.
Limit: the growth. Too little play fails on a one-piece flange over ``limits.growth_span``
unless the spec leaves its holes alone; then, and on shorter ones, it warns.
Source: linear expansion; coefficients of EN 10088-1 and data sheets by public tables, some
from memory; temperatures common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.checks import Early
from geomgen.design.groundwork import Ground
from geomgen.design.growth import middle_of, play, span_of
from geomgen.design.model import FlatPart, Hole
from geomgen.errors import Finding, Verdict
from geomgen.fasteners import FASTENERS
from geomgen.profiles.loops import Point2

NAME = "hot-growth"
EARLY = Early.TOLD


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding a stud of the head flange: its play, and the growth as limit [mm]."""
    return tuple(
        finding
        for part in design.head_flanges
        if not part.sheet
        and (holes := tuple(hole for hole in part.holes if hole.name.startswith("stud ")))
        for finding in _plate(design, part, holes)
    )


def _plate(design: Ground, part: FlatPart, holes: tuple[Hole, ...]) -> tuple[Finding, ...]:
    strain = design.growth.strain(part.material)
    if strain is None:
        return (
            Finding(
                NAME,
                part.name,
                Verdict.WARN,
                f"the expansion of {part.material} is not known: growth is not reckoned",
                remedy="give flange.growth.expansion, from the grade's data sheet",
            ),
        )
    places = [hole.at for hole in holes]
    row = _row(places)
    register = next((hole for hole in holes if hole.note == "register"), None)
    fixed = register.at if register is not None else middle_of(places, row)
    short = span_of(places, row) < design.growth.span or not design.growth.wanted
    worse = Verdict.WARN if short else Verdict.FAIL
    origin = register.name if register is not None else "the middle of the studs"
    return tuple(
        _finding(part, hole, fixed, origin, strain, worse) for hole in holes if hole is not register
    )


def _row(places: list[Point2]) -> float:
    """Direction of the two studs that are farthest apart [rad]."""
    a, b = max(
        ((p, q) for p in places for q in places), key=lambda pair: round(math.dist(*pair), 6)
    )
    return math.atan2(b[1] - a[1], b[0] - a[0])


def _finding(
    part: FlatPart, hole: Hole, fixed: Point2, origin: str, strain: float, worse: Verdict
) -> Finding:
    way = (fixed[0] - hole.at[0], fixed[1] - hole.at[1])
    grown = abs(strain) * math.hypot(*way)
    left = play(hole.diameter, hole.slot, hole.turn, FASTENERS[hole.thread].diameter, way)
    good = left >= grown - 1e-9
    return Finding(
        NAME,
        f"{part.name} / {hole.name}",
        Verdict.PASS if good else worse,
        f"{math.hypot(*way):.0f} mm from {origin} the plate outgrows the head by {grown:.2f} mm; "
        f"the hole leaves {left:.2f} mm",
        value=left,
        limit=grown,
        unit="mm",
        remedy=""
        if good
        else "open the hole or make it a slot (flange.slots), cut the flange between the ports "
        "(flange.relief), or make it one piece a port (flange.outline: separate)",
        where=part.frame.point((hole.at[0], hole.at[1], 0.0)),
    )
