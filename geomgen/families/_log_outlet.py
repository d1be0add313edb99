"""What a spec says of a log's outlet."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from geomgen.families._pipes import SIZED_BY, PipeSize, TurnBend
from geomgen.names import Material
from geomgen.units import Direction, Size, Span, later, parse, refusal

_ENDS = ("start", "end")
_HOW = "start, end, a share of the log from 0 to 1, or more mm from its first end"


def _place(value: Any) -> Any:
    if value in _ENDS:
        return value
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise refusal(value, _HOW, "write 0.5")
    place = parse(value, "length")
    if place < 0.0:
        raise refusal(value, _HOW, "count from the log's first end")
    return place


OutletPlace = Annotated[
    float | Literal["start", "end"],
    BeforeValidator(_place),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["start", "end"]},
                {"type": "number", "minimum": 0},
                {"type": "string", "pattern": r"^\s*[0-9.]"},
            ]
        }
    ),
]


class Outlet(PipeSize):
    """The tube that takes the gas from the log."""

    wall: Size = Field(default_factory=lambda: 1.0)
    """Wall thickness; the log's at its own end."""
    at: OutletPlace = 0.5
    """Where along the log: a share of its length from 0 to 1, or more than 1: mm, counted from
    its first end. ``start`` and ``end``: the log's own end is the outlet, which then has the
    log's size; say none."""
    direction: Direction | None = later()
    """The way the gas leaves the log; of the log's own ends it follows."""
    length: Span = 40.0
    """Straight from the log's outside, along its centreline, or from the log's end."""
    bend: TurnBend | None = later()
    """Turns it behind that."""
    tail: Span = 0.0
    """Straight behind the bend."""
    end: Literal["plain"] = "plain"
    """How it ends."""
    material: Material | None = later()
    """Grade; that of the runners without it."""

    @model_validator(mode="before")
    @classmethod
    def _walled(cls, said: Any) -> Any:
        if isinstance(said, dict) and said.get("wall") is None and said.get("at") not in _ENDS:
            raise refusal("no wall", "its wall", "add wall: 2")
        return said


def with_own_end(said: Any) -> Any:
    """A log as said, its outlet of the log's size where that is the log's own end.

    What the outlet says of its size itself stays.
    """
    if not isinstance(said, dict):
        return said
    tube, outlet = said.get("tube"), said.get("outlet")
    if not isinstance(tube, dict) or not isinstance(outlet, dict) or outlet.get("at") not in _ENDS:
        return said
    sized = any(outlet.get(key) is not None for key in SIZED_BY if key != "wall")
    taken = ("wall",) if sized else SIZED_BY
    size = {key: tube[key] for key in taken if key in tube and outlet.get(key) is None}
    return {**said, "outlet": {**outlet, **size}}
