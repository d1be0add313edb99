"""From a plate to the part that is cut: holes by process, centre marks, lettering."""

from __future__ import annotations

import math

from geomgen.design.cutting import Cutter
from geomgen.design.lettered import Lettering
from geomgen.design.marking import cross
from geomgen.design.model import FlatPart, Hole, Process
from geomgen.plates import Plate, PlateHole
from geomgen.profiles.loops import Profile

SHORT_SLOT = 0.01
"""A slot that is longer than round by less is a round hole [mm]: no cutter can tell."""


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
        centre_marks=tuple(marks),
        reference=plate.reference,
        cylinders=plate.cylinders,
        window_fit=plate.window_fit,
        window_style=plate.window_style,
        own_notes=plate.notes,
        lettering=Lettering(plate, (*openings, *finished), text),
        cuts=plate.cuts,
        facing=plate.facing,
        loose=plate.loose,
        sheet=plate.sheet,
        window_wall=plate.window_wall,
        whole=plate.whole,
        warnings=plate.warnings,
        lean=plate.lean,
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
