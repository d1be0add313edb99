"""The hole table against the places that the spec gives."""

import csv
import io

from cut_plates import around as plates_around
from cut_plates import cut
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


def test_pilots_slots_taps_and_dowels_have_their_columns():
    found = {r["hole"]: r for r in rows(plates_around(cut("plasma")))}
    how = {name: r["how"] for name, r in found.items()}
    # 10 mm as cut (8 finished and 2 to face): plasma cuts 15 and more to size, pilots of 10 on
    assert how == {
        "stud 1a": "centre mark, drill after cutting",
        "stud 1b": "cut pilot, drill after cutting",
        "stud 2a": "centre mark, drill after cutting",
        "stud 2b": "cut",
        "tapped 1": "centre mark, drill after cutting, tap M8",
        "dowel 1": "cut pilot, drill after cutting",
    }
    assert [found[n]["pilot_mm"] for n in ("stud 1b", "dowel 1", "stud 2b")] == [
        "11.50",
        "12.00",
        "",
    ]
    assert (found["stud 2a"]["slot_mm"], found["stud 2a"]["slot_deg"]) == ("3.00", "17.2")
    assert (found["stud 1a"]["slot_mm"], found["stud 1a"]["slot_deg"]) == ("", "")
    # tap drill of a coarse M8 thread, 6.8: ISO 2306 as quoted in public tables
    assert (found["tapped 1"]["kind"], found["tapped 1"]["diameter_mm"]) == ("tapped", "6.80")
    assert found["dowel 1"]["note"] == "ream H7"
    assert {(r["thickness_mm"], r["cut_thickness_mm"]) for r in found.values()} == {("8", "10")}
