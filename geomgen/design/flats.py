"""From a plate to the part that is cut: holes by process, centre marks, lettering."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from geomgen.design.cutting import Cutter
from geomgen.design.lettering import ARROW, PENNANT, Block, layouts, spelled
from geomgen.design.marking import Mask, Placed, Points, Room, caps, cross, place, room
from geomgen.design.model import FlatPart, Hole, Process
from geomgen.plates import Plate, PlateHole
from geomgen.profiles.loops import Line, Loop, Point2, Profile, bounding_box

CLEAR = 2.0
"""From lettering to every edge [mm]."""

SHORT_SLOT = 0.01
"""A slot that is longer than round by less is a round hole [mm]: no cutter can tell."""

CAP_LEAST, CAP_MOST = 3.0, 10.0
"""Least and greatest height of a capital [mm]; common practice, no source."""


def flat_part(
    plate: Plate,
    *,
    text: str,
    process: Process,
    ratio: float = math.inf,
    floor: float = 0.0,
    cutter: Cutter | None = None,
) -> FlatPart:
    """A plate as it is cut.

    Args:
        plate: at its finished size.
        text: lettering: manifold and revision.
        process: how it is cut.
        ratio: least hole over thickness that the process cuts, to size or to be drilled out [-].
        floor: least hole that the process cuts at all [mm].
        cutter: what the process holds, in place of ``ratio`` and ``floor``.
    """
    thickness = plate.thickness + plate.facing
    holds = cutter or Cutter(ratio, ratio, floor=floor)
    holes = tuple(_hole(hole, thickness, holds) for hole in plate.holes)
    finished = tuple(hole.loop for hole in holes)
    cut = tuple(loop for hole in holes if (loop := hole.cut_loop) is not None)
    marks = [
        stroke
        for hole in holes
        if hole.how == "mark"
        for centre in hole.centres
        for stroke in cross(centre, min(3.0, 0.35 * hole.diameter))
    ]
    openings = (*plate.windows, *plate.cuts)
    lettering, notes = _lettering(plate, (*openings, *finished), text)
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
        loose=plate.loose,
        sheet=plate.sheet,
        window_wall=plate.window_wall,
    )


def _hole(hole: PlateHole, thickness: float, cutter: Cutter) -> Hole:
    how, pilot = cutter.made(hole.kind, hole.diameter, thickness)
    return Hole(
        name=hole.name,
        at=hole.at,
        diameter=hole.diameter,
        thread=hole.thread,
        how=how,
        cut_ratio=hole.diameter / thickness,
        cut_limit=cutter.size_limit(thickness),
        boss=hole.boss,
        pilot=pilot,
        kind=hole.kind,
        slot=hole.slot if hole.slot >= SHORT_SLOT else 0.0,
        turn=hole.turn,
        note=hole.note,
    )


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
        _Wanted("TUBE SIDE", layouts("TUBE SIDE")),
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


def _lettering(
    plate: Plate, cuts: tuple[Loop, ...], text: str
) -> tuple[list[Line], tuple[str, ...]]:
    """Strokes of all lettering, and a note for each that found no room."""
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
    return strokes, tuple(notes)


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
