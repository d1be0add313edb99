"""The whole spec: one YAML file, one manifold. What the user said, in bare units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from geomgen.spec.bench import Bench, Pin
from geomgen.spec.engine import Engine, Head
from geomgen.spec.kinds import tagged
from geomgen.spec.limits import Limits
from geomgen.spec.obstacles import Obstacle
from geomgen.spec.tools import Tool
from geomgen.units import Direction, Quantity, Size, Span, StrictModel, later, parse, refusal

FORMAT = 1
"""The format of spec that this version reads and writes."""


@dataclass(frozen=True)
class _NumberAsText:
    """Names that happen to be whole numbers (``304``, ``1``) are names all the same."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_before_validator_function(
            lambda v: str(v) if isinstance(v, int) and not isinstance(v, bool) else v,
            handler(source),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"anyOf": [handler(schema), {"type": "integer"}]}


Name = Annotated[str, Field(min_length=1, max_length=60), _NumberAsText()]
"""A name or a short text."""
Material = Annotated[
    str,
    Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./+-]*$", max_length=40),
    _NumberAsText(),
]
"""A standard grade: 304, 321, 1.4541, Gr 2 Ti."""


class Flange(StrictModel):
    """The head flange."""

    thickness: Size
    """Plate as finished."""
    material: Material
    """Grade of the plate."""
    process: Literal["plasma", "laser", "waterjet"]
    """How it is cut; decides which holes are cut and which are marked and drilled."""
    window: Literal["socket", "butt"] = "socket"
    """``socket``: the formed tube goes into the plate, window = port shape + wall + fit.
    ``butt``: the window is the port and the tube stands on the plate's face."""
    fit: Span = 0.3
    """Tube to window, over both sides: 0.2 to 0.4."""
    set_back: Span = 2.0
    """Tube's end to the gasket face: room for the inside bead."""
    land: Size = 8.0
    """Metal left round every window."""
    hole_class: Literal["fine", "medium", "coarse"] = "medium"
    """Clearance holes for the studs, ISO 273."""


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


class Transition(StrictModel):
    """The blend from the port's shape to the round tube."""

    length: Size
    """Along the port's axis, from the plate's tube side to the round end: 0.7 to 1.5 times
    the tube's OD."""


_LENGTHS = "tuned, shortest, a length in mm or with its unit, or a list of one per cylinder"


def _runner_length(value: Any) -> Any:
    if value in ("tuned", "shortest"):
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
    float | Literal["tuned", "shortest"] | tuple[float, ...],
    BeforeValidator(_runner_length),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["tuned", "shortest"]},
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
    is found. A number always wins over a rule."""
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


if TYPE_CHECKING:
    from geomgen.shelf._offer import BendSpec as BendSource

    Collector = Any
else:
    BendSource = tagged("geomgen.shelf", "kind", default="bend")
    Collector = tagged("geomgen.families", "family")


class Shelf(StrictModel):
    """What bends there are, and how they may be joined."""

    bends: Annotated[tuple[BendSource, ...], Field(min_length=1)]
    """The bends that may be used, best liked first."""
    min_straight: Span = 0.0
    """Least straight between two bends; 0 welds bend to bend. A die's grip is kept as well."""
    min_straight_at_flange: Span = 10.0
    """Least straight behind the transition: weld access. A die's grip is kept as well."""
    min_straight_at_collector: Span = 0.0
    """Least straight before the collector; into a slip joint the overlap, 25 to 50. A die's
    grip is kept as well."""
    min_angle: Annotated[float, Field(ge=0, lt=180), Quantity("angle")] = 8.0
    """Least bend worth cutting: shallower ones cannot be measured well."""
    saw_kerf: Span = 2.0
    """Width of a saw cut: bandsaw 1 to 1.5, cold saw 2 to 2.5, abrasive 2 to 3."""
    most_bends: Annotated[int, Field(strict=True, ge=2, le=12)] | None = later()
    """Most bends in one runner: at least 2, for one leaves the port's axis and one meets the
    collector's. As many as it takes without it."""
    angle_step: Annotated[float, Field(gt=0, le=90), Quantity("angle")] | None = later()
    """Every bend's angle is a whole multiple of it; straights and rolls take up the rest, so
    it needs three bends or more. Any angle without it."""


class Waiver(StrictModel):
    """A check that may fail, and why."""

    check: Name
    """Name of the check or proof: ``runner-gap``."""
    subject: Name | None = None
    """Only for this subject; for every subject without it."""
    reason: Annotated[str, Field(min_length=1, max_length=300)]
    """Why it is all right; printed everywhere."""


class HeaderSpec(StrictModel):
    """One manifold."""

    format: Literal[1]
    """Format of the spec."""
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9_-]*$", max_length=60)]
    """Name of the manifold and of its folder: small letters, digits, - and _."""
    revision: Name = "A"
    """Revision, printed on everything a shop reads."""
    title: Annotated[str, Field(max_length=120)] = ""
    """One line for the head of every sheet."""
    engine: Engine
    """The engine."""
    heads: Annotated[tuple[Head, ...], Field(min_length=1)]
    """The heads, each with its ports, studs and gasket."""
    flange: Flange
    """The head flange."""
    runners: Runners
    """The primaries."""
    shelf: Shelf
    """The bends there are."""
    collector: Collector
    """The family of manifold, and where it stands."""
    tools: tuple[Tool, ...] = ()
    """Tools for the studs' nuts: every stud must be reached by one of them. That every nut
    can be put on its stud is asked for without any too."""
    obstacles: tuple[Obstacle, ...] = ()
    """What is in the way."""
    vertical: Direction = (0.0, 1.0, 0.0)
    """Which way is up, in the head frame."""
    limits: Limits = Limits.model_construct()
    """Limits that are not the trade's defaults."""
    waive: tuple[Waiver, ...] = ()
    """Checks that may fail, each with its reason."""
    pins: Annotated[tuple[Pin, ...], Field(max_length=200)] = ()
    """Parts of the layout in the lock that stay where they are while the rest is solved anew."""
    bench: tuple[Bench, ...] = ()
    """What is tacked on the bench already; the rest of each runner is solved anew behind it."""
