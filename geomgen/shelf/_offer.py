"""What every bend source comes down to: the bends that can be had from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from geomgen.units import Quantity, Size, StrictModel


class BendSpec(StrictModel):
    """What a spec says of every line of the shelf."""

    kind: str
    """What kind of bend source it is."""
    clr: Size
    """Centreline radius."""
    angle: Annotated[float, Field(gt=0, le=180), Quantity("angle")] = 180.0
    """Angle of the bend as it is bought."""
    od: Size | None = None
    """Outside diameter, when the shelf holds more than one; the runners' own without it."""


@dataclass(frozen=True)
class Offer:
    """Bends that can be had from one line of the shelf.

    Attributes:
        label: as it is asked for: ``CLR 67.5 U-bend 180``.
        clr: centreline radius [mm].
        angles: the only angles that can be had as they come [deg]; empty when any angle
            up to ``most`` can be had.
        most: largest angle of one bend [deg].
        legs: straight tube before and after the bend [mm].
        grip: straight that the source needs between two bends [mm].
        made: ``cut`` from a stock bend and welded, or ``bent`` in the tube itself.
        od: outside diameter of the tube, when the line is for one size only [mm].
    """

    label: str
    clr: float
    most: float
    made: Literal["cut", "bent"]
    angles: tuple[float, ...] = ()
    legs: tuple[float, float] = (0.0, 0.0)
    grip: float = 0.0
    od: float | None = None


def has(offer: Offer, clr: float, angle: float, within: float = 1e-6) -> bool:
    """Whether a bend of this radius [mm] and angle [deg] can be had from the line.

    Args:
        offer: one line of the shelf.
        clr: centreline radius wanted [mm].
        angle: bend angle wanted [deg].
        within: slack on both [mm, deg].
    """
    if abs(offer.clr - clr) > within or not 0.0 < angle <= offer.most + within:
        return False
    return not offer.angles or any(abs(angle - a) <= within for a in offer.angles)
