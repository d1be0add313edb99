"""Where the ports of a head sit: the keys that every port shape shares."""

from __future__ import annotations

import math
from typing import Annotated, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from geomgen.units import Length, StrictModel

Size = Annotated[Length, Field(gt=0)]
"""A length above nothing [mm]."""

Place = Annotated[tuple[Length, ...], Field(min_length=2, max_length=3)]
"""``[x, y]`` on the gasket face, or ``[x, y, z]`` [mm]."""

Direction = tuple[float, float, float]
"""``[x, y, z]`` of any length, the way the gas leaves."""


class PortPlacement(StrictModel):
    """Position keys of a port pattern, beside the keys of its shape."""

    pitch: Length | None = None
    """From one port's centre to the next along x; negative when cylinder 1 is on the right."""
    at: tuple[Place, ...] | None = None
    """Port centres by cylinder, in place of a pitch."""
    directions: tuple[Direction, ...] | None = None
    """Port axes by cylinder, the way the gas leaves; straight out of the face when left out.
    The shape of a port that leans is that of its section square to its axis."""

    @model_validator(mode="after")
    def _one_way_of_placing(self) -> Self:
        if self.pitch is not None and self.at is not None:
            raise refusal("both pitch and at", "one of the two", "take one of them out")
        if self.pitch == 0:
            raise refusal("pitch 0", "a pitch other than 0", "give the distance between ports")
        for i, direction in enumerate(self.directions or ()):
            if not 1e-9 < math.hypot(*direction) < 1e9 or direction[2] <= 0.0:
                raise refusal(
                    f"direction {list(direction)} for cylinder {i + 1}",
                    "a direction with z above 0: z points out of the head",
                    "turn it so that it leaves the head",
                )
        return self


def refusal(found: str, allowed: str, remedy: str) -> PydanticCustomError:
    """An error about dimensions that contradict each other."""
    return PydanticCustomError(
        "contradiction",
        "{allowed}; {remedy}",
        {"found": found, "allowed": allowed, "remedy": remedy},
    )
