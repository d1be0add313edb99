"""Rectangular port with rounded corners."""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import model_validator

from geomgen.ports._placement import PortPlacement, Size, refusal
from geomgen.profiles.loops import Arc, Line, Loop, Segment

KIND = "rectangle"

_QUARTER = math.pi / 2.0


class Spec(PortPlacement):
    """Rectangular ports of one head."""

    shape: Literal["rectangle"]
    """Shape of the ports."""
    width: Size
    """Over all, along the row of ports."""
    height: Size
    """Over all, up the head."""
    corner_radius: Size | None = None
    """Radius of all four corners."""
    corner_radii: tuple[Size, Size, Size, Size] | None = None
    """Radii one by one: right top, left top, left foot, right foot, from the tube side."""

    @model_validator(mode="after")
    def _corners_fit(self) -> Self:
        if (self.corner_radius is None) == (self.corner_radii is None):
            found = "neither" if self.corner_radius is None else "both"
            raise refusal(
                f"{found} of corner_radius and corner_radii",
                "one of the two",
                "give corner_radius for four equal corners",
            )
        r = radii(self)
        sides = (
            (self.width, r[0] + r[1]),
            (self.height, r[1] + r[2]),
            (self.width, r[2] + r[3]),
            (self.height, r[3] + r[0]),
        )
        for side, taken in sides:
            if taken > side * (1.0 + 1e-12):
                raise refusal(
                    f"corners that take {taken:g} mm of a side of {side:g} mm",
                    f"radii that add up to no more than the side, {side:g} mm",
                    "make the corner radius smaller",
                )
        return self


def radii(spec: Spec) -> tuple[float, float, float, float]:
    """Corner radii: right top, left top, left foot, right foot [mm]."""
    if spec.corner_radii is not None:
        return spec.corner_radii
    r = spec.corner_radius or 0.0
    return (r, r, r, r)


def loop(spec: Spec) -> Loop:
    """Edge of the port, counter-clockwise from the right side's top [mm]."""
    x, y = spec.width / 2.0, spec.height / 2.0
    corners = ((x, y), (-x, y), (-x, -y), (x, -y))
    arcs = []
    for i, ((cx, cy), r) in enumerate(zip(corners, radii(spec), strict=True)):
        centre = (cx - math.copysign(r, cx), cy - math.copysign(r, cy))
        arcs.append(Arc(centre, r, i * _QUARTER, _QUARTER))
    pieces: list[Segment] = []
    for arc, after in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        pieces.append(arc)
        if math.dist(arc.end, after.start) > 1e-9:
            pieces.append(Line(arc.end, after.start))
    return tuple(pieces)
