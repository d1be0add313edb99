"""From a plate to the part that is cut: holes by process, centre marks, lettering."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from geomgen.design.lettering import ARROW, Block, layouts
from geomgen.design.marking import Mask, Placed, Points, Room, caps, cross, place, room
from geomgen.design.model import FlatPart, Hole, Process
from geomgen.plates import Plate, PlateHole
from geomgen.profiles.loops import Line, Loop, Profile, bounding_box

CLEAR = 2.0
"""From lettering to every edge [mm]."""

CAP_LEAST, CAP_MOST = 3.0, 10.0
"""Least and greatest height of a capital [mm]; common practice, no source."""


def flat_part(
    plate: Plate, *, text: str, process: Process, ratio: float, floor: float = 0.0
) -> FlatPart:
    """A plate as it is cut.

    Args:
        plate: at its finished size.
        text: lettering: part name and revision.
        process: how it is cut.
        ratio: least hole over thickness that the process cuts to size [-].
        floor: least hole that the process cuts at all [mm].
    """
    thickness = plate.thickness + plate.facing
    limit = max(ratio, floor / thickness)
    holes = tuple(_hole(hole, thickness, limit) for hole in plate.holes)
    finished = tuple(hole.loop for hole in holes)
    cut = tuple(hole.loop for hole in holes if hole.how == "cut")
    marks = [
        stroke
        for hole in holes
        if hole.how == "mark"
        for stroke in cross(hole.at, min(3.0, 0.35 * hole.diameter))
    ]
    openings = (*plate.windows, *plate.cuts)
    lettering, notes = _lettering(
        plate.outer, (*openings, *finished), plate.windows, plate.cylinders, text
    )
    return FlatPart(
        name=plate.name,
        title=plate.title,
        material=plate.material,
        thickness=plate.thickness,
        process=process,
        quantity=plate.quantity,
        frame=plate.frame,
        profile=Profile(plate.outer, (*openings, *cut)),
        drilled=Profile(plate.outer, (*openings, *finished)),
        windows=plate.windows,
        holes=holes,
        marks=(*marks, *lettering),
        reference=plate.reference,
        cylinders=plate.cylinders,
        window_fit=plate.window_fit,
        window_style=plate.window_style,
        notes=(*plate.notes, *notes),
        cuts=plate.cuts,
        facing=plate.facing,
    )


def _hole(hole: PlateHole, thickness: float, limit: float) -> Hole:
    to_size = hole.kind == "clearance" and hole.diameter >= limit * thickness - 1e-9
    return Hole(
        name=hole.name,
        at=hole.at,
        diameter=hole.diameter,
        thread=hole.thread,
        how="cut" if to_size else "mark",
        cut_ratio=hole.diameter / thickness,
        cut_limit=limit,
        boss=hole.boss,
        kind=hole.kind,
        slot=hole.slot,
        turn=hole.turn,
        note=hole.note,
    )


def _lettering(
    outer: Loop,
    cuts: tuple[Loop, ...],
    windows: tuple[Loop, ...],
    cylinders: tuple[int, ...],
    text: str,
) -> tuple[list[Line], tuple[str, ...]]:
    """Strokes of all lettering, and a note for each that found no room."""
    plate = room(outer, cuts, CLEAR)
    strokes: list[Line] = []
    notes: list[str] = []
    box = bounding_box(outer)
    middle = ((box.left + box.right) / 2.0, (box.bottom + box.top) / 2.0)
    wanted: list[tuple[str, tuple[Block, ...], bool]] = [
        ("UP with an arrow", (Block(("UP" + ARROW,)), Block((ARROW, "UP"))), False),
        ("TUBE SIDE", layouts("TUBE SIDE"), True),
        (text, layouts(text), True),
    ]
    for what, blocks, turnable in wanted:
        found = place(plate, blocks, (CAP_LEAST, CAP_MOST), middle, turnable=turnable)
        if found is None:
            notes.append(_no_room(what))
            continue
        strokes.extend(found.strokes)
        plate = plate.with_taken(found)
    for number in _numbers(plate, windows, cylinders, notes):
        strokes.extend(number.strokes)
    return strokes, tuple(notes)


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
