"""Merge spikes: the filler between the tubes of a round merge, about its axis.

From the entry (where the tubes begin to lean) the tubes leave a star-shaped gap about the axis,
which closes where their outsides meet on it, at (rho - R / cos a) / tan a. Hollow, the spike
fills that star up to a land short of the narrowest place between neighbours. Flat, it is the
pyramid whose sides touch each tube along one line: a plane square to the tube's plane with the
axis, leaning as the tube does. Both are blunt: a point of no width cannot be made.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.families import DoesNotFit
from geomgen.families._arrays import Round
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Plane
from geomgen.profiles.loops import Line, Profile
from geomgen.recipe.nodes import Cut, Node, Prism, Trim, Tube

_LAND = 0.1
"""Short of the narrowest place between neighbours, over the tubes' radius: no knife edge."""

_TIP = 0.5
"""How far the tip's flats are from the axis [mm]; common practice: thinner points burn."""


@dataclass(frozen=True)
class Spike:
    """A spike laid out in the merge's frame.

    Attributes:
        node: its solid.
        base, tip: stations of its ends [mm].
        flat: whether it is the flat-sided pyramid.
    """

    node: Node
    base: float
    tip: float
    flat: bool

    @property
    def name(self) -> str:
        """Of its part."""
        return "spike_pyramid" if self.flat else "spike"


def spike(array: Round, base: float, flat: bool, key: tuple[str | int, ...]) -> Spike:
    """The filler of a round merge from a station on.

    Args:
        array: the tubes.
        base: where all of them lean.
        flat: a flat-sided pyramid in place of hollow sides.
        key: of the spec's section, for messages.

    Raises:
        DoesNotFit: the tubes leave nothing to be filled.
    """
    radius = array.tube.outer_radius
    # A tube's side nearest the axis is R / cos a from its own axis, square to the merge's.
    tip = (array.rho - radius / array.cos - _TIP) / array.tan
    if array.count < 3 or tip - base < 2.0 * _TIP:
        raise DoesNotFit(
            (*key, "spike"),
            f"a spike between {array.count} tubes",
            "three tubes or more, with a gap about the axis",
            "take spike out: the tubes' own edges make the point",
        )
    node = _pyramid(array, base, tip) if flat else _hollow(array, base, tip)
    return Spike(node, base, tip, flat)


def _pyramid(array: Round, base: float, tip: float) -> Node:
    apothem = array.reach(base) - array.tube.outer_radius / array.cos
    blank = _prism(2.0 * apothem / math.cos(array.beta), array.turns, base, tip)
    at = (apothem, 0.0, base)
    sides = tuple(
        Plane(turn.point(at), turn.vector((array.cos, 0.0, array.sin)))
        for turn in (Frame().rolled(angle) for angle in array.turns)
    )
    return Trim(blank, sides)


def _hollow(array: Round, base: float, tip: float) -> Node:
    radius = array.tube.outer_radius
    narrow = array.narrow(radius) - _LAND * radius
    blank = _prism(narrow / math.cos(array.beta), array.turns, base, tip)
    turned = tuple(Frame().rolled(angle) for angle in array.turns)
    own = array.lean[0]
    # All of it is on this side of the tubes' axes.
    inside = tuple(Plane(turn.point(own.origin), turn.vector(own.x)) for turn in turned)
    reach = tip / array.cos + 2.0 * radius * array.tan + 10.0
    rods = tuple(
        Tube(Centreline(turn.carried(own).moved(-radius), (Straight(reach + radius),)), radius)
        for turn in turned
    )
    return Cut(Trim(blank, inside), rods)


def _prism(around: float, turns: tuple[float, ...], base: float, tip: float) -> Prism:
    """A regular prism with an edge towards every tube, ``around`` mm from the axis."""
    corners = [(around * math.cos(turn), around * math.sin(turn)) for turn in turns]
    sides = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    return Prism(Frame().moved(base), Profile(sides), tip - base)
