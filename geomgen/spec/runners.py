"""What a spec says of the runners: tube, length, transition, places round the collector."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from geomgen.spec.names import Material
from geomgen.units import Size, StrictModel, later, parse, refusal


class Tube(StrictModel):
    """A round tube: outside diameter and wall, never gauge."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall thickness."""
    material: Material
    """Grade of the tube."""

    @property
    def bore(self) -> float:
        """Inside diameter [mm]."""
        return self.od - 2.0 * self.wall


def _blend_length(value: Any) -> Any:
    if value == "auto":
        return value
    try:
        length = parse(value, "length")
    except PydanticCustomError as error:
        if isinstance(value, str) and not any(c.isdigit() for c in value):
            raise refusal(value, "a length, or auto", "write: auto") from error
        raise
    if length <= 0.0:
        raise refusal(value, "a length above 0 mm", "write: auto, or about the tube's OD")
    return length


BlendLength = Annotated[
    float | Literal["auto"],
    BeforeValidator(_blend_length),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["auto"]},
                {"type": "number", "exclusiveMinimum": 0},
                {"type": "string", "pattern": r"^\s*[0-9.]"},
            ],
            "x-unit": "mm",
        }
    ),
]


class Transition(StrictModel):
    """The blend from the port's shape to the round tube."""

    length: BlendLength
    """Along the port's axis, from the plate's tube side to the round end: 0.7 to 1.5 times
    the tube's OD. ``auto`` takes the shortest of these, in whole mm, whose wall is nowhere
    steeper than ``limits.wall_angle``."""


_LENGTHS = "tuned, shortest, as-laid, a length in mm or with its unit, or a list of one a cylinder"


def _runner_length(value: Any) -> Any:
    if value in ("tuned", "shortest", "as-laid"):
        return value
    if isinstance(value, list | tuple):
        return tuple(_above_nothing(v) for v in value)
    if isinstance(value, dict) or value is None:
        raise refusal(value, _LENGTHS, "write: tuned")
    return _above_nothing(value)


def _above_nothing(value: Any) -> float:
    try:
        length = parse(value, "length")
    except PydanticCustomError as error:
        unit_trouble = isinstance(value, str) and any(c.isdigit() for c in value)
        if unit_trouble or isinstance(value, int | float):
            raise
        raise refusal(value, _LENGTHS, "write: tuned, or 780") from error
    if length <= 0.0:
        raise refusal(value, "a length above 0 mm", "give the length of the runner")
    return length


_ONE_LENGTH: dict[str, Any] = {
    "anyOf": [
        {"type": "number", "exclusiveMinimum": 0},
        {"type": "string", "pattern": r"^\s*[0-9.]"},
    ]
}
RunnerLength = Annotated[
    float | Literal["tuned", "shortest", "as-laid"] | tuple[float, ...],
    BeforeValidator(_runner_length),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["tuned", "shortest", "as-laid"]},
                *_ONE_LENGTH["anyOf"],
                {"type": "array", "items": _ONE_LENGTH},
            ],
            "x-unit": "mm",
        }
    ),
]


def _slot_places(value: Any) -> Any:
    if isinstance(value, dict):
        return tuple(sorted(value.items(), key=lambda row: str(row[0])))
    if isinstance(value, list | tuple) and all(isinstance(row, list | tuple) for row in value):
        return value
    raise refusal(value, "cylinders with their places, {1: 0, 4: 2}", "write {1: 0}")


_Count = Annotated[int, Field(ge=0, le=16)]
SlotPlaces = Annotated[
    tuple[tuple[_Count, _Count], ...],
    BeforeValidator(_slot_places),
    WithJsonSchema(
        {
            "type": "object",
            "patternProperties": {"^[0-9]+$": {"type": "integer", "minimum": 0, "maximum": 16}},
            "additionalProperties": False,
        }
    ),
]
"""Places of cylinders round the collector: pairs of cylinder and place."""


class Runners(StrictModel):
    """The primaries."""

    tube: Tube
    """The tube of every runner."""
    length: RunnerLength
    """``tuned`` by the rule named in ``tuned_by``, or a length, or a list of one per
    cylinder in the order of their numbers, or ``shortest``: the smallest common length that
    is found. A number always wins over a rule. ``as-laid`` for families that leave no length to
    choose: a log, open stubs."""
    length_to: Literal["entry", "first-join", "throat"] = "first-join"
    """Where the length ends: at the collector's ``entry`` face, where two neighbouring bores
    first meet, or at the ``throat``."""
    length_from: Literal["face", "valve"] = "face"
    """Where the length begins: at the gasket ``face`` (z = 0), or at the ``valve``, which
    adds ``engine.valve_to_face``."""
    tuned_by: Literal["book", "acoustic-body", "acoustic-front"] = "book"
    """The rule that ``length: tuned`` follows; ``geomgen targets`` shows them side by side."""
    tolerance: Size = 3.0
    """What a runner may be off its length as built."""
    transition: Transition
    """The blend from port to tube."""
    slots: SlotPlaces | None = later()
    """Place round the collector of any cylinder, ``{1: 0, 4: 2}``, from 0 as the reports print
    them: clockwise looking the way the gas goes. The others are free."""
