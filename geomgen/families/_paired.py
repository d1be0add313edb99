"""What a spec may say of pairs, and what they come to: merges, secondaries, areas, numbers."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from geomgen.families import AreaAt, TubeSize
from geomgen.families._merging import Merged
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Vec, add, scale
from geomgen.names import Material
from geomgen.units import Angle, Direction, Point, Quantity, Size, Span, StrictModel, parse

Whole = Annotated[int, Field(strict=True, ge=1, le=16)]


def _room(value: Any) -> Any:
    return value if isinstance(value, list | tuple) else (value, value, value)


Room = Annotated[
    tuple[Span, Span, Span],
    BeforeValidator(_room),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": ["number", "string"], "minimum": 0},
                {
                    "type": "array",
                    "items": {"type": ["number", "string"], "minimum": 0},
                    "minItems": 3,
                    "maxItems": 3,
                },
            ],
            "x-unit": "mm",
        }
    ),
]
"""How far something may stand from its middle: one length for all three axes, or one each."""


def _secondary_length(value: Any) -> Any:
    return value if value == "tuned" else parse(value, "length")


SecondaryLength = Annotated[
    Annotated[float, Field(gt=0)] | Literal["tuned"],
    BeforeValidator(_secondary_length),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["tuned"]},
                {"type": "number", "exclusiveMinimum": 0},
                {"type": "string", "pattern": r"^\s*[0-9.]"},
            ],
            "x-unit": "mm",
        }
    ),
]


class FirstMerge(StrictModel):
    """The merge of one pair, as far as its place is not left to the router."""

    at: Point | None = None
    """Middle of the room that its axis at the entry face may be in; between the pair's ports
    and the last merge without it."""
    direction: Direction | None = None
    """About the way the gas goes along its axis; from the ports towards the last merge without
    it."""
    roll: Angle | None = None
    """Clocking of its two tubes about the axis, clockwise looking the way the gas goes; at 0 they
    lie side by side, level. Free without it."""
    room: Room | None = None
    """How far it may stand from ``at``: one length, or one along each of x, y and z. 0 fixes it
    where it is said, roll and all. 80 without it, and 200 where nothing is found in that."""
    lean: Annotated[float, Field(ge=0, le=90), Quantity("angle")] | None = None
    """How far its axis may lean from ``direction``; 25 without it, and 50 where nothing is
    found in that; 0 where ``room`` is 0."""


class Secondary(StrictModel):
    """The tubes between the pairs' merges and the last one."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall thickness."""
    length: SecondaryLength
    """From the first join of a pair's merge to the last merge's, or to whichever end
    ``runners.length_to`` names there. ``tuned`` by the book: what it gives for a 4-1 primary,
    less the 15 in that it gives the primaries of a 4-2-1."""
    material: Material | None = None
    """Grade; that of the primaries without it."""


def middle_of(points: list[Vec]) -> Vec:
    """Mean of some points [mm]."""
    total = (0.0, 0.0, 0.0)
    for point in points:
        total = add(total, point)
    return scale(total, 1.0 / len(points))


def on_parabola(a: Vec, b: Vec, c: Vec, t: float) -> Vec:
    """Point of the parabola from a towards b and on to c, at t from 0 to 1 [mm]."""
    return add(
        add(scale(a, (1.0 - t) ** 2), scale(b, 2.0 * t * (1.0 - t))),
        scale(c, t * t),
    )


def areas(first: Merged, last: Merged, length: float, tail: float, word: str) -> tuple[AreaAt, ...]:
    """From a primary's slot to the outlet, along one pair's gas."""
    join = dict(first.ends)["first-join"]
    # The secondary's length ends at the first join of the last merge.
    at_last = join + length - dict(last.ends)["first-join"]
    pair = tuple(
        replace(row, what=f"{word} {'secondary' if row.what == 'outlet' else row.what}")
        for row in first.stations
    )
    rest = tuple(replace(row, station=at_last + row.station) for row in last.stations)
    end = at_last + last.length + tail
    return (*pair, *rest, AreaAt(end, last.stations[-1].area, "outlet end"))


def facts(
    first: Merged,
    last: Merged,
    tube: TubeSize,
    length: float,
    outlet: Centreline,
    size: TubeSize,
) -> tuple[tuple[str, float], ...]:
    """Numbers of the last merge, a secondary and the outlet, by name with unit suffix."""
    joined = length - first.behind_join() - dict(last.ends)["first-join"]
    bore = math.pi * tube.inner_radius**2
    tail = math.pi * size.inner_radius**2 * outlet.length
    return (
        *last.facts,
        ("secondary_length_mm", length),
        ("secondary_tube_mm", joined),
        ("secondary_volume_cc", bore * joined / 1000.0),
        ("collector_length_mm", last.length + outlet.length),
        ("outlet_length_mm", outlet.length),
        ("outlet_volume_cc", tail / 1000.0),
        ("collector_volume_cc", (last.volume + tail) / 1000.0),
        ("outlet_bend_deg", math.degrees(outlet.total_angle)),
    )
