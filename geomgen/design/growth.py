"""Hot growth: a flange that grows more than its head, and the holes that let it.

A flange at the temperature T grows by ``a (T - 20)`` of its length from 20 degC, with a the
mean coefficient of expansion between 20 and T; the head by the same with its own. A stud at
the distance L from the register stud, which holds the flange, then needs

    g = L (a_flange (T_flange - 20) - a_head (T_head - 20))

of play towards the register. Worked: 400 mm of 304 at 650 degC, mean coefficient 18.7e-6,
grow by 18.7e-6 x 400 x 630 = 4.712 mm alone. By the default temperatures (420 and 100 degC,
common practice, no source) 400 mm of 304 grow 2.8 mm and an aluminium head 0.7 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from geomgen.fasteners import FASTENERS
from geomgen.plates import PlateHole
from geomgen.profiles.loops import Point2

COLD = 20.0
"""From where growth counts [degC]."""

_EN = "EN 10088-1, as quoted in public tables"
_MEMORY = "from memory"

_AUSTENITIC = ((100.0, 16.0), (200.0, 16.5), (300.0, 17.0), (400.0, 17.5), (500.0, 18.0))

_EXPANSION: dict[str, tuple[tuple[tuple[float, float], ...], str]] = {
    "304": ((*_AUSTENITIC, (650.0, 18.7)), _EN),
    "321": (((100.0, 16.6), (600.0, 18.9), (1000.0, 20.5)), "public data sheets"),
    "316": (((100.0, 16.5), (500.0, 18.2), (1000.0, 19.5)), "public data sheets"),
    "409": (((100.0, 10.5), (500.0, 12.0)), _EN),
    "mild": (((100.0, 12.2), (500.0, 14.2)), "public data sheets, above 100 degC from memory"),
    "625": (((100.0, 12.8), (538.0, 14.0), (649.0, 14.8), (760.0, 15.3)), _MEMORY),
    "titanium": (((100.0, 8.6), (315.0, 9.2), (540.0, 9.7)), "public data sheets"),
    "aluminium": (((100.0, 21.0), (300.0, 23.0)), _MEMORY),
    "iron": (((400.0, 12.5),), f"ductile iron, {_MEMORY}"),
    "grey-iron": (
        ((100.0, 10.5), (200.0, 11.7), (400.0, 13.0)),
        f"grey iron, EN 1561 and at 100 degC handbooks, {_MEMORY}",
    ),
}
"""Mean coefficients from 20 (some from 0) degC up to a temperature [degC, 1e-6/K]."""

_GRADES = {
    "304": "304",
    "304l": "304",
    "1.4301": "304",
    "1.4307": "304",
    "321": "321",
    "1.4541": "321",
    "316": "316",
    "316l": "316",
    "1.4401": "316",
    "1.4404": "316",
    "409": "409",
    "1.4512": "409",
    "mild": "mild",
    "mild steel": "mild",
    "1010": "mild",
    "1018": "mild",
    "s235": "mild",
    "s235jr": "mild",
    "s275": "mild",
    "s355": "mild",
    "625": "625",
    "2.4856": "625",
    "gr 2 ti": "titanium",
    "ti gr 2": "titanium",
    "ti grade 2": "titanium",
    "3.7035": "titanium",
    "aluminium": "aluminium",
    "iron": "iron",
    "grey-iron": "grey-iron",
}

_HEADS = {"steel": "mild"}
"""Grade whose coefficients a head's material has, where it has none of its own: unalloyed steel."""


def expansion(material: str, temperature: float) -> tuple[float, str] | None:
    """Mean coefficient of expansion from 20 degC to a temperature [1/K], and its source.

    Between two temperatures of the table it runs straight; beyond it stays at the end's.
    None for a grade that the table does not know.
    """
    row = _GRADES.get(material.lower())
    if row is None:
        return None
    points, source = _EXPANSION[row]
    low = points[0]
    for high in points:
        if temperature <= high[0]:
            share = (temperature - low[0]) / (high[0] - low[0]) if high is not low else 0.0
            return 1e-6 * (low[1] + share * (high[1] - low[1])), source
        low = high
    return 1e-6 * low[1], source


@dataclass(frozen=True)
class HotGrowth:
    """How hot a flange and its head are, and how they grow.

    Attributes:
        flange: temperature of the plate [degC].
        head: temperature of the head [degC].
        head_material: ``aluminium``, ``iron`` (ductile), ``grey-iron`` or ``steel``.
        coefficient: mean, of the plate [1/K]; None for that of its grade.
        register: name of the stud that holds the flange; the middle one when empty.
        wanted: whether holes are opened for it.
        span: length of a one-piece flange from which on holes are opened [mm].
    """

    flange: float = 420.0
    head: float = 100.0
    head_material: str = "aluminium"
    coefficient: float | None = None
    register: str = ""
    wanted: bool = True
    span: float = 200.0

    def strain(self, material: str) -> float | None:
        """How much a flange outgrows its head, of its length [-]; None for unknown grades."""
        own = self.coefficient
        if own is None:
            known = expansion(material, self.flange)
            if known is None:
                return None
            own = known[0]
        head = expansion(_HEADS.get(self.head_material, self.head_material), self.head)
        assert head is not None
        return own * (self.flange - COLD) - head[0] * (self.head - COLD)


