"""Where two branches of mirrored pipes meet: directions in closed form.

The pipes are each other's mirror image in the plane half-way between them, so their branches are
too, and meet in that plane. With h from a pipe's axis to the plane and L from there along the
branch to the meeting, the branch comes in at phi to the plane where sin(phi) = h / L; its lean
from the gas leaves one free angle round the pipe, which follows from that (plane trigonometry).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.families import DoesNotFit
from geomgen.geometry.frames import (
    Frame,
    Vec,
    add,
    angle_between,
    cross,
    distance,
    dot,
    scale,
    sub,
    unit,
)
from geomgen.units import in_degrees

MOST_BETWEEN = math.radians(90.0)
"""Of two branches that meet [rad]; common practice, no source."""

_ALIKE = 1e-6
"""What mirrored pipes may be off each other's image [mm, rad]."""


@dataclass(frozen=True)
class Stand:
    """Where a branch leaves its pipe.

    Attributes:
        name: of the pipe.
        origin: on the pipe's axis [mm].
        flow: the way the gas goes there.
        outer_radius: of the pipe [mm].
        inner_radius: of its bore [mm].
    """

    name: str
    origin: Vec
    flow: Vec
    outer_radius: float
    inner_radius: float


@dataclass(frozen=True)
class Meeting:
    """Two branches that meet.

    Attributes:
        gate: frame where their axes meet; z is the way on, x to the first pipe's side.
        sides: the way that each leaves its pipe, square to the gas or not.
        angle: from either branch to z [rad].
        along: from a pipe's axis to the meeting, along a branch [mm].
    """

    gate: Frame
    sides: tuple[Vec, Vec]
    angle: float
    along: float


def meeting(stands: tuple[Stand, Stand], lean: float, length: float, toward: Vec) -> Meeting:
    """Where two branches meet.

    Args:
        stands: where they leave.
        lean: from the way the gas goes to each branch [rad].
        length: from a pipe's outside, along a branch's axis, to the meeting [mm].
        toward: the side that both go to.

    Raises:
        DoesNotFit: the pipes are no mirror images, or no two such branches meet.
    """
    one = stands[0]
    across = _mirrored(stands)
    half = distance(one.origin, stands[1].origin) / 2.0
    through = one.outer_radius / math.sin(lean)
    inward = dot(one.flow, across)
    _Bounds.of(half, through, lean, inward).hold(length, lean)
    along = through + length
    angle = math.asin(half / along)
    first = unit(sub(across, scale(one.flow, inward)))
    second = cross(one.flow, first)
    level = half / along - inward * math.cos(lean)
    cosine = level / (math.sin(lean) * math.sqrt(1.0 - inward**2))
    cosine = max(-1.0, min(1.0, cosine))
    hand = dot(toward, second)
    if abs(hand) < 1e-6 * math.sqrt(dot(toward, toward)):
        raise DoesNotFit(
            ("toward",),
            "a side that lies in the plane of both pipes",
            "the side of that plane that the gate stands on",
            "add toward: [0, 0, 1], or what else leads away from both pipes",
        )
    sine = math.copysign(math.sqrt(1.0 - cosine**2), hand)
    side = add(scale(first, cosine), scale(second, sine))
    way = add(scale(one.flow, math.cos(lean)), scale(side, math.sin(lean)))
    on = unit(sub(way, scale(across, dot(way, across))))
    gate = Frame(add(one.origin, scale(way, along)), scale(across, -1.0), on)
    image = sub(side, scale(across, 2.0 * dot(side, across)))
    return Meeting(gate, (side, image), angle, along)


def _mirrored(stands: tuple[Stand, Stand]) -> Vec:
    """The way from the first pipe to the second, square to the plane half-way between them."""
    one, two = stands
    sizes = abs(one.outer_radius - two.outer_radius), abs(one.inner_radius - two.inner_radius)
    apart = distance(one.origin, two.origin)
    if max(sizes) > _ALIKE or apart < _ALIKE:
        raise _not_alike(stands, "of different sizes" if apart > _ALIKE else "on one axis")
    across = unit(sub(two.origin, one.origin))
    image = sub(one.flow, scale(across, 2.0 * dot(one.flow, across)))
    off = angle_between(image, two.flow)
    if off > _ALIKE:
        raise _not_alike(stands, f"{in_degrees(off):.2g} deg off each other's mirror image")
    return across


def _not_alike(stands: tuple[Stand, Stand], how: str) -> DoesNotFit:
    return DoesNotFit(
        ("partition",),
        f"{stands[0].name} and {stands[1].name}, {how}",
        "two pipes that are each other's mirror image where the branches leave",
        "give both scrolls the same pipe, or take partition out: a gate a scroll",
    )


@dataclass(frozen=True)
class _Bounds:
    """Lengths from a pipe's outside to the meeting with which there is one [mm]."""

    least: float
    most: float

    @staticmethod
    def of(half: float, through: float, lean: float, inward: float) -> _Bounds:
        """What leaning straight at the other pipe takes, straight away from it, and 90 degrees.

        Args:
            half: from a pipe to the plane half-way between them [mm].
            through: from a pipe's axis to its outside, along a branch [mm].
            lean: from the way the gas goes to a branch [rad].
            inward: share of the gas's way that goes to the other pipe.
        """
        along, over = inward * math.cos(lean), math.sin(lean) * math.sqrt(1.0 - inward**2)
        steep, flat = min(along + over, math.sin(MOST_BETWEEN / 2.0)), along - over
        return _Bounds(
            half / steep - through if steep > 0.0 else math.inf,
            half / flat - through if flat > 0.0 else math.inf,
        )

    def hold(self, length: float, lean: float) -> None:
        """Refuse other lengths, and a lean that has none."""
        leant = in_degrees(lean)
        if max(self.least, 0.0) > self.most or self.least == math.inf:
            raise DoesNotFit(
                ("lean",),
                f"{leant:g} deg, with which no two branches of these pipes meet",
                f"branches that meet at {in_degrees(MOST_BETWEEN):.0f} deg or less",
                "lean them more, or set the pipes less apart",
            )
        if length < self.least:
            allowed, remedy = f"at least {self.least:.1f} mm", "make it longer"
        elif length > self.most:
            allowed, remedy = f"at most {self.most:.1f} mm", "make it shorter, or lean more"
        else:
            return
        raise DoesNotFit(
            ("length",),
            f"{length:g} mm, with which no branches that lean by {leant:g} deg meet at "
            f"{in_degrees(MOST_BETWEEN):.0f} deg or less",
            allowed,
            remedy,
        )
