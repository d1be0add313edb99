"""Bolt holes of a plate, and the drills of threads in it."""

from __future__ import annotations

import math

from geomgen.fasteners import FASTENERS
from geomgen.plates import PlateHole
from geomgen.plates._said import Bolts
from geomgen.profiles.loops import Point2

TAP_DRILLS = {
    "M6": 5.0,
    "M8": 6.8,
    "M10": 8.5,
    "M12": 10.2,
    "M10x1": 9.0,
    "G1/8": 8.8,
    "G1/4": 11.8,
}
"""Drill for a thread [mm]: diameter less pitch, to the next drill on the shelf.

Metric coarse after ISO 2306, from memory; G threads of ISO 228-1 are 9.728 x 28 and
13.157 x 19 to the inch.
"""

_MAJOR = {"M10x1": 10.0, "G1/8": 9.728, "G1/4": 13.157}


def bolt_holes(bolts: Bolts, edge_factor: float) -> tuple[PlateHole, ...]:
    """Holes in the order that they are given, or clockwise from the top.

    Args:
        bolts: what was said.
        edge_factor: hole centre to edge over hole diameter [-].
    """
    fastener = FASTENERS[bolts.thread]
    tapped = bolts.hole == "tapped"
    clearance = fastener.hole(bolts.hole_class) if bolts.diameter is None else bolts.diameter
    diameter = TAP_DRILLS[bolts.thread] if tapped else clearance
    land = 0.0 if tapped else max(fastener.washer_od / 2.0 + 1.0, fastener.socket_radius)
    boss = max(land, edge_factor * max(diameter, fastener.diameter))
    return tuple(
        PlateHole(
            f"bolt {k + 1}", at, diameter, bolts.thread, boss, "tapped" if tapped else "clearance"
        )
        for k, at in enumerate(bolt_places(bolts))
    )


def bolt_places(bolts: Bolts) -> tuple[Point2, ...]:
    """Centres of the bolts [mm]."""
    if bolts.places is not None:
        return bolts.places
    if bolts.pitch is not None:
        x, y = bolts.pitch[0] / 2.0, bolts.pitch[1] / 2.0
        return ((x, y), (x, -y), (-x, -y), (-x, y))
    return on_circle(bolts.count or 0, (bolts.circle or 0.0) / 2.0, math.radians(bolts.phase))


def on_circle(count: int, radius: float, first: float) -> tuple[Point2, ...]:
    """Points evenly round a circle, clockwise, the first at an angle from the top [mm, rad]."""
    angles = (first + math.tau * k / count for k in range(count))
    # Rounding far below any cutter's keeps 0 from being written as -0.
    return tuple(
        (round(radius * math.sin(a), 12) + 0.0, round(radius * math.cos(a), 12) + 0.0)
        for a in angles
    )


def thread_size(thread: str) -> float:
    """Outside diameter of a thread [mm]."""
    return _MAJOR[thread] if thread in _MAJOR else FASTENERS[thread].diameter
