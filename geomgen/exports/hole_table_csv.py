"""Hole table as CSV: every bolt hole of every flat part, cut or to be drilled.

Centres are in the part's own x and y, seen from the tube side, in mm whatever the DXF's unit.
"""

from __future__ import annotations

import csv
import io
import math

from geomgen.design.model import Design, Hole

NAME = "hole-table-csv"

FILE = "hole_table.csv"

COLUMNS = (
    "manifold",
    "revision",
    "part",
    "material",
    "quantity",
    "thickness_mm",
    "process",
    "hole",
    "thread",
    "x_mm",
    "y_mm",
    "diameter_mm",
    "how",
    "kind",
    "pilot_mm",
    "slot_mm",
    "slot_deg",
    "cut_thickness_mm",
    "note",
)

_HOW = {
    "cut": "cut",
    "pilot": "cut pilot, drill after cutting",
    "mark": "centre mark, drill after cutting",
}


def export(design: Design) -> dict[str, bytes]:
    """One row a hole; millimetres to 0.01, degrees to 0.1, empty where there is none.

    Nothing where there is no flat part.
    """
    if not design.flats:
        return {}
    stream = io.StringIO(newline="")
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(COLUMNS)
    for part in design.flats:
        for hole in part.holes:
            table.writerow(
                (
                    design.name,
                    design.revision,
                    part.name,
                    part.material,
                    part.quantity,
                    f"{part.thickness:g}",
                    part.process,
                    hole.name,
                    hole.thread,
                    f"{hole.at[0] + 0.0:.2f}",
                    f"{hole.at[1] + 0.0:.2f}",
                    f"{hole.diameter:.2f}",
                    how(hole),
                    hole.kind,
                    f"{hole.pilot:.2f}" if hole.how == "pilot" else "",
                    f"{hole.slot:.2f}" if hole.slot > 0.0 else "",
                    f"{slot_degrees(hole):.1f}" if hole.slot > 0.0 else "",
                    f"{part.cut_thickness:g}",
                    hole.note,
                )
            )
    return {FILE: stream.getvalue().encode("utf-8")}


def how(hole: Hole) -> str:
    """How it is made, in words; a tapped hole's diameter is its tap drill."""
    tapped = f", tap {hole.thread}" if hole.kind == "tapped" else ""
    return _HOW[hole.how] + tapped


def slot_degrees(hole: Hole) -> float:
    """Direction of a slot from x towards y, from 0 up to 180 [deg]."""
    return round(math.degrees(hole.turn), 6) % 180.0 + 0.0
