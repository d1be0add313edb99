"""Quantities as people write them, and the field types that read them.

A bare number means the trade's unit for its kind (mm, degrees, degC, bar, cc, rpm);
text may carry a unit, and inches may be fractions (``1-3/4 in``). Reading text into bare
units happens here, when the spec is read; bare units become internal ones (radians, SI)
in ``geomgen.design`` and nowhere else.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

if TYPE_CHECKING:
    import pint

MM_PER_INCH = 25.4

BARE_UNITS = {
    "length": "mm",
    "angle": "deg",
    "temperature": "degC",
    "pressure": "bar",
    "volume": "cc",
    "speed": "rpm",
    "number": "",
    "percent": "%",
}
"""Kind of quantity and the unit that a bare number has."""

_BAR_PER_PSI = 4.4482216152605 / (MM_PER_INCH / 1000.0) ** 2 / 1e5
"""Pound-force over square inch, both exact by definition."""

UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "length": {
        "mm": (1.0, 0.0),
        "cm": (10.0, 0.0),
        "m": (1000.0, 0.0),
        "in": (MM_PER_INCH, 0.0),
        "inch": (MM_PER_INCH, 0.0),
        "inches": (MM_PER_INCH, 0.0),
        '"': (MM_PER_INCH, 0.0),
        "thou": (MM_PER_INCH / 1000.0, 0.0),
        "ft": (12.0 * MM_PER_INCH, 0.0),
    },
    "angle": {
        "deg": (1.0, 0.0),
        "degree": (1.0, 0.0),
        "degrees": (1.0, 0.0),
        "°": (1.0, 0.0),
        "rad": (180.0 / math.pi, 0.0),
        "arcmin": (1.0 / 60.0, 0.0),
        "turn": (360.0, 0.0),
    },
    "temperature": {
        "degC": (1.0, 0.0),
        "°C": (1.0, 0.0),
        "K": (1.0, -273.15),
        "degF": (5.0 / 9.0, -160.0 / 9.0),
        "°F": (5.0 / 9.0, -160.0 / 9.0),
    },
    "pressure": {
        "bar": (1.0, 0.0),
        "mbar": (1e-3, 0.0),
        "Pa": (1e-5, 0.0),
        "kPa": (1e-2, 0.0),
        "MPa": (10.0, 0.0),
        "psi": (_BAR_PER_PSI, 0.0),
        "atm": (1.01325, 0.0),
    },
    "volume": {
        "cc": (1.0, 0.0),
        "cm3": (1.0, 0.0),
        "ml": (1.0, 0.0),
        "mm3": (1e-3, 0.0),
        "l": (1000.0, 0.0),
        "L": (1000.0, 0.0),
        "litre": (1000.0, 0.0),
        "in3": (16.387064, 0.0),
        "cu in": (16.387064, 0.0),
    },
    "speed": {
        "rpm": (1.0, 0.0),
        "rev/min": (1.0, 0.0),
        "rps": (60.0, 0.0),
        "rev/s": (60.0, 0.0),
        "rad/s": (30.0 / math.pi, 0.0),
    },
    "number": {},
    "percent": {"%": (1.0, 0.0), "percent": (1.0, 0.0)},
}
"""Factor and offset to the bare unit, by kind and unit: the units that need no library.

For angles and speeds the table is the whole list: a units library calls both
dimensionless and would take ``5 percent`` for an angle and 1 Hz for 9.55 rpm.
"""

_JSON_BOUND = {
    "gt": "exclusiveMinimum",
    "ge": "minimum",
    "lt": "exclusiveMaximum",
    "le": "maximum",
}
_FROM_LIBRARY = ("length", "temperature", "pressure", "volume")
_DECIMAL = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_FRACTION = r"[-+]?(?:[0-9]+(?:-|\s+))?[0-9]+/[0-9]+"
_TEXT = re.compile(rf"\s*({_FRACTION}|{_DECIMAL})\s*(|\S.*)")
_GAUGE = re.compile(r"(ga|gauge|swg|bwg|awg)\.?", re.IGNORECASE)
_LONGEST = 60

TEXT_PATTERN = (
    rf"^\s*({_FRACTION}|{_DECIMAL})(?!\s*(ga|gauge|swg|bwg|awg)\b)\s*[A-Za-z°µ\"%/ ]*[0-9]?\s*$"
)
"""Pattern of a quantity as text, for editors: any unit but gauge."""


class StrictModel(BaseModel):
    """Base of everything a spec may say: frozen, no unknown keys, no inf or nan.

    The text under a field is its entry in the spec reference and the schema. Validators
    are built on first use: a command that reads one spec builds them once.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


def later() -> Any:
    """The default of a key that came later: nothing, and left out of what a spec says.

    Locks are kept by a hash of what a spec says; one made before the key was known must
    outlive its coming where it is not used.
    """
    return Field(default=None, exclude_if=lambda value: value is None)


def in_degrees(radians: float) -> float:
    """An angle as it is printed [deg]."""
    return math.degrees(radians)


