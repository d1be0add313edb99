"""Stock mandrel bends: U, J, 90 and 45 degree bends with straight legs, cut to the angle wanted."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from geomgen.shelf._offer import BendSpec, Offer
from geomgen.units import Quantity, Size, Span

KIND = "bend"

_FORMS = {180.0: "U-bend", 90.0: "90 bend", 45.0: "45 bend"}


class Spec(BendSpec):
    """One size of stock bend on the shelf; any smaller angle is cut from it."""

    kind: Literal["bend"] = "bend"
    """A stock mandrel bend, cut to the angle wanted and welded."""
    angle: Annotated[float, Field(gt=0, le=180), Quantity("angle")]
    """Angle of the bend as it is bought: 180 for a U-bend."""
    leg: Span = 0.0
    """Straight tube at each end."""
    long_leg: Size | None = None
    """Straight tube at the long end of a J-bend; both ends are ``leg`` without it."""


def offer(spec: Spec) -> Offer:
    """What can be had from this line of the shelf [mm, deg]."""
    form = "J-bend" if spec.long_leg is not None else _FORMS.get(spec.angle, "bend")
    return Offer(
        label=f"{form} {spec.angle:g} deg, CLR {spec.clr:g} mm",
        clr=spec.clr,
        most=spec.angle,
        made="cut",
        legs=(spec.leg, spec.leg if spec.long_leg is None else spec.long_leg),
        od=spec.od,
    )
