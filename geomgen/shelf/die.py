"""The shop's own bender: one die, any angle up to its stop, with a straight to clamp on."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from geomgen.shelf._offer import BendSpec, Offer
from geomgen.units import Quantity, Size, Span

KIND = "die"


class Spec(BendSpec):
    """One die of the shop's own bender; runners are bent in one piece."""

    kind: Literal["die"]
    """A die of a mandrel bender."""
    angle: Annotated[float, Field(gt=0, le=180), Quantity("angle")] = 180.0
    """Largest angle that the bender reaches."""
    grip: Span
    """Straight that the clamp needs between two bends; usually 1.5 to 2 times the OD."""
    od: Size | None = None
    """Outside diameter that the die takes; the runners' own without it."""


def offer(spec: Spec) -> Offer:
    """What can be had from this die [mm, deg]."""
    return Offer(
        label=f"die CLR {spec.clr:g} mm, up to {spec.angle:g} deg",
        clr=spec.clr,
        most=spec.angle,
        made="bent",
        grip=spec.grip,
        od=spec.od,
    )
