"""A tube past all ports with tubes set on it: the geometry behind logs, welded or cast.

Each tube that is set on is cut to the log's outside, and the log has a hole of its bore.
Lengths in mm, angles in radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geomgen.families import DoesNotFit, TubeSize
from geomgen.geometry.centreline import Bend, Centreline, Straight, advance, at
from geomgen.geometry.copes import SaddleCope, crossing, curve, extremes, held, patch, points, skin
from geomgen.geometry.distance import Span, between
from geomgen.geometry.frames import Frame, Vec, add, cross, dot, scale, sub, unit
from geomgen.recipe.nodes import Cut, Node, Tube

LAND = 5.0
"""What is drawn with a saddle: the tube's last straight from this far before it [mm]."""

CLEAR = 0.2
"""Least that a tube's side stays inside the log's, outside and bore; nearer, the saddle runs
out along the log [mm]."""

STEP = 0.5
"""Room that ``clears`` keeps, more than its steps can miss [mm]."""

_MOST_STEPS = 4000

_LEAST_ANGLE = math.radians(20.0)


@dataclass(frozen=True)
class Log:
    """The log's axis and size.

    Attributes:
        point: that stations count from.
        axis: unit vector, from its first end to its far end.
        size: of its tube.
    """

    point: Vec
    axis: Vec
    size: TubeSize

    def at(self, station: float) -> Vec:
        """Point on the axis."""
        return add(self.point, scale(self.axis, station))

    def path(self, begin: float, end: float) -> Centreline:
        """Its axis between two stations."""
        return Centreline(Frame.facing(self.at(begin), self.axis), (Straight(end - begin),))


@dataclass(frozen=True)
class SetOn:
    """A tube set on the log, from a square plane before its saddle to the log's axis.

    Attributes:
        leg: frame on its axis at that plane, z towards the log.
        size: of the tube.
        depth: from there to where its axis is nearest the log's.
        station: of that place along the log.
        outer: its cope on the log's outside.
        inner: where its bore meets the log's.
    """

    leg: Frame
    size: TubeSize
    depth: float
    station: float
    outer: SaddleCope
    inner: SaddleCope

    @property
    def path(self) -> Centreline:
        """From the plane to the place nearest the log's axis."""
        return Centreline(self.leg, (Straight(self.depth),))

    @property
    def bare(self) -> Centreline:
        """From the plane to the log's outside."""
        return Centreline(self.leg, (Straight(curve(self.outer, 0.0)(0.0)),))

    def footprint(self) -> tuple[float, float]:
        """Stations that its saddle reaches from and to along the log."""
        t = np.linspace(0.0, 2.0 * np.pi, 721, dtype=np.float64)
        rim = points(self.outer, self.size.outer_radius, t) - np.array(self.outer.point)
        along = rim @ np.array(self.outer.axis)
        return float(along.min()), float(along.max())

    @property
    def metal(self) -> float:
        """Volume of its wall, plane to saddle."""
        ro, ri = self.size.outer_radius, self.size.inner_radius
        return held(self.outer, ro) - held(self.outer, ri)

    @property
    def hole(self) -> float:
        """Volume that its bore takes out of the log's wall."""
        ri = self.size.inner_radius
        return held(self.inner, ri) - held(self.outer, ri)

    @property
    def gas(self) -> float:
        """Volume of its bore outside the log's bore."""
        return held(self.inner, self.size.inner_radius)

    @property
    def wall(self) -> float:
        """What it adds to the area that the gas touches: its bore, less the hole in the log's."""
        ri = self.size.inner_radius
        return skin(self.inner, ri) - patch(self.inner, ri)

    @property
    def outside(self) -> float:
        """What it adds to the area that the air touches: its outside, less what it covers."""
        ro = self.size.outer_radius
        return skin(self.outer, ro) - patch(self.outer, ro)


