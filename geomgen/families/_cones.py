"""From a merge's lobed section to its round outlet: one ruled wall.

Where the outlet is wider than the throat it is a diffuser, where it is narrower a reducing cone.
Its included angle is that of the round cone with the same areas at its ends:
tan(angle / 2) = (D - d) / (2 L). A lobed section also has to become round, so that the wall
itself may lean more; how much is a number of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geomgen.families import DoesNotFit, TubeSize
from geomgen.families._arrays import Array
from geomgen.geometry.frames import Frame
from geomgen.profiles.along import along
from geomgen.profiles.loops import Arc, CurvedLoop, EllipseArc, Line, Point2, area
from geomgen.recipe.nodes import Node, RuledWall, Section

if TYPE_CHECKING:
    from geomgen.families._merging import MergeSize

_ANGLE = math.radians(7.0)  # slope of the wall; common practice, no source
_LEAST = 30.0
_SAME = 0.1
"""Bores nearer than this are one and the same, and nothing widens [mm]."""


@dataclass(frozen=True)
class ConeSize:
    """What was said of the cone: its included angle [rad], or its length [mm]."""

    angle: float | None = None
    length: float | None = None


@dataclass(frozen=True)
class Cone:
    """The wall in the merge's own frame.

    Attributes:
        length: along the axis [mm].
        outlet: tube at its round end.
        metal, bore: solids.
        inner: the bore's outline at its two ends.
        slope: most that the wall leans against the axis [rad].
        facts: its included angle as a diffuser or a reducing cone, if it is one.
    """

    length: float
    outlet: TubeSize
    metal: Node
    bore: Node
    inner: tuple[CurvedLoop, CurvedLoop]
    slope: float
    facts: tuple[tuple[str, float], ...]


def cone(array: Array, tube: TubeSize, at: float, size: MergeSize) -> Cone:
    """The wall from a trim plane on.

    Args:
        array: the tubes.
        tube: their size.
        at: station of the trim plane.
        size: what the merge is made to.

    Raises:
        DoesNotFit: an angle is asked for where nothing widens or narrows.
    """
    sizes = (
        (tube.outer_radius, size.outlet.outer_radius),
        (tube.inner_radius, size.outlet.inner_radius),
    )
    lobes = [array.lobes(at, radius) for radius, _ in sizes]
    rounds = [array.round(loop, radius) for loop, (_, radius) in zip(lobes, sizes, strict=True)]
    change = max(
        abs(math.hypot(*_at(segment, f)) - radius)
        for loop, (_, radius) in zip(lobes, sizes, strict=True)
        for segment in loop
        for f in (0.0, 0.25, 0.5, 0.75)
    )
    narrow = 2.0 * math.sqrt(area(lobes[1]) / math.pi)
    grows = 2.0 * size.outlet.inner_radius - narrow
    length = _length(size, change, grows)
    near, far = Frame().moved(at), Frame().moved(at + length)
    outer = (Section(near, lobes[0]), Section(far, rounds[0]))
    inner = (Section(near, lobes[1]), Section(far, rounds[1]))
    included = math.degrees(2.0 * math.atan2(abs(grows) / 2.0, length))
    name = "diffuser_included_deg" if grows > 0.0 else "reducer_included_deg"
    return Cone(
        length,
        size.outlet,
        RuledWall(outer, inner),
        RuledWall(inner),
        (lobes[1], rounds[1]),
        math.atan2(change, length),
        ((name, included),) if abs(grows) > _SAME else (),
    )


def _length(size: MergeSize, change: float, grows: float) -> float:
    said = size.cone
    if said is None:
        return max(_LEAST, 5.0 * math.ceil(change / math.tan(_ANGLE) / 5.0))
    if said.length is not None:
        return said.length
    if abs(grows) <= _SAME:
        raise DoesNotFit(
            (*size.key, "diffuser", "angle"),
            "an angle for a cone from a throat to an outlet of the same bore",
            "an outlet wider or narrower than the throat, or the cone's length",
            "give a throat, or write diffuser: {length: ...}",
        )
    return abs(grows) / 2.0 / math.tan((said.angle or _ANGLE) / 2.0)


def blend_area(a: CurvedLoop, b: CurvedLoop, fraction: float, steps: int = 400) -> float:
    """Area of the section part of the way along a ruled wall [mm2], within 1e-4 relative."""
    f = np.arange(steps) / steps
    near = np.concatenate([along(piece, f) for piece in a])
    far = np.concatenate([along(piece, f) for piece in b])
    x, y = (near + fraction * (far - near)).T
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _at(segment: Line | Arc | EllipseArc, fraction: float) -> Point2:
    assert not isinstance(segment, Line)
    return segment.at(fraction)