def parse(value: Any, kind: str) -> float:
    """A number or a text with a unit, as a float in the bare unit of ``kind``.

    Raises:
        PydanticCustomError: type ``quantity`` with ``found``, ``allowed``, ``remedy``.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise refusal(value, _wanted(kind), _how(kind))
    if isinstance(value, int | float):
        return _finite(_as_float(value), value, kind)
    match = _TEXT.fullmatch(value) if len(value) <= _LONGEST else None
    if match is None or match.group(2).startswith(","):
        comma = re.match(r"\s*[-+]?[0-9]*,[0-9]", value) is not None
        raise refusal(value, _wanted(kind), "write a decimal point" if comma else _how(kind))
    digits, unit = match.group(1), match.group(2).rstrip()
    if _GAUGE.fullmatch(unit):
        raise refusal(
            value,
            _wanted(kind),
            "gauge means different walls for tube and for sheet: write the wall in mm or inch",
        )
    if "/" in digits and not unit:
        raise refusal(value, _wanted(kind), 'say the unit of a fraction: 1-3/4 in, 3/8 "')
    return _finite(_converted(value, _amount(digits, value, kind), unit, kind), value, kind)


def _as_float(value: float | str) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _amount(digits: str, value: str, kind: str) -> float:
    """``1-3/4``, ``3/8`` or a decimal, as a float."""
    if "/" not in digits:
        return float(digits)
    top, bottom = digits.split("/")
    *whole, numerator = re.split(r"(?<=[0-9])[-\s]+", top)
    if int(bottom) == 0:
        raise refusal(value, _wanted(kind), "a fraction cannot have 0 below the line")
    if not whole:
        return int(numerator) / int(bottom)
    sign = -1.0 if whole[0].startswith("-") else 1.0
    return sign * (abs(int(whole[0])) + int(numerator) / int(bottom))


def _converted(value: str, number: float, unit: str, kind: str) -> float:
    if not unit:
        return number
    known = UNITS[kind].get(unit)
    if known is not None:
        factor, offset = known
        return number * factor + offset
    if kind not in _FROM_LIBRARY or re.fullmatch(r"(?!delta_)[A-Za-zµ_]{1,24}", unit) is None:
        raise refusal(value, _wanted(kind), _how(kind))
    import pint

    try:
        return float(_registry().Quantity(number, unit).to(BARE_UNITS[kind]).magnitude)
    except (pint.PintError, ArithmeticError, TypeError, ValueError, AttributeError, KeyError):
        raise refusal(value, _wanted(kind), _how(kind)) from None


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def _finite(number: float, value: Any, kind: str) -> float:
    if not math.isfinite(number):
        raise refusal(value, f"a finite {_wanted(kind)[2:]}", "write a finite number")
    return number


def _wanted(kind: str) -> str:
    others = [unit for unit in UNITS[kind] if unit != BARE_UNITS[kind]]
    if kind == "number":
        return "a plain number"
    return f"a {kind} in {BARE_UNITS[kind]}, or with its unit ({', '.join(others)})"


def _how(kind: str) -> str:
    if kind == "number":
        return "write a number without a unit: 1.5"
    return f"write a number, or one with its unit: 10 {BARE_UNITS[kind]}"


def refusal(value: Any, allowed: str, remedy: str) -> PydanticCustomError:
    """The error that field types raise, in words for the person who wrote the spec."""
    return PydanticCustomError(
        "quantity",
        "{allowed}; {remedy}",
        {"found": repr(value)[:80], "allowed": allowed, "remedy": remedy},
    )


@dataclass(frozen=True)
class Quantity:
    """Annotation: read the field with :func:`parse`, in the bare unit of ``kind``."""

    kind: str

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Parse first, then whatever bounds the annotation has."""
        return core_schema.no_info_before_validator_function(
            lambda value: parse(value, self.kind), handler(source)
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """A number, or a number as text with its unit."""
        number = {_JSON_BOUND.get(key, key): value for key, value in handler(schema).items()}
        if self.kind == "number":
            return number
        text = {"type": "string", "pattern": TEXT_PATTERN}
        return {"anyOf": [number, text], "x-unit": BARE_UNITS[self.kind]}


Length = Annotated[float, Quantity("length")]
"""A length [mm]."""
Span = Annotated[float, Field(ge=0), Quantity("length")]
"""A length that may be nothing but not less [mm]."""
Size = Annotated[float, Field(gt=0), Quantity("length")]
"""A length of something that is there [mm]."""
Angle = Annotated[float, Quantity("angle")]
"""An angle [deg]."""
Temperature = Annotated[float, Quantity("temperature")]
"""A temperature [degC]."""
Pressure = Annotated[float, Quantity("pressure")]
"""A pressure [bar]."""
Volume = Annotated[float, Quantity("volume")]
"""A volume [cc]."""
Speed = Annotated[float, Quantity("speed")]
"""A rotational speed [rpm]."""
Number = Annotated[float, Quantity("number")]
"""A plain number [-]."""
Percent = Annotated[float, Quantity("percent")]
"""A share [%]."""


def _vector(count: int, what: str, example: str) -> BeforeValidator:
    """Refuse anything but ``count`` things in a list, in one sentence."""

    def check(value: Any) -> Any:
        if not isinstance(value, list | tuple) or len(value) != count:
            raise refusal(value, what, f"write it as {example}")
        return value

    return BeforeValidator(check)


def _not_zero(value: tuple[float, ...]) -> tuple[float, ...]:
    if not 1e-9 < math.hypot(*value) < 1e9:  # beyond that its square is no number
        allowed = "a direction of any length but zero, up to 1e9"
        raise refusal(list(value), allowed, "say which way it points")
    return value


Point = Annotated[
    tuple[Length, Length, Length],
    _vector(
        3,
        "a point of three lengths",
        "[x, y, z], or by tape: {tape: {studs: {1a: 412, 2b: 380, 4b: 505}, side: out}}",
    ),
]
"""``[x, y, z]`` [mm]."""
FacePoint = Annotated[tuple[Length, Length], _vector(2, "a place of two lengths", "[x, y]")]
"""``[x, y]`` seen from the tube side [mm]."""
Direction = Annotated[
    tuple[Number, Number, Number],
    AfterValidator(_not_zero),
    _vector(3, "a direction of three numbers", "[x, y, z]"),
]
"""``[x, y, z]`` of any length [-]."""
