"""Plates that stand on edge on a round pipe: tabs and brackets, each with a hole."""

from __future__ import annotations

import math

from geomgen.attachments import Added
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Vec, cross
from geomgen.profiles.loops import Arc, Line, Loop, Profile, circle
from geomgen.recipe.nodes import Cut, Node, Prism, Tube


def tab(
    at: Frame,
    radial: Vec,
    radius: float,
    sizes: tuple[float, float, float, float],
) -> Node:
    """A tab along a pipe, its end rounded about its hole, its foot cut to the pipe.

    Args:
        at: on the pipe's axis; z the way the gas goes.
        radial: the side that it stands on, square to the axis.
        radius: of what it stands on [mm].
        sizes: width along the pipe, height of its hole over the pipe, thickness, and the hole's
            diameter [mm].
    """
    wide, high, thick, bore = sizes
    # x along the pipe, y out: the sheet's own plane holds the axis.
    flat = Frame(at.origin, at.z, cross(at.z, radial))
    frame = flat.moved(-thick / 2.0)
    low, top, half = math.sqrt(radius**2 - (thick / 2.0) ** 2) - 1.0, radius + high, wide / 2.0
    outer: Loop = (
        Line((-half, low), (half, low)),
        Line((half, low), (half, top)),
        Arc((0.0, top), half, 0.0, math.pi),
        Line((-half, top), (-half, low)),
    )
    sheet = Prism(frame, Profile(outer, (circle((0.0, top), bore / 2.0),)), thick)
    pipe = Centreline(at.moved(-wide), (Straight(2.0 * wide),))
    return Cut(sheet, (Tube(pipe, radius),))


def tab_adds(radius: float, sizes: tuple[float, float, float, float]) -> Added:
    """What such a tab adds.

    Its foot is where the pipe's circle cuts the sheet: of the circle's area and arc between the
    sheet's two faces (plane geometry).
    """
    wide, high, thick, bore = sizes
    half = thick / 2.0
    low = math.sqrt(radius**2 - half**2)
    turn = math.asin(half / radius)
    cap = math.pi * (wide / 2.0) ** 2 / 2.0 - math.pi * bore**2 / 4.0
    under = half * low + radius**2 * turn
    face = wide * (radius + high - low) + cap
    # The two edges end on the arc, the faces on straight lines.
    edges = 2.0 * (thick * (radius + high) - under)
    round_it = math.pi * (wide / 2.0 + bore) * thick
    return Added(
        metal=(wide * (radius + high) + cap) * thick - wide * under,
        outside=2.0 * face + edges + round_it - wide * 2.0 * radius * turn,
    )