BY_DEFAULT = HotGrowth()
"""What is reckoned with when a spec says nothing."""


def span_of(places: Sequence[Point2], row: float) -> float:
    """Distance of the outermost studs along the row [mm]."""
    along = [x * math.cos(row) + y * math.sin(row) for x, y in places]
    return max(along) - min(along) if along else 0.0


def middle_of(places: Sequence[Point2], row: float) -> Point2:
    """The middle of all studs, along the row and across it [mm]."""
    c, s = math.cos(row), math.sin(row)
    along = [x * c + y * s for x, y in places]
    across = [y * c - x * s for x, y in places]
    u, v = (min(along) + max(along)) / 2.0, (min(across) + max(across)) / 2.0
    return (u * c - v * s, u * s + v * c)


def register_of(holes: Sequence[PlateHole], row: float, named: str) -> PlateHole:
    """The hole that holds the flange: the named stud's, or the one nearest the middle.

    Raises:
        ValueError: no stud has that name.
    """
    if named:
        found = [hole for hole in holes if hole.name.removeprefix("stud ") == named]
        if not found:
            raise ValueError(f"no stud is called {named}")
        return found[0]
    middle = middle_of([hole.at for hole in holes], row)
    c, s = math.cos(row), math.sin(row)

    def away(hole: PlateHole) -> tuple[float, str]:
        x, y = hole.at[0] - middle[0], hole.at[1] - middle[1]
        return (round(abs(x * c + y * s), 6), hole.name)

    return min(holes, key=away)


def play(hole: float, slot: float, turn: float, stud: float, way: Point2) -> float:
    """How far a stud in the middle of its hole can move one way [mm].

    In a round hole by half of what it is larger; in a slot until the stud meets its edge.

    Args:
        hole: diameter, or a slot's width [mm].
        slot: between the centres of its ends [mm].
        turn: direction of the slot [rad].
        stud: diameter [mm].
        way: any vector.
    """
    loose = max((hole - stud) / 2.0, 0.0)
    if slot <= 0.0:
        return loose
    lean = math.atan2(way[1], way[0]) - turn
    along, across = abs(math.cos(lean)), abs(math.sin(lean))
    if across * slot / 2.0 > along * loose and across > 0.0:  # it meets the straight side
        return loose / across
    half = slot / 2.0
    return half * along + math.sqrt(max(0.0, loose**2 - (half * across) ** 2))


def opened(
    holes: Sequence[PlateHole],
    row: float,
    growth: HotGrowth,
    strain: float,
    can_cut: Callable[[float], bool],
    edge_factor: float,
) -> tuple[PlateHole, ...]:
    """Stud holes of a one-piece flange, opened for hot growth as far as each needs.

    The register stud's hole is of the fine series of ISO 273; every other must leave a stud
    in its middle its growth towards the register, and the fine series' play beside that for
    the places of studs and holes. What the process can cut becomes a slot along the row; the
    rest is drilled larger, under a washer. Both in steps of 0.5 mm.

    Args:
        holes: of the studs.
        row: direction of the row of ports [rad].
        growth: temperatures and register.
        strain: how much the flange outgrows the head, of its length [-].
        can_cut: whether the process cuts a hole of this diameter to size.
        edge_factor: boss radius over hole diameter [-].

    Raises:
        ValueError: the register stud is not there.
    """
    if span_of([hole.at for hole in holes], row) < growth.span:
        return tuple(holes)
    register = register_of(holes, row, growth.register)
    return tuple(
        replace(hole, diameter=FASTENERS[hole.thread].fine, note="register")
        if hole is register
        else _opened(hole, register.at, row, strain, can_cut, edge_factor)
        for hole in holes
    )


def _opened(
    hole: PlateHole,
    register: Point2,
    row: float,
    strain: float,
    can_cut: Callable[[float], bool],
    edge_factor: float,
) -> PlateHole:
    fastener = FASTENERS[hole.thread]
    way = (register[0] - hole.at[0], register[1] - hole.at[1])
    grown = abs(strain) * math.hypot(*way)
    needed = grown + (fastener.fine - fastener.diameter) / 2.0
    if play(hole.diameter, hole.slot, hole.turn, fastener.diameter, way) >= needed - 1e-9:
        return hole
    if hole.slot > 0.0:  # as it was asked for; the check tells whether it is enough
        return hole
    said = f"opened for {grown:.2f} mm of hot growth"
    if can_cut(hole.diameter):
        for half_steps in range(1, 41):
            length = 0.5 * half_steps
            if play(hole.diameter, length, row, fastener.diameter, way) >= needed - 1e-9:
                return replace(hole, slot=length, turn=row, note=said)
    drilled = 0.5 * math.ceil(2.0 * (fastener.diameter + 2.0 * needed) - 1e-9)
    washer = "washer" if drilled <= fastener.washer_od - 4.0 else "thick washer of larger size"
    return replace(
        hole,
        diameter=drilled,
        boss=max(hole.boss, edge_factor * drilled),
        note=f"{said}, with {washer}",
    )