def set_on(
    log: Log, leg: Frame, size: TubeSize, what: str, key: tuple[str | int, ...], land: float
) -> tuple[SetOn, float]:
    """A tube set on the log.

    Args:
        log: what it is set on.
        leg: where its last straight begins, z towards the log.
        size: of the tube.
        what: what it is called in messages.
        key: of what the spec says of it.
        land: how far before the saddle the square plane lies.

    Returns:
        The tube from the plane on, and the length of straight before the plane; that is
        below 0 where the straight begins too near the log.

    Raises:
        DoesNotFit: it misses the log, or does not stand wholly on it.
    """
    passing = crossing(leg, log.point, log.axis)
    if passing is None or not _LEAST_ANGLE < passing.angle < math.pi - _LEAST_ANGLE:
        raise DoesNotFit(
            key,
            f"{what} runs along the log",
            f"at least {math.degrees(_LEAST_ANGLE):.0f} deg between the two",
            "turn it, or the log",
        )
    outer_room = log.size.outer_radius - size.outer_radius
    inner_room = log.size.inner_radius - size.inner_radius
    room = min(outer_room, inner_room) - CLEAR
    if passing.offset > room or passing.height <= 0.0:
        raise DoesNotFit(
            key,
            f"{what} of {2 * size.outer_radius:g} mm OD goes by the axis of the log of "
            f"{2 * log.size.outer_radius:g} mm OD at {passing.offset:.1f} mm"
            + (", behind its own start" if passing.height <= 0.0 else ""),
            f"at most {room:.1f} mm" if room >= 0.0 else "a log that is wider than its stubs",
            "move the log into the stub's way, or make it wider",
        )
    probe = SaddleCope(leg, log.point, log.axis, log.size.outer_radius)
    before = extremes(probe, size.outer_radius)[0] - land
    plane = leg.moved(before)
    made = SetOn(
        leg=plane,
        size=size,
        depth=passing.height - before,
        station=passing.station,
        outer=SaddleCope(plane, log.point, log.axis, log.size.outer_radius),
        inner=SaddleCope(plane, log.point, log.axis, log.size.inner_radius),
    )
    return made, before


def lead_to(log: Log, start: Frame, bend: Bend) -> float | None:
    """Straight before a bend with which the leg behind it crosses the log's axis.

    None where no such straight does: the leg passes the axis at the same distance always.
    """
    behind = advance(start, bend)
    normal = cross(behind.z, log.axis)
    slope = dot(start.z, normal)
    if abs(slope) < 1e-6:
        return None
    return dot(sub(log.point, behind.origin), normal) / slope


def clears(path: Centreline, log: Log, radius: float) -> bool:
    """Whether a tube's outside stays out of the log's all along a path, in fine steps.

    Bends run away from the log that their last straight runs into, but where that leans or is
    set off its axis, one may touch it with its side.
    """
    t = np.linspace(0.0, 2.0 * np.pi, 73, dtype=np.float64)
    count = min(math.ceil(path.length), _MOST_STEPS)
    for k in range(count + 1):
        frame = at(path, k * path.length / max(count, 1))
        x, y = (radius * np.array(v) for v in (frame.x, frame.y))
        rim = np.array(frame.origin) - np.array(log.point)
        rim = rim + np.outer(np.cos(t), x) + np.outer(np.sin(t), y)
        along = rim @ np.array(log.axis)
        away = np.sqrt(np.maximum((rim * rim).sum(axis=1) - along**2, 0.0))
        if float(away.min()) < log.size.outer_radius + STEP:
            return False
    return True


def rod(log: Log, begin: float, end: float, radius: float, beyond: float = 0.0) -> Node:
    """A rod along the log's axis between two stations, longer at both ends by ``beyond``."""
    return Tube(log.path(begin - beyond, end + beyond), radius)


def saddled(tube: Tube, log: Log, begin: float, end: float, radius: float) -> Node:
    """A tube that runs into the log, with what lies within a radius of its axis cut away."""
    return Cut(tube, (rod(log, begin, end, radius, 2.0 * log.size.outer_radius),))


def apart(legs: list[tuple[tuple[str | int, ...], str, Centreline, float]]) -> None:
    """Refuse straights set on the log that would run into one another.

    Args:
        legs: key, name, axis down to the saddle, and outside radius of each.

    Raises:
        DoesNotFit: two of them share room.
    """
    for i, (key, name, path, radius) in enumerate(legs):
        for _, other, beside, wide in legs[:i]:
            a, b, least = Span.whole(path), Span.whole(beside), radius + wide
            near = between(a, b, 10.0)
            if near.lower < least:
                near = between(a, b, 0.02)
            if near.lower < least:
                raise DoesNotFit(
                    key,
                    f"{name} {near.lower:.1f} mm from {other}, axis to axis",
                    f"at least {least:.1f} mm, half of both outside diameters",
                    "move one of the two along the log, or turn it",
                )


def square_to(v: Vec, axis: Vec) -> Vec:
    """Direction of the part of a vector that is square to an axis."""
    return unit(sub(v, scale(axis, dot(v, axis))))
