"""Sizes of pipe and single bends, as families without a routed end say them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

from pydantic import Field, model_validator

from geomgen.families import DoesNotFit, TubeSize
from geomgen.geometry.centreline import Bend
from geomgen.geometry.frames import Frame, Vec, angle_between, dot, scale, sub, unit
from geomgen.shelf.elbow import PIPES, Nps
from geomgen.units import Direction, Size, StrictModel, later, parse, refusal

MOST_TURN = math.radians(175.0)
"""Of a single bend."""

_WAYS = ("od", "bore", "nps", "dn")

SIZED_BY = (*_WAYS, "wall")
"""Keys that say a pipe's size."""


class PipeSize(StrictModel):
    """A round tube or pipe: its wall, and one of OD, bore, or nominal size."""

    od: Size = Field(default_factory=lambda: 1.0)
    """Outside diameter; follows from ``bore``, ``nps`` or ``dn``."""
    wall: Size
    """Wall thickness."""
    bore: Size | None = later()
    """Inside diameter, in place of the OD: as castings are measured."""
    nps: Nps | None = later()
    """Nominal size in inches, of ASME B36.10M: gives the OD, not the wall."""
    dn: Literal[15, 20, 25, 32, 40, 50, 65, 80, 90, 100] | None = later()
    """The same as DN: 40 is 1-1/2. ASME's: DN 65 is 73.0 OD, not 76.1."""

    @model_validator(mode="before")
    @classmethod
    def _sized(cls, said: Any) -> Any:
        """Outside diameter from whatever the size is said by."""
        if not isinstance(said, dict):
            return said
        given = [key for key in _WAYS if said.get(key) is not None]
        if not given:
            raise refusal("no size", "one of od, bore, nps or dn", "add od: 60.3")
        od = _outside(said)
        if od is None:
            return said
        return {"od": od, **{key: value for key, value in said.items() if value is not None}}

    @model_validator(mode="after")
    def _agrees(self) -> PipeSize:
        wanted = _outside({key: getattr(self, key) for key in ("bore", "nps", "dn", "wall")})
        if wanted is not None and abs(wanted - self.od) > 1e-6:
            raise refusal(f"od {self.od:g}", f"od {wanted:g}, or none", "say the size once")
        if self.wall >= self.od / 2.0:
            raise refusal(
                f"a wall of {self.wall:g} in an OD of {self.od:g}",
                "a wall of less than half the OD",
                "give the wall, not the bore",
            )
        return self

    @property
    def size(self) -> TubeSize:
        """Its radii [mm]."""
        return TubeSize(self.od / 2.0, self.od / 2.0 - self.wall)


def _outside(said: dict[str, Any]) -> float | None:
    """Outside diameter by bore and wall, or by nominal size [mm]; None when neither says it."""
    if said.get("bore") is not None:
        if said.get("wall") is None:
            return None
        return parse(said["bore"], "length") + 2.0 * parse(said["wall"], "length")
    for nps, (dn, inches, od) in PIPES.items():
        size = said.get("nps")
        text = str(size).strip().removesuffix("in").strip().replace(" ", "-")
        if size is not None and text in (nps, f"{inches:g}", f"{inches}"):
            return od
        if size is None and said.get("dn") == dn:
            return od
    return None


class TurnBend(StrictModel):
    """A bend that turns a tube into a wanted direction."""

    clr: Size
    """Centreline radius."""
    toward: Direction
    """Direction of the gas after the bend; its angle follows from the two directions."""


def bend_toward(
    start: Frame, clr: float, toward: Vec, radius: float, key: tuple[str | int, ...]
) -> Bend | None:
    """The bend that turns a path into a direction; None when it goes there already.

    Args:
        start: end of the path so far.
        clr: centreline radius [mm].
        toward: direction behind the bend.
        radius: outside of the tube [mm].
        key: of the bend in the spec, for messages.

    Raises:
        DoesNotFit: the turn is too much for one bend, or the bend too tight for the tube.
    """
    if clr <= radius:
        raise DoesNotFit(
            (*key, "clr"),
            f"CLR {clr:g} mm for a tube of {2.0 * radius:g} mm OD",
            f"more than half the OD, {radius:g} mm",
            "give the radius of the bend's centreline; tight bends have 1 x OD",
        )
    way = unit(toward)
    angle = angle_between(start.z, way)
    if angle > MOST_TURN:
        raise DoesNotFit(
            (*key, "toward"),
            f"a turn of {math.degrees(angle):.0f} deg",
            f"at most {math.degrees(MOST_TURN):.0f} deg",
            "turn it less",
        )
    if angle < 1e-9:
        return None
    aside = sub(way, scale(start.z, dot(way, start.z)))
    return Bend(clr, angle, math.atan2(dot(aside, start.y), dot(aside, start.x)))


def each_is_one(named: Sequence[int], cylinders: Sequence[int]) -> None:
    """See that what is said of single stubs is said of stubs that there are, once.

    Args:
        named: cylinders that ``collector.each`` names, in its order.
        cylinders: of the manifold.

    Raises:
        DoesNotFit: a cylinder is not the manifold's, or is named twice.
    """
    for i, number in enumerate(named):
        if number in cylinders and number not in named[:i]:
            continue
        again = number in cylinders
        raise DoesNotFit(
            ("collector", "each", str(i), "cylinder"),
            f"cylinder {number}{' for the second time' if again else ''}",
            f"cylinders of {list(cylinders)}, each once",
            "take one of the two out" if again else "correct the number, or take it out",
        )
