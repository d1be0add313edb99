"""Formed end and port-to-round transition of each runner.

The formed end fills the plate's window; behind the plate a ruled wall runs to the round
tube. Its roof stays in line with the port's, so the round end may sit lower than the port.
"""

from __future__ import annotations

import math

from geomgen.design.model import AreaStation, Port, Transition
from geomgen.geometry.frames import Frame
from geomgen.profiles.convex import offset
from geomgen.profiles.loops import Arc, Loop, Point2, Segment, area, bounding_box
from geomgen.profiles.matching import blend_area, match_to_circle
from geomgen.recipe.nodes import RuledWall, Section

_STATIONS = 8


def transition(
    port: Port,
    outer_radius: float,
    inner_radius: float,
    plate: float,
    set_back: float,
    length: float,
) -> Transition:
    """Lay out one transition [mm].

    Args:
        port: its frame and shape.
        outer_radius: of the tube.
        inner_radius: of the tube.
        plate: thickness of the flange.
        set_back: from the gasket face to the tube's end.
        length: of the blend, along the port's axis.
    """
    wall = outer_radius - inner_radius
    centre = round_centre(port.loop, inner_radius)
    bore = match_to_circle(port.loop, centre, inner_radius)
    skin = match_to_circle(offset(port.loop, wall), centre, outer_radius)
    start, plate_end, far = port.frame, port.frame.moved(plate), port.frame.moved(plate + length)
    back = port.frame.moved(set_back)
    metal = RuledWall(
        (Section(back, skin[0]), Section(plate_end, skin[0]), Section(far, skin[1])),
        (Section(back, bore[0]), Section(plate_end, bore[0]), Section(far, bore[1])),
    )
    gas = RuledWall((Section(start, bore[0]), Section(plate_end, bore[0]), Section(far, bore[1])))
    exit_frame = Frame(far.point((centre[0], centre[1], 0.0)), far.x, far.z)
    slant = math.hypot(length, math.hypot(*centre))
    areas = [
        AreaStation(0.0, area(port.loop), "port"),
        AreaStation(plate, area(port.loop), "plate"),
    ]
    for i in range(1, _STATIONS):
        t = i / _STATIONS
        areas.append(AreaStation(plate + t * slant, blend_area(*bore, t), "transition"))
    areas.append(AreaStation(plate + slant, math.pi * inner_radius**2, "round end"))
    return Transition(
        entry=port.frame,
        plate=plate,
        set_back=set_back,
        length=length,
        along=slant,
        exit=exit_frame,
        wall_angle=_wall_angle(*bore, length),
        bore=bore,
        half_width=_reach(skin[0]),
        areas=tuple(areas),
        metal=metal,
        gas=gas,
    )


def round_centre(loop: Loop, inner_radius: float) -> Point2:
    """Centre of the round end in the port's x-y: its roof in line with the port's [mm]."""
    box = bounding_box(loop)
    return (0.5 * (box.left + box.right), box.top - inner_radius)


def _wall_angle(near: Loop, far: Loop, length: float) -> float:
    """Steepest ruling against the port's axis [rad]."""
    most = 0.0
    for a, b in zip(near, far, strict=True):
        for i in range(9):
            f = i / 8.0
            most = max(most, math.dist(_at(a, f), _at(b, f)))
    return math.atan2(most, length)


def _at(piece: Segment, f: float) -> Point2:
    if isinstance(piece, Arc):
        return piece.at(f)
    start, end = piece.start, piece.end
    return (start[0] + f * (end[0] - start[0]), start[1] + f * (end[1] - start[1]))


def _reach(loop: Loop) -> float:
    """Farthest point of a loop from the port's axis [mm]."""
    return max(math.hypot(*_at(piece, i / 16.0)) for piece in loop for i in range(17))
