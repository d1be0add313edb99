"""The edge of a plate, and whether windows and holes lie within it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from geomgen.fasteners import FASTENERS
from geomgen.plates import NoPlate, Plate, PlateHole, hole_loop
from geomgen.profiles.convex import hull_of_circles
from geomgen.profiles.distances import inside, loop_to_loop
from geomgen.profiles.loops import Loop, Point2, area, circle, placed
from geomgen.profiles.union import closing

APART = 1e-6
"""Edges nearer than this meet [mm]."""


def hugged(
    holes: Sequence[PlateHole],
    window: Sequence[tuple[Point2, float]],
    land: float,
    waist: float | None,
) -> Loop:
    """The tightest edge round all bosses and the window with its land.

    Args:
        holes: each with its boss.
        window: circles whose hull is the window, centre and radius [mm].
        land: metal round the window [mm].
        waist: radius of hollows between them; None for straights [mm].

    Raises:
        NoPlate: hollows of the radius part the plate.
    """
    grown = [(centre, radius + land) for centre, radius in window]
    bosses = [(hole.at, hole.boss) for hole in holes]
    if waist is None:
        return hull_of_circles([*grown, *bosses])
    shapes = [hull_of_circles(grown), *(circle(at, radius) for at, radius in bosses)]
    loops = closing(shapes, waist)
    if sum(area(loop) > 0.0 for loop in loops) != 1:
        raise NoPlate(
            ("waist",),
            f"{waist:g} mm, which leaves the plate in pieces",
            "hollows that leave one piece",
            "make waist larger, or take it out",
        )
    return loops[0]


def turned(plate: Plate, turn: float) -> Plate:
    """A plate with everything on it turned about its middle, clockwise [rad]."""
    if turn == 0.0:
        return plate
    middle = (0.0, 0.0)
    c, s = math.cos(turn), math.sin(turn)

    def all_turned(loops: Sequence[Loop]) -> tuple[Loop, ...]:
        return tuple(placed(loop, middle, -turn) for loop in loops)

    return replace(
        plate,
        outer=placed(plate.outer, middle, -turn),
        windows=all_turned(plate.windows),
        cuts=all_turned(plate.cuts),
        reference=all_turned(plate.reference),
        holes=tuple(
            replace(
                hole,
                at=(c * hole.at[0] + s * hole.at[1], c * hole.at[1] - s * hole.at[0]),
                turn=hole.turn - turn,
            )
            for hole in plate.holes
        ),
    )


def sound(plate: Plate, edge: str | None, window: str, bolts: str = "bolts") -> Plate:
    """The plate, if its windows and holes lie apart from each other and within its edge.

    Args:
        plate: as it was laid out.
        edge: key that decides where its edge is; None where that is given.
        window: key of its windows.
        bolts: key of its holes.

    Raises:
        NoPlate: they do not.
    """
    holes = [
        (hole.name, hole_loop(hole.at, hole.diameter, hole.slot, hole.turn)) for hole in plate.holes
    ]
    windows = [(f"window {k + 1}", loop) for k, loop in enumerate(plate.windows)]
    for name, loop in (*windows, *holes):
        if not inside(loop[0].start, plate.outer) or loop_to_loop(loop, plate.outer) < APART:
            raise NoPlate(
                (edge or (window if (name, loop) in windows else bolts),),
                f"{name} reaching over the edge",
                "windows and holes within the plate",
                f"correct {' or '.join(dict.fromkeys(filter(None, (edge, window, bolts))))}",
            )
    for (name, loop), (other, its) in combinations(windows, 2):
        _apart(name, loop, other, its, window)
    for (name, loop), (other, its) in [
        *combinations(holes, 2),
        *((h, w) for h in holes for w in windows),
    ]:
        _apart(name, loop, other, its, bolts)
    return plate


def _apart(name: str, loop: Loop, other: str, its: Loop, key: str) -> None:
    within = inside(loop[0].start, its) or inside(its[0].start, loop)
    if within or loop_to_loop(loop, its) < APART:
        raise NoPlate(
            (key,),
            f"{name} running into {other}",
            "windows and holes apart from each other",
            "move them apart, or make them smaller",
        )


def for_bolts(holes: Sequence[PlateHole]) -> tuple[PlateHole, ...]:
    """The holes that a plate needs which is bolted on to one with these holes.

    Where the other one is tapped, this one has clearance holes, ISO 273 medium. Holes keep their
    sizes and lose their reasons: the plate is bolted on cold.
    """
    return tuple(
        replace(
            hole,
            diameter=FASTENERS[hole.thread].hole("medium"),
            kind="clearance",
            note="",
        )
        if hole.kind == "tapped" and hole.thread in FASTENERS
        else replace(hole, note="with washer" if "with washer" in hole.note else "")
        for hole in holes
    )
