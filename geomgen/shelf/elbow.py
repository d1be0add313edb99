"""Weld elbows: pipe fittings without legs, of fixed angles, that may be cut shorter."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from geomgen.shelf._offer import BendSpec, Offer
from geomgen.units import Quantity, Size

KIND = "elbow"


class Spec(BendSpec):
    """One size of weld elbow. Its radius comes off its data sheet, not off its OD."""

    kind: Literal["elbow"]
    """A weld elbow, without straight legs."""
    clr: Size
    """Centreline radius; of a long-radius elbow 1.5 times its nominal size, not its OD."""
    angle: Annotated[float, Field(gt=0, le=180), Quantity("angle")] = 90.0
    """Angle of the elbow as it is bought."""
    cut: bool = True
    """Whether elbows may be cut to smaller angles."""


def offer(spec: Spec) -> Offer:
    """What can be had from this line of the shelf [mm, deg]."""
    return Offer(
        label=f"weld elbow {spec.angle:g} deg, CLR {spec.clr:g} mm",
        clr=spec.clr,
        most=spec.angle,
        made="cut",
        angles=() if spec.cut else (spec.angle,),
        od=spec.od,
    )
