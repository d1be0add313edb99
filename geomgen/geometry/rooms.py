"""Whether the room that something needs is clear of a solid: proven, for any two fields.

A room is a field and a box that holds it. Its box is cut into cells; both fields are
1-Lipschitz, so a cell's centre speaks for the whole cell within half its diagonal. Cells
that lie outside the room, or that are certainly clear, are dropped, the others halved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.fields import Box, Field, HalfSpace
from geomgen.geometry.frames import Frame, Vec
from geomgen.geometry.solid_field import Solid

Floats = NDArray[np.float64]

_FIRST = 24.0
_MOST = 6_000
_FINEST = 1e-3
_EIGHT = np.array([(x, y, z) for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)])


@dataclass(frozen=True)
class Room:
    """The room that a tool or a nut needs: a field, and a box that holds all of it."""

    field: Field
    box: Box


def clearance(
    room: Room,
    thing: Field,
    enough: float,
    tolerance: float = 0.5,
    stop: float = -math.inf,
) -> tuple[float, float]:
    """Least signed distance of a solid from any point of a room, between two bounds [mm].

    Where wide faces lie along one another the bounds may stay farther apart than asked.

    Args:
        room: the room.
        thing: field of the solid; negative in it.
        enough: farther than this need not be known more closely.
        tolerance: upper bound less lower, unless both are beyond ``enough``.
        stop: nearer than this need not be known more closely either.

    Returns:
        Nothing in the room is nearer than the first; something certainly is as near as the
        second, where that is not infinite.
    """
    apart = _apart(room.box, thing)
    if apart >= enough:
        return apart, math.inf
    centres, half = _cells(room.box)
    lower, upper = math.inf, math.inf
    while len(centres) and upper >= stop:
        reach = half * math.sqrt(3.0)
        own = room.field.distance(centres)
        centres, own = centres[own <= reach], own[own <= reach]
        away = thing.distance(centres)
        if len(away) == 0:
            break
        # A cell's centre just outside the room has a point of the room within its distance.
        upper = min(upper, float((away + np.maximum(own, 0.0)).min()))
        bound = away - reach
        done = (bound >= enough) | (bound >= upper - tolerance) | (half < _FINEST)
        # Where two wide faces lie alike, some cells are followed, the others' bounds stand.
        left = np.flatnonzero(~done)
        done[left[np.argsort(bound[left], kind="stable")[_MOST:]]] = True
        lower = min(lower, float(bound[done].min(initial=math.inf)))
        centres = centres[~done]
        half *= 0.5
        centres = (centres[:, None, :] + half * _EIGHT).reshape(-1, 3)
    # Stopped early: what has not been looked at may be nearer still.
    return (min(lower, upper) if upper >= stop else -math.inf), upper


def _apart(box: Box, thing: Field) -> float:
    """A lower bound on the distance from a box, tight where faces lie along axes [mm]."""
    low, high = np.array(box.low), np.array(box.high)
    if isinstance(thing, Box | Solid):
        gaps = np.maximum(np.array(thing.low) - high, low - np.array(thing.high))
        return float(np.linalg.norm(np.maximum(gaps, 0.0))) if gaps.max() > 0.0 else -math.inf
    if isinstance(thing, HalfSpace):
        nearest = np.where(np.array(thing.normal) > 0.0, low, high)
        return float(thing.distance(nearest[None])[0])
    return -math.inf


def ball(box: Box) -> tuple[Vec, float]:
    """Centre and radius of the ball round a box [mm]."""
    low, high = np.array(box.low), np.array(box.high)
    x, y, z = (0.5 * (low + high)).tolist()
    return (x, y, z), 0.5 * float(np.linalg.norm(high - low))


def around(*boxes: Box) -> Box:
    """The box that holds some boxes."""
    low = np.min([box.low for box in boxes], axis=0).tolist()
    high = np.max([box.high for box in boxes], axis=0).tolist()
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def bar_box(begin: Vec, end: Vec, radius: float) -> Box:
    """The box that holds a round bar with flat ends, just."""
    a, b = np.array(begin), np.array(end)
    axis = (b - a) / np.linalg.norm(b - a)
    out = radius * np.sqrt(np.maximum(1.0 - axis * axis, 0.0))
    low, high = (np.minimum(a, b) - out).tolist(), (np.maximum(a, b) + out).tolist()
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _cells(box: Box) -> tuple[Floats, float]:
    """Centres (n, 3) and half edge of cubes that fill a box."""
    low, size = np.array(box.low), np.array(box.high) - np.array(box.low)
    edge = min(_FIRST, max(float(size.min()), 1.0))
    counts = np.maximum(np.ceil(size / edge - 1e-9).astype(int), 1)
    steps = np.stack(np.meshgrid(*(np.arange(n) for n in counts), indexing="ij"), axis=-1)
    spare = 0.5 * (counts * edge - size)
    return low - spare + edge * (steps.reshape(-1, 3) + 0.5), 0.5 * edge


def turned(box: Box, frame: Frame) -> Box:
    """The box along the world's axes that holds a box along a frame's."""
    if frame == Frame():
        return box
    corners = [
        frame.point((x, y, z))
        for x in (box.low[0], box.high[0])
        for y in (box.low[1], box.high[1])
        for z in (box.low[2], box.high[2])
    ]
    lows, highs = (
        tuple(pick(corner[k] for corner in corners) for k in range(3)) for pick in (min, max)
    )
    return Box((lows[0], lows[1], lows[2]), (highs[0], highs[1], highs[2]))
