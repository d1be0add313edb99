"""Room for a tool at every stud: the places where each listed tool could work.

A place that a fixed thing already bars (another stud, a transition, an obstacle) is not
offered to the router at all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geomgen.design.model import Stud
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Box, Cylinder, Field, Swing
from geomgen.geometry.frames import Frame, Vec
from geomgen.routing.problem import Body, Obstacle, ToolPlace
from geomgen.spec.tools import Ring, Socket

Floats = NDArray[np.float64]

HEADINGS = 12
"""Directions tried for a spanner's swing, evenly round the stud."""

# Sizes of tools over their size across flats. Common practice, no source; a spec may give
# diameter and length of its own.
_SOCKET = 1.45
_RING_HEAD = 1.6
_RING_LENGTH = 14.0
_RING_WIDTH = 0.9
_RING_THICKNESS = 0.75
_NUT_HEIGHT = 0.65
_GRIDS = (8.0, 2.5)


def tool_places(
    tools: tuple[Socket | Ring, ...],
    studs: tuple[Stud, ...],
    seat: float,
    play: float,
    bodies: tuple[Body, ...],
    obstacles: tuple[Obstacle, ...],
) -> tuple[ToolPlace, ...]:
    """Every way to reach every stud that nothing fixed bars.

    Args:
        tools: as the spec lists them, best liked first.
        studs: of the head.
        seat: height of the nut's seat, the flange's tube side [mm].
        play: air wanted round a tool [mm].
        bodies: transitions and collector; only those of a tube are near a stud.
        obstacles: of the spec.
    """
    standing = [
        points_at(body.path, np.linspace(0.0, body.path.length, 16))
        for body in bodies
        if body.edge is not None
    ]
    radius = max((body.radius for body in bodies if body.edge is not None), default=0.0)
    fixed = np.concatenate(standing) if standing else np.zeros((0, 3))
    return tuple(
        place
        for stud in studs
        for tool in tools
        for place in _places(tool, stud, seat, play)
        if _open(
            place,
            tool,
            tuple(other for other in studs if other != stud),
            seat,
            fixed,
            radius + play,
            obstacles,
        )
    )


def tool_name(tool: Socket | Ring) -> str:
    """What a tool is called in reports."""
    if tool.name:
        return tool.name
    if isinstance(tool, Socket):
        return f"{tool.socket:g} mm socket, {tool.extension:g} mm long"
    return f"{tool.ring:g} mm ring spanner"


def _places(tool: Socket | Ring, stud: Stud, seat: float, play: float) -> Iterator[ToolPlace]:
    x, y, _ = stud.at
    if isinstance(tool, Socket):
        radius = (tool.diameter or _SOCKET * tool.socket) / 2.0
        top = seat + _NUT_HEIGHT * tool.socket + tool.extension
        bar = Cylinder((x, y, seat), (x, y, top), radius)
        within = Box((x - radius, y - radius, seat), (x + radius, y + radius, top))
        yield ToolPlace(stud.name, tool_name(tool), (bar,), play, within)
        return
    head = (tool.diameter or _RING_HEAD * tool.ring) / 2.0
    reach = tool.length or _RING_LENGTH * tool.ring
    half = _RING_THICKNESS * tool.ring / 2.0
    width = _RING_WIDTH * tool.ring / 2.0
    span = reach + max(head, width)
    within = Box((x - span, y - span, seat), (x + span, y + span, seat + 2.0 * half))
    for i in range(HEADINGS):
        heading = 2.0 * math.pi * i / HEADINGS
        frame = Frame((x, y, seat + half), (math.cos(heading), math.sin(heading), 0.0))
        swing = Swing(
            frame, reach, min(math.radians(tool.swing) / 2.0, math.pi / 2), width, half, head
        )
        name = f"{tool_name(tool)} pointing {math.degrees(heading):.0f} deg"
        yield ToolPlace(stud.name, name, (swing,), play, within)


