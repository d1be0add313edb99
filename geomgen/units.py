"""Quantities as people write them, and the field types that read them.

A bare number means the trade's unit for its kind (mm, degrees, degC, bar, cc, rpm);
text may carry a unit. Reading text into bare units happens here, when the spec is read;
bare units become internal ones (radians, SI) in ``geomgen.design`` and nowhere else.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict
from pydantic_core import PydanticCustomError

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
}
"""Kind of quantity and the unit that a bare number has."""

_TEXT = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")


class StrictModel(BaseModel):
    """Base of everything a spec may say: frozen, no unknown keys, no inf or nan."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True
    )


def parse(value: Any, kind: str) -> float:
    """A number or a text with a unit, as a float in the bare unit of ``kind``.

    Raises:
        PydanticCustomError: type ``quantity`` with ``found``, ``allowed``, ``remedy``.
    """
    bare = BARE_UNITS[kind]
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise _refusal(
            value, f"a {kind} in {bare}", f"write a number, or one with its unit: 10 {bare}"
        )
    if isinstance(value, int | float):
        number = float(value)
        if not math.isfinite(number):
            raise _refusal(value, f"a finite {kind} in {bare}", "write a finite number")
        return number
    match = _TEXT.match(value)
    if match is None:
        raise _refusal(
            value, f"a {kind} in {bare}", f"write a number, or one with its unit: 10 {bare}"
        )
    number, unit = float(match.group(1)), match.group(2)
    if unit in ("", bare):
        return number
    if re.fullmatch(r"(ga|gauge|swg|bwg|awg)\.?", unit, re.IGNORECASE):
        raise _refusal(
            value,
            f"a {kind} in {bare} or another unit of {kind}",
            "gauge means different walls for tube and for sheet: write the wall in mm or inch",
        )
    return _converted(value, number, unit, kind)


def _converted(value: str, number: float, unit: str, kind: str) -> float:
    import pint

    bare = BARE_UNITS[kind]
    registry = _registry()
    try:
        result = float(registry.Quantity(number, unit).to(bare).magnitude)
    except (pint.PintError, TypeError, ValueError, AttributeError, KeyError):
        raise _refusal(
            value, f"a {kind} in {bare} or another unit of {kind}", f"write it in {bare}"
        ) from None
    if not math.isfinite(result):
        raise _refusal(value, f"a finite {kind} in {bare}", "write a finite number")
    return result


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def _refusal(value: Any, allowed: str, remedy: str) -> PydanticCustomError:
    return PydanticCustomError(
        "quantity",
        "{allowed}; {remedy}",
        {"found": repr(value), "allowed": allowed, "remedy": remedy},
    )


def _reader(kind: str) -> BeforeValidator:
    return BeforeValidator(lambda value: parse(value, kind))


Length = Annotated[float, _reader("length")]
"""A length [mm]."""
Angle = Annotated[float, _reader("angle")]
"""An angle [deg]."""
Temperature = Annotated[float, _reader("temperature")]
"""A temperature [degC]."""
Pressure = Annotated[float, _reader("pressure")]
"""A pressure [bar]."""
Volume = Annotated[float, _reader("volume")]
"""A volume [cc]."""
Speed = Annotated[float, _reader("speed")]
"""A rotational speed [rpm]."""
