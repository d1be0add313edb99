"""D port: one flat side with rounded corners, opposite it a half round or a flatter arc."""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import model_validator

from geomgen.ports._placement import PortPlacement, Size, refusal
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment, placed

KIND = "d"

_QUARTER = math.pi / 2.0
_TURNS = {"floor": 0.0, "right": _QUARTER, "roof": math.pi, "left": -_QUARTER}


class Spec(PortPlacement):
    """D-shaped ports of one head."""

    shape: Literal["d"]
    """Shape of the ports."""
    width: Size
    """Over all, along the row of ports."""
    height: Size
    """Over all, up the head."""
    corner_radius: Size
    """Radius of the corners beside the flat side, and of the shoulders of a flatter arc."""
    flat: Literal["floor", "roof", "left", "right"] = "floor"
    """Which side is flat, seen from the tube side."""
    arc_radius: Size | None = None
    """Radius of the round side, at least half the flat side's length; a half round without
    it."""

    @model_validator(mode="after")
    def _closes(self) -> Self:
        along, square, r = _along(self), _square(self), self.corner_radius
        half, big = along / 2.0, _arc_radius(self)
        if r > half * (1.0 + 1e-12):
            raise refusal(
                f"corners of {r:g} mm on a flat side of {along:g} mm",
                f"a corner radius of at most half of it, {half:g} mm",
                "make the corner radius smaller",
            )
        if big < half * (1.0 - 1e-12):
            raise refusal(
                f"an arc of {big:g} mm over a flat side of {along:g} mm",
                f"a radius of at least half of it, {half:g} mm",
                "leave arc_radius out for a half round",
            )
        if _shoulder(self) < r - square / 2.0 - 1e-9 * square:
            raise refusal(
                f"a round side of radius {big:g} mm and corners of {r:g} mm in {square:g} mm",
                "sides that do not overlap: round side and corners fit one above the other",
                "give a larger arc_radius for a flatter round side, or a smaller corner radius",
            )
        return self


def _along(spec: Spec) -> float:
    return spec.width if spec.flat in ("floor", "roof") else spec.height


def _square(spec: Spec) -> float:
    return spec.height if spec.flat in ("floor", "roof") else spec.width


def _arc_radius(spec: Spec) -> float:
    return _along(spec) / 2.0 if spec.arc_radius is None else spec.arc_radius


def _rise(spec: Spec) -> float:
    """From the round side's centre up to the shoulders' centres [mm]."""
    half, big, r = _along(spec) / 2.0, _arc_radius(spec), spec.corner_radius
    return math.sqrt(max(0.0, (big - half) * (big + half - 2.0 * r)))


def _shoulder(spec: Spec) -> float:
    """Height of the shoulders' centres over the middle of the D, its flat side down [mm]."""
    return _square(spec) / 2.0 - _arc_radius(spec) + _rise(spec)


def loop(spec: Spec) -> Loop:
    """Edge of the port, counter-clockwise, the middle of its box on the port's axis [mm].

    A shoulder touches the side from within and the arc of radius R from within: its centre
    is R - r from the arc's, and r from the side.
    """
    half, foot, r = _along(spec) / 2.0, -_square(spec) / 2.0, spec.corner_radius
    big, top = _arc_radius(spec), _square(spec) / 2.0
    x, y, low = half - r, _shoulder(spec), foot + r
    shoulder = math.atan2(_rise(spec), x) if big > half * (1.0 + 1e-12) else 0.0
    around: list[Segment] = [Line((-x, foot), (x, foot)), Arc((x, low), r, -_QUARTER, _QUARTER)]
    around.append(Line((half, low), (half, y)))
    if shoulder > 0.0:
        around.append(Arc((x, y), r, 0.0, shoulder))
    around.append(Arc((0.0, top - big), big, shoulder, math.pi - 2.0 * shoulder))
    if shoulder > 0.0:
        around.append(Arc((-x, y), r, math.pi - shoulder, shoulder))
    around.append(Line((-half, y), (-half, low)))
    around.append(Arc((-x, low), r, math.pi, _QUARTER))
    origin: Point2 = (0.0, 0.0)
    kept = tuple(piece for piece in around if piece.length > 1e-9)
    return placed(kept, origin, _TURNS[spec.flat])