def _open(
    place: ToolPlace,
    tool: Socket | Ring,
    others: tuple[Stud, ...],
    seat: float,
    fixed: Floats,
    keep: float,
    obstacles: tuple[Obstacle, ...],
) -> bool:
    """Whether nothing that stands still bars a place."""
    across = (tool.socket if isinstance(tool, Socket) else tool.ring) / math.cos(math.pi / 6)
    for field in place.fields:
        if others and field.distance(_stud_points(others, seat)).min() < across / 2 + place.gap:
            return False
        # The transition's axis is sampled every few mm: half that is given away.
        if len(fixed) and field.distance(fixed).min() < keep + 2.0:
            return False
        if not all(_misses(field, place.gap, obstacle) for obstacle in obstacles):
            return False
    return True


def _misses(field: Field, gap: float, obstacle: Obstacle) -> bool:
    """Whether a tool's room is certainly clear of an obstacle; looked at closely if need be."""
    centre, reach = _ball(field)
    if float(obstacle.field.distance(centre)[0]) >= reach + gap:
        return True
    for spacing in _GRIDS:
        assert isinstance(field, Cylinder | Swing)
        points, margin = _filling(field, spacing)
        least = float(obstacle.field.distance(points).min())
        if least >= margin + gap:
            return True
        if least < gap:
            return False
    return False


def _stud_points(studs: tuple[Stud, ...], seat: float) -> Floats:
    rows: list[Vec] = []
    for stud in studs:
        x, y, root = stud.at
        tip = root + stud.protrusion
        rows += [(x, y, z) for z in np.linspace(seat, max(tip, seat), 5)]
    return np.array(rows)


def _ball(field: Field) -> tuple[Floats, float]:
    """Centre (1, 3) and radius of a ball round a tool's room [mm]."""
    if isinstance(field, Cylinder):
        a, b = np.array(field.begin), np.array(field.end)
        return 0.5 * (a + b)[None], math.hypot(0.5 * float(np.linalg.norm(b - a)), field.radius)
    assert isinstance(field, Swing)
    reach = max(field.reach + field.half_width, field.head)
    return np.array([field.frame.origin]), math.hypot(reach, field.half_thickness)


@lru_cache(maxsize=512)
def _filling(field: Cylinder | Swing, spacing: float) -> tuple[Floats, float]:
    """Points in a tool's room, and how far any of it may be from the nearest of them."""
    if isinstance(field, Cylinder):
        a, b = np.array(field.begin), np.array(field.end)
        t = np.linspace(0.0, 1.0, 1 + math.ceil(float(np.linalg.norm(b - a)) / spacing))
        return a + t[:, None] * (b - a), field.radius + spacing / 2.0
    assert isinstance(field, Swing)
    out = field.reach + field.half_width
    radii = np.append(np.arange(0.0, out, spacing), out)
    # The handle's half width opens the swing, most near the stud: the grid takes it whole.
    widest = min(math.pi, field.half_angle + math.atan2(field.half_width, 0.25 * field.reach))
    steps = 2 + math.ceil(2.0 * widest * out / spacing)
    r, a_ = (grid.ravel() for grid in np.meshgrid(radii, np.linspace(-widest, widest, steps)))
    flat = np.stack([r * np.cos(a_), r * np.sin(a_)], axis=1)
    near = field.flat_distance(flat[:, 0], np.abs(flat[:, 1])) <= spacing
    flat = flat[near]
    layers = np.linspace(-field.half_thickness, field.half_thickness, 1 + round(12.0 / spacing))
    x, y, z = np.array(field.frame.x), np.array(field.frame.y), np.array(field.frame.z)
    plane = np.array(field.frame.origin) + np.outer(flat[:, 0], x) + np.outer(flat[:, 1], y)
    points = (plane[None, :, :] + layers[:, None, None] * z).reshape(-1, 3)
    between = field.half_thickness / (len(layers) - 1)
    return points, math.hypot(spacing / math.sqrt(2.0), between)
