"""Port windows of a head flange: what goes through the plate, with its fit, as it is cut.

Walls of a window are square to the plate. A tube that leans sweeps the plate on its way
through, so its window is the hull of its sections at both faces: the section at the gasket
face, carried to where the axis leaves the tube side. Sections of a leaning tube are affine
images of its shape; arcs of ellipses in them are replaced with pairs of tangent arcs that
lie outside by no more than ``TOLERANCE``, so the window never cuts into the tube.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from geomgen.design.leaning import STRAIGHT
from geomgen.design.model import Port
from geomgen.design.transitions import round_centre
from geomgen.geometry.frames import Frame, Vec, angle_between, dot
from geomgen.profiles.convex import is_convex
from geomgen.profiles.distances import inside, loop_to_loop
from geomgen.profiles.loops import Arc, Loop, Point2, area, circle, placed
from geomgen.profiles.slanted import Matrix, slanted, swept
from geomgen.profiles.union import erode, grown

Style = Literal["socket", "round-socket", "butt"]

TOLERANCE = 0.02
"""How far a leaning tube's window may lie outside the true one [mm]."""


@dataclass(frozen=True)
class Window:
    """One port's opening in the plate's x-y [mm].

    Attributes:
        cylinder: of the port.
        loop: what is cut.
        bore: the port's edge at the gasket face, to look at.
    """

    cylinder: int
    loop: Loop
    bore: Loop


def shape_through(port: Port, style: Style, inner_radius: float) -> Port:
    """The port as the tube's formed end has it: round for ``round-socket``, else its own.

    The round bore has its roof in line with the port's.
    """
    if style != "round-socket":
        return port
    return replace(port, loop=circle(round_centre(port.loop, inner_radius), inner_radius))


def windows_of(
    ports: Sequence[Port],
    frame: Frame,
    *,
    style: Style,
    wall: float,
    inner_radius: float,
    fit: float,
    depth: float,
    corner: float,
) -> tuple[Window, ...]:
    """Windows of all ports.

    Args:
        ports: with frames at the gasket face.
        frame: of the plate.
        style: ``socket``: port shape, wall and fit; ``round-socket``: the round tube and
            fit; ``butt``: the port's own shape.
        wall: of the tube [mm].
        inner_radius: of the tube [mm].
        fit: tube to window, over both sides [mm].
        depth: thickness of the plate [mm].
        corner: least radius of an inside corner that the process cuts [mm].

    Raises:
        ValueError: a port lies along the face, or its shape has no window.
    """
    return tuple(
        _window(port, frame, style, wall, inner_radius, fit, depth, corner) for port in ports
    )


def _window(
    port: Port,
    frame: Frame,
    style: Style,
    wall: float,
    inner_radius: float,
    fit: float,
    depth: float,
    corner: float,
) -> Window:
    through = shape_through(port, style, inner_radius)
    place = _Place.of(port, frame)
    if place.matrix is not None and not is_convex(through.loop):
        raise ValueError(
            f"port {port.cylinder}: it leans and its shape has a dent; the window that it sweeps "
            "is made for shapes without dents only"
        )
    bore = place.section(port.loop)
    if style == "butt":
        return Window(port.cylinder, place.window(through.loop, depth), bore)
    tube = place.window(grown(through.loop, wall), depth)
    loop = place.window(grown(through.loop, wall + fit / 2.0), depth)
    return Window(port.cylinder, opened(loop, tube, corner), bore)


def opened(loop: Loop, tube: Loop, radius: float) -> Loop:
    """A window with its corners no tighter than a radius, if the tube still goes through.

    The metal that a tool of the radius leaves in the corners stays (morphological opening);
    where the tube needs that room the window is left as it is, for the checks to name.

    Args:
        loop: convex.
        tube: what goes through, inside ``loop``.
        radius: [mm].
    """
    tight = [piece for piece in loop if isinstance(piece, Arc) and piece.radius < radius - 1e-9]
    if not tight or radius <= 0.0:
        return loop
    left = erode((loop,), radius)
    if len(left) != 1 or area(left[0]) <= 0.0:
        return loop
    wide = grown(left[0], radius)
    clear = inside(tube[0].start, wide) and loop_to_loop(tube, wide) > 1e-6
    return wide if clear else loop


@dataclass(frozen=True)
class _Place:
    """Where a port stands on the plate.

    Attributes:
        at: where its axis meets the gasket face, in the plate's x-y [mm].
        turn: of its own x in the plate, when it is square to the face [rad].
        matrix: its own x-y to the plate's along its axis; None when it is square.
        slope: how far the axis goes aside for each mm of plate.
    """

    at: Point2
    turn: float
    matrix: Matrix | None
    slope: Point2

    @staticmethod
    def of(port: Port, frame: Frame) -> _Place:
        origin = frame.local(port.frame.origin)
        axis = _components(frame, port.frame.z)
        x, y = _components(frame, port.frame.x), _components(frame, port.frame.y)
        if axis[2] < 0.2:
            raise ValueError(
                f"port {port.cylinder}: its axis leans "
                f"{math.degrees(angle_between(port.frame.z, frame.z)):.0f} degrees from the "
                "square to the face; a plate takes up to 78"
            )
        slope = (axis[0] / axis[2], axis[1] / axis[2])
        at = (origin[0] - slope[0] * origin[2], origin[1] - slope[1] * origin[2])
        if angle_between(port.frame.z, frame.z) < STRAIGHT:
            return _Place(at, math.atan2(x[1], x[0]), None, (0.0, 0.0))
        columns = [(v[0] - slope[0] * v[2], v[1] - slope[1] * v[2]) for v in (x, y)]
        matrix = ((columns[0][0], columns[1][0]), (columns[0][1], columns[1][1]))
        return _Place(at, 0.0, matrix, slope)

    def section(self, loop: Loop) -> Loop:
        """A loop square to the axis as it appears on the gasket face."""
        if self.matrix is None:
            return placed(loop, self.at, self.turn)
        return placed(slanted(loop, self.matrix, TOLERANCE), self.at)

    def window(self, loop: Loop, depth: float) -> Loop:
        """What a loop square to the axis sweeps on its way through the plate."""
        return swept(self.section(loop), (self.slope[0] * depth, self.slope[1] * depth))


def _components(frame: Frame, way: Vec) -> Vec:
    """A direction in a frame's own components."""
    return (dot(way, frame.x), dot(way, frame.y), dot(way, frame.z))
