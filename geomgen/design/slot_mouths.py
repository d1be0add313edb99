"""Corners at the mouths of relief slots: how sharp they are, and rounded."""

from __future__ import annotations

import math

from geomgen.profiles.convex import corner_turns
from geomgen.profiles.loops import Loop
from geomgen.profiles.union import erode, grown

MOUTH = 1.5
"""Radius of the corners at a slot's mouth [mm]; common practice, no source."""

HORN = math.radians(30.0)
"""A corner of less metal is a horn, of which rounding leaves too little [rad]; common practice, no
source."""


def blended(outer: Loop) -> tuple[Loop, tuple[float, ...]]:
    """A slotted outline with the corners at its slots' mouths rounded, and how sharp they were.

    Of an outline of fillets and bosses only slots make corners that stick out. Rounding is
    morphological opening: all else comes back to where it was.

    Returns:
        The outline, each such corner rounded with ``MOUTH`` (as it was where that cannot be), and
        the angles of metal at those that are sharper than ``HORN`` [rad].
    """
    metal = (math.pi - turn for turn in corner_turns(outer) if turn > 1e-6)
    horns = tuple(angle for angle in metal if angle < HORN)
    inner = erode((outer,), MOUTH)
    if len(inner) != 1:
        return outer, horns
    try:
        return grown(inner[0], MOUTH), horns
    except ValueError:
        return outer, horns


def warnings(missing: tuple[int, ...], horns: tuple[float, ...], gaps: int) -> tuple[str, ...]:
    """What is to be warned of.

    Args:
        missing: gaps between windows that have no slot, from 0.
        horns: metal at corners that are horns [rad].
        gaps: how many there are.
    """
    none = (
        f"relief slot {k + 1} of {gaps}, counted from the left: no place clear of windows and "
        "bosses; left out"
        for k in missing
    )
    sharp = (
        f"a relief slot leaves a horn of {math.degrees(horn):.0f} deg at the edge, rounded with "
        f"R{MOUTH:g}: grind it back"
        for horn in horns
    )
    return (*none, *sharp)
