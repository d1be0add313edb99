"""From a round pipe to a window in a flange: a ruled wall, matched normal to normal."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.families import TubeSize
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, Vec, add, scale, sub, unit
from geomgen.profiles.convex import offset
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Arc, Loop, Point2, area, bounding_box
from geomgen.profiles.matching import blend_area, match_to_circle
from geomgen.recipe.nodes import Node, RuledWall, Section

_STEPS = 8


@dataclass(frozen=True)
class Nozzle:
    """A transition from a round pipe to a flange's window, and the window's bore.

    Attributes:
        metal: its wall, from the pipe to the flange's back.
        bore: on through the flange to its gasket face.
        entry: its round end; z is the way the gas goes.
        bars: axes and radii of bars that hold its outside, none of which stands out of the
            flange's back by more than a sixth of its height there [mm].
        wall_angle: steepest wall against the flange's axis [rad].
        stations: distance from the round end, and bore area there [mm, mm2].
        mouth: middle of the window on the gasket face, in the flange's x-y.
    """

    metal: Node
    bore: Node
    entry: Frame
    bars: tuple[tuple[Centreline, float], ...]
    wall_angle: float
    stations: tuple[tuple[float, float], ...]
    mouth: Point2

    @property
    def length(self) -> float:
        """From the round end to the gasket face, along the gas [mm]."""
        return self.stations[-1][0]

    @property
    def dip(self) -> float:
        """How far the bore's area falls below the smaller of its ends, a share of it."""
        areas = [found for _, found in self.stations]
        return max(0.0, 1.0 - min(areas) / min(areas[0], areas[-1]))


def nozzle(
    frame: Frame,
    thickness: float,
    window: Loop,
    centre: Point2,
    tube: TubeSize,
    length: float,
) -> Nozzle:
    """Lay out a transition to one window.

    Its sections are Minkowski blends of window and circle, so between its ends their area is
    never below the smaller of them (Brunn and Minkowski).

    Args:
        frame: of the flange, z = 0 its gasket face, z to the tube side.
        thickness: of the flange as finished [mm].
        window: convex, counter-clockwise.
        centre: of the round end, in the flange's x-y.
        tube: of the round end.
        length: along the flange's axis, from its back to the round end [mm].
    """
    wall = tube.outer_radius - tube.inner_radius
    bore = match_to_circle(window, centre, tube.inner_radius)
    skin = match_to_circle(offset(window, wall), centre, tube.outer_radius)
    back, far = frame.moved(thickness), frame.moved(thickness + length)
    box = bounding_box(window)
    mouth = (0.5 * (box.left + box.right), 0.5 * (box.bottom + box.top))
    entry = Frame(far.point((*centre, 0.0)), frame.x, scale(frame.z, -1.0))
    slant = math.hypot(length, math.dist(centre, mouth))
    reach = max(_reach(skin[0], mouth), tube.outer_radius)
    return Nozzle(
        metal=RuledWall(
            (Section(back, skin[0]), Section(far, skin[1])),
            (Section(back, bore[0]), Section(far, bore[1])),
        ),
        bore=RuledWall((Section(frame, bore[0]), Section(back, bore[0]), Section(far, bore[1]))),
        entry=entry,
        bars=_bars(entry, back.point((*mouth, 0.0)), frame, slant, reach),
        wall_angle=_wall_angle(*bore, length),
        stations=(
            *((slant * i / _STEPS, blend_area(*bore, 1.0 - i / _STEPS)) for i in range(_STEPS)),
            (slant, area(window)),
            (slant + thickness, area(window)),
        ),
        mouth=mouth,
    )


def _bars(
    entry: Frame, middle: Vec, flange: Frame, slant: float, reach: float
) -> tuple[tuple[Centreline, float], ...]:
    """Bars of round section that hold a transition.

    A bar has half a ball at its end, which here would reach through the flange and into the
    turbine. So the bar along the middle stops short of the flange by its own radius, and rings
    hold the outside from there on: the section of each is the circle round its share of it.
    """
    axis = unit(sub(middle, entry.origin))
    short = max(slant - reach, 1.0)
    bar = Centreline(Frame.facing(entry.origin, axis, flange.x), (Straight(short),))
    left = slant - short
    if left <= 0.0:
        return ((bar, reach),)
    count = max(2, math.ceil(3.0 * left / reach))
    wide = left / count
    ring, quarter = reach - wide / 2.0, math.pi / 2.0
    bars = [(bar, reach)]
    for k in range(count):
        centre = add(entry.origin, scale(axis, short + (k + 0.5) * wide))
        begin = add(centre, scale(flange.x, ring))
        start = Frame(begin, scale(flange.x, -1.0), flange.y)
        path = Centreline(start, (Bend(ring, quarter),) * 4)
        bars.append((path, math.hypot(wide, wide) / 2.0))
    return tuple(bars)


def _reach(loop: Loop, middle: Point2) -> float:
    """Farthest point of a loop from a point [mm]; of an arc, as if it went all round."""
    return max(
        math.dist(piece.centre, middle) + piece.radius
        if isinstance(piece, Arc)
        else math.dist(piece.start, middle)
        for piece in loop
    )


def _wall_angle(near: Loop, far: Loop, length: float) -> float:
    """Steepest ruling against the flange's axis [rad], looked at in steps of an eighth."""
    most = max(
        math.dist(point_at(a, i / 8.0), point_at(b, i / 8.0))
        for a, b in zip(near, far, strict=True)
        for i in range(9)
    )
    return math.atan2(most, length)
