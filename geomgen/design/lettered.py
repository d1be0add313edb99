"""The lettering of a plate: what is wanted on it, and where that finds room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from geomgen.design.lettering import ARROW, PENNANT, Block, layouts, spelled
from geomgen.design.marking import Mask, Placed, Points, Room, caps, place, room
from geomgen.plates import Plate
from geomgen.profiles.loops import Line, Loop, Point2, bounding_box

CLEAR = 2.0
"""From lettering to every edge [mm]."""

CAP_LEAST, CAP_MOST = 3.0, 10.0
"""Least and greatest height of a capital [mm]; common practice, no source."""


@dataclass(frozen=True)
class Lettering:
    """The lettering of a plate; where it goes is looked for when it is asked for.

    A check of a design needs none of it, and looking for room takes longer than all else of a
    plate.

    Attributes:
        plate: that is lettered.
        cuts: every opening in it, at its finished size.
        text: manifold and revision.
    """

    plate: Plate
    cuts: tuple[Loop, ...]
    text: str

    @cached_property
    def placed(self) -> tuple[tuple[Line, ...], tuple[str, ...]]:
        """Strokes of all lettering, and a note for each that found no room."""
        return _lettered(self.plate, self.cuts, self.text)


@dataclass(frozen=True)
class _Wanted:
    """One lettering: what it is, how it may be broken, and where it should stand."""

    what: str
    blocks: tuple[Block, ...]
    turnable: bool = True
    near: Point2 | None = None


def _wanted(plate: Plate, text: str) -> list[_Wanted]:
    """All lettering but the cylinder numbers, most needed first."""
    name = plate.name.replace("_", " ").upper()
    wanted = [
        _Wanted(
            "UP with its arrow and pennant",
            (
                Block(("UP" + ARROW + PENNANT,)),
                Block((ARROW + PENNANT, "UP")),
                Block((ARROW, PENNANT, "UP")),
            ),
            turnable=False,
        ),
        _Wanted(plate.face, layouts(plate.face)),
        _Wanted(text, layouts(text)),
    ]
    if spelled(name) not in spelled(text):
        wanted.append(_Wanted(name, layouts(name)))
    wanted += [
        _Wanted(label.text, layouts(label.text), near=label.near)
        for label in plate.labels
        if label.text.strip()
    ]
    return wanted


def _lettered(
    plate: Plate, cuts: tuple[Loop, ...], text: str
) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    left = room(plate.outer, cuts, CLEAR)
    strokes: list[Line] = []
    notes: list[str] = []
    box = bounding_box(plate.outer)
    middle = ((box.left + box.right) / 2.0, (box.bottom + box.top) / 2.0)
    for one in _wanted(plate, text):
        near, within = (middle, None) if one.near is None else (one.near, _anywhere)
        found = place(left, one.blocks, (CAP_LEAST, CAP_MOST), near, within, turnable=one.turnable)
        if found is None:
            notes.append(_no_room(one.what))
            continue
        strokes.extend(found.strokes)
        left = left.with_taken(found)
    for number in _numbers(left, plate.windows, plate.cylinders, notes):
        strokes.extend(number.strokes)
    return tuple(strokes), tuple(notes)


def _anywhere(places: Points) -> Mask:
    """Every place will do: the nearest of those that take the greatest height is taken."""
    everywhere: Mask = np.ones(len(places), dtype=np.bool_)
    return everywhere


def _numbers(
    plate: Room, windows: tuple[Loop, ...], cylinders: tuple[int, ...], notes: list[str]
) -> list[Placed]:
    """Cylinder numbers, one height for all, each as near above its own window as can be."""
    boxes = [bounding_box(window) for window in windows]
    centres = [((b.left + b.right) / 2.0, (b.bottom + b.top) / 2.0) for b in boxes]

    def own(k: int, places: Points) -> Mask:
        """Places that are nearer to window k than to any other."""
        away = np.array([np.hypot(places[:, 0] - x, places[:, 1] - y) for x, y in centres])
        nearest: Mask = away[k] <= away.min(axis=0) + 1e-9
        return nearest

    blocks = [Block((str(cylinder),)) for cylinder in cylinders]
    room_for = [
        float(caps(plate, plate.places[own(k, plate.places)], block, True).max(initial=0.0))
        for k, block in enumerate(blocks)
    ]
    cap = min([6.0, *(math.floor(4.0 * c) / 4.0 for c in room_for if c >= CAP_LEAST)])
    found = []
    for k, (cylinder, block) in enumerate(zip(cylinders, blocks, strict=True)):
        near = (centres[k][0], boxes[k].top)
        number = place(plate, (block,), (CAP_LEAST, cap), near, partial(own, k), turnable=False)
        if number is None:
            notes.append(_no_room(f"cylinder number {cylinder}"))
        else:
            found.append(number)
            plate = plate.with_taken(number)
    return found


def _no_room(what: str) -> str:
    return (
        f"{what}: no place {CLEAR:g} mm clear of every edge for letters "
        f"of {CAP_LEAST:g} mm; mark it by hand"
    )
