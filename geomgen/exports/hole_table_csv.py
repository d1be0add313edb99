"""Hole table as CSV: every bolt hole of every flat part, cut or to be drilled.

Centres are in the part's own x and y, seen from the tube side, as in its DXF.
"""

from __future__ import annotations

import csv
import io

from geomgen.design.model import Design

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
)


def export(design: Design) -> dict[str, bytes]:
    """One row a hole; millimetres to 0.01."""
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
                    "cut" if hole.how == "cut" else "centre mark, drill after cutting",
                )
            )
    return {FILE: stream.getvalue().encode("utf-8")}
