"""Formed end and port-to-round transition of each runner.

The formed end fills the plate's window; behind the plate a ruled wall runs to the round
tube. Its roof stays in line with the port's, so the round end may sit lower than the port.
"""

from __future__ import annotations

import math

from geomgen.design.leaning import formed_end
from geomgen.design.model import AreaStation, Port, Transition
from geomgen.geometry.frames import Frame
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Arc, Loop, Point2, Segment, area, bounding_box
from geomgen.profiles.matching import blend_area, match_to_circle
from geomgen.profiles.union import grown
from geomgen.recipe.nodes import Node, RuledWall, Section, Trim

_STATIONS = 8


def transition(
    port: Port,
    outer_radius: float,
    inner_radius: float,
    plate: float,
    set_back: float,
    length: float,
    face: Frame | None = None,
    chosen: bool = False,
) -> Transition:
    """Lay out one transition [mm].

    Args:
        port: its frame and shape.
        outer_radius: of the tube.
        inner_radius: of the tube.
        plate: thickness of the flange.
        set_back: from the gasket face to the tube's end, square to the face.
        length: of the blend, along the port's axis.
        face: of the plate; square to the port's axis when left out.
        chosen: whether the length was chosen here, not said.

    Raises:
        ValueError: the port's outline folds back on itself, or a dent is too narrow for the
            tube's wall.
    """
    wall = outer_radius - inner_radius
    centre = round_centre(port.loop, inner_radius)
    bore = match_to_circle(port.loop, centre, inner_radius)
    skin = match_to_circle(grown(port.loop, wall), centre, outer_radius)
    half_width = _reach(skin[0])
    formed = formed_end(port.frame, face or port.frame, plate, set_back, half_width, wall)
    plate_end, far = port.frame.moved(formed.end), port.frame.moved(formed.end + length)

    def walls(begin: float, loops: tuple[Loop, Loop]) -> tuple[Section, ...]:
        near = Section(port.frame.moved(begin), loops[0])
        ends = (Section(plate_end, loops[0]), Section(far, loops[1]))
        return (near, *ends) if formed.end - begin > 1e-9 else ends

    metal: Node = RuledWall(walls(formed.metal, skin), walls(formed.metal, bore))
    gas: Node = RuledWall(walls(formed.gas, bore))
    if formed.lean > 0.0:
        metal, gas = Trim(metal, formed.metal_planes), Trim(gas, formed.gas_planes)
    exit_frame = Frame(far.point((centre[0], centre[1], 0.0)), far.x, far.z)
    slant = math.hypot(length, math.hypot(*centre))
    areas = [
        AreaStation(0.0, area(port.loop), "port"),
        AreaStation(formed.end, area(port.loop), "plate"),
    ]
    for i in range(1, _STATIONS):
        t = i / _STATIONS
        areas.append(AreaStation(formed.end + t * slant, blend_area(*bore, t), "transition"))
    areas.append(AreaStation(formed.end + slant, math.pi * inner_radius**2, "round end"))
    return Transition(
        entry=port.frame,
        plate=formed.end,
        set_back=set_back,
        length=length,
        along=slant,
        exit=exit_frame,
        wall_angle=_wall_angle(*bore, length),
        bore=bore,
        half_width=half_width,
        areas=tuple(areas),
        metal=metal,
        gas=gas,
        face=face.z if face is not None and formed.lean > 0.0 else None,
        chosen=chosen,
    )


def round_centre(loop: Loop, inner_radius: float) -> Point2:
    """Centre of the round end in the port's x-y: its roof in line with the port's [mm]."""
    box = bounding_box(loop)
    return (0.5 * (box.left + box.right), box.top - inner_radius)


def shortest_length(
    port: Loop, inner_radius: float, most_angle: float, least: float, most: float
) -> float:
    """Shortest length of a blend whose wall is nowhere steeper than an angle, whole mm up.

    Args:
        port: edge of the port.
        inner_radius: of the tube [mm].
        most_angle: of the wall against the port's axis [rad].
        least: never shorter than this, whole mm up [mm].
        most: never longer than this, whole mm down, though the wall be steeper [mm].
    """
    bore = match_to_circle(port, round_centre(port, inner_radius), inner_radius)
    slope = math.tan(min(most_angle, math.pi / 2.0 - 1e-9))
    needed = _aside(*bore) / slope if slope > 0.0 else math.inf
    wanted = max(least, min(needed, most))
    return float(max(1, min(math.ceil(wanted - 1e-9), math.floor(most + 1e-9))))


def _wall_angle(near: Loop, far: Loop, length: float) -> float:
    """Steepest ruling against the port's axis [rad]."""
    return math.atan2(_aside(near, far), length)


def _aside(near: Loop, far: Loop) -> float:
    """How far the steepest ruling goes aside [mm].

    Between two arcs of equal normals a ruling goes aside by ``c + r u``, u the normal, c and
    r what the centres and the radii differ by: most where u points along c or against it.
    """
    most = 0.0
    for a, b in zip(near, far, strict=True):
        most = max(most, *(math.dist(point_at(a, f), point_at(b, f)) for f in (0.0, 0.5, 1.0)))
        arc = a if isinstance(a, Arc) else b
        if not isinstance(arc, Arc):
            continue
        hub, radius = _hub(a), _hub(b)
        cx, cy = radius[0][0] - hub[0][0], radius[0][1] - hub[0][1]
        for way in (math.atan2(cy, cx), math.atan2(-cy, -cx)):
            gone = (way - arc.begin) / arc.sweep if arc.sweep else 0.0
            turns = math.tau / abs(arc.sweep) if arc.sweep else 0.0
            if any(0.0 <= gone + k * turns <= 1.0 for k in (-1, 0, 1, 2)):
                most = max(
                    most,
                    abs(
                        math.hypot(cx, cy) * math.cos(way - math.atan2(cy, cx)) + radius[1] - hub[1]
                    ),
                )
    return most


def _hub(piece: Segment) -> tuple[Point2, float]:
    """Centre and radius; a corner is an arc of no radius."""
    return (piece.centre, piece.radius) if isinstance(piece, Arc) else (piece.start, 0.0)


def _reach(loop: Loop) -> float:
    """Farthest point of a loop from the port's axis [mm]."""
    return max(math.hypot(*point_at(piece, i / 16.0)) for piece in loop for i in range(17))
