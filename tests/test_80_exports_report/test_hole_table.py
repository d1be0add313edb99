"""The hole table against the places that the spec gives."""

import csv
import io

from flat_demo import AT_EACH_PORT, around, flange

from geomgen.exports.hole_table_csv import COLUMNS, FILE, export


def rows(design):
    return list(csv.DictReader(io.StringIO(export(design)[FILE].decode())))


def test_every_stud_has_its_row_at_its_place():
    found = rows(around(flange()))
    wanted = [(92.0 * k + dx, dy) for k in range(4) for dx, dy in AT_EACH_PORT]
    assert [(float(r["x_mm"]), float(r["y_mm"])) for r in found] == wanted
    assert tuple(found[0]) == COLUMNS
    # ISO 273 medium for M8
    assert {r["diameter_mm"] for r in found} == {"9.00"}
    assert {r["how"] for r in found} == {"centre mark, drill after cutting"}
    assert found[0]["hole"] == "stud 1a"


def test_cut_holes_say_so():
    assert {r["how"] for r in rows(around(flange(process="laser", thread="M10")))} == {"cut"}
