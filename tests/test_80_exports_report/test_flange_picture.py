"""The picture of a flat part: well formed, true arcs, y turned once, the same every time."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest
from cut_plates import HOLES, cut
from flat_demo import around, flange, flanges

from geomgen.design.flat_model import PLAIN, Files, Kerf
from geomgen.profiles.loops import Arc, Line, bounding_box
from geomgen.report.flange_picture import DRILL, path, picture, pictures
from geomgen.report.flat_words import headline, notes

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def text():
    return picture(flange(), "brackenhall-20-sprint", "A")


def test_it_is_well_formed_and_in_millimetres(text):
    root = ET.fromstring(text)
    assert root.tag == f"{SVG}svg"
    left, top, width, height = (float(v) for v in root.get("viewBox").split())
    assert root.get("width") == f"{width:g}mm"
    box = bounding_box(flange().profile.outer)
    assert left < box.left
    assert left + width > box.right
    assert top < -box.top
    assert top + height > -box.bottom


def test_every_text_lies_on_the_sheet(text):
    root = ET.fromstring(text)
    left, top, width, height = (float(v) for v in root.get("viewBox").split())
    for node in root.iter(f"{SVG}text"):
        x, y, size = (float(node.get(k)) for k in ("x", "y", "font-size"))
        # a sans letter is about 0.55 of its size wide: common practice, no source
        reach = 0.6 * size * len(node.text)
        start = x - reach / 2 if node.get("text-anchor") == "middle" else x
        assert left <= start
        assert start + (0 if node.get("transform") else reach) <= left + width
        assert top <= y - size
        assert y <= top + height


def test_it_says_sizes_material_and_what_to_drill(text):
    words = " ".join(node.text or "" for node in ET.fromstring(text).iter(f"{SVG}text"))
    for wanted in ("367.0", "95.0", "92.0", "304", "10 mm", "plasma", "mark, drill", "tube side"):
        assert wanted in words
    assert words.count("9.0") >= 8


def test_arcs_are_arcs():
    quarter = Arc((0.0, 0.0), 10.0, 0.0, 1.5707963267948966)
    loop = (quarter, Line((0.0, 10.0), (0.0, 0.0)), Line((0.0, 0.0), (10.0, 0.0)))
    # counter-clockwise with y up is sweep flag 0 with y down
    assert path(loop) == "M10 0 A10 10 0 0 0 0 -10 L0 0 L10 0 Z"


def test_there_is_one_picture_a_part_and_no_clock(text):
    files = pictures(around(flange()))
    assert files == {"flats/head_flange.svg": text.encode()}
    assert not re.search(r"20\d\d-\d\d-\d\d|\d\d:\d\d", text)


def test_names_are_escaped():
    ET.fromstring(picture(flange(title="A & <B>", ports=1), "x & y", "<1>"))


def test_the_head_line_says_what_it_is_and_of_what():
    assert headline(flange(ports=1)) == "Head flange"
    assert headline(flange(ports=1, title="4-1 header")) == "Head flange: 4-1 header"


def test_cut_holes_need_no_drilling_note():
    texts = " ".join(notes(flange(process="laser", thread="M10")))
    assert "drill" not in texts.replace("as drilled", "")
    assert "NOT cut" in " ".join(notes(flange()))


def words_of(part, files=PLAIN):
    root = ET.fromstring(picture(part, "wren-12", "B", files))
    return " ".join(node.text or "" for node in root.iter(f"{SVG}text"))


def test_slots_pilots_taps_and_facing_are_said_and_drawn():
    part = cut("laser")
    words = words_of(part)
    for wanted in (
        "10 mm, faced to 8 mm",
        "9.0 x 12.0 at 17 deg",
        "cut 7.0, drill, mill",
        "mark, drill, tap",
        "cut 12.0, drill, ream",
        "face 2 mm off the gasket side",
        "with washer",
        "Flat within 0.15 after cutting",
    ):
        assert wanted in words
    dashed = [
        node.get("d")
        for node in ET.fromstring(picture(part, "wren-12", "B")).iter(f"{SVG}path")
        if node.get("stroke") == DRILL
    ]
    assert dashed == [path(hole.loop) for hole in part.holes if hole.how != "cut"]


def test_the_notes_say_unit_version_layers_and_kerf():
    files = Files(version="R12", unit="inch", cut="PROFIL", mark="ETCH", kerf=Kerf(1.6))
    words = words_of(cut(), files)
    assert "R12 cannot say its unit in the file: say inches in the order" in words
    assert "PROFIL is cut; ETCH is a light etch" in words
    assert "test_flange_10mm_304_kerf_compensated_inch.dxf is the path of the torch" in words
    assert "mirrored" in words


def test_a_dowel_s_hole_is_not_to_be_drilled_to_its_own_size():
    # a reamer takes 0.2 to 0.3 mm: drilled to 14.0 there is nothing left for it
    words = words_of(cut("plasma"))
    drills = re.findall(r"drill ([\d., ]+) mm after cutting", words)
    assert drills
    assert not any("14.0" in some for some in drills)
    assert "as reamed, H7. Drill 0.2 to 0.3 mm under it" in words


def test_the_tool_of_the_kerf_file_is_the_process_s():
    for process, tool in (("plasma", "torch"), ("laser", "beam"), ("waterjet", "jet")):
        words = words_of(cut(process), Files(kerf=Kerf(1.0)))
        assert f"is the path of the {tool}: kerf 1 mm" in words


def test_a_part_away_from_the_origin_says_where_its_window_is():
    first, second = flanges(outline="separate", ports=2)
    assert not any("origin of x and y" in note for note in notes(first))
    # ports are 92 mm apart
    assert any("window is at x 92.00, y 0.00" in note for note in notes(second))


def test_a_gasket_s_sheet_need_not_be_flat_after_cutting():
    assert "Flat within" in words_of(cut())
    assert not any(n.startswith("Flat within 0.15 mm") for n in notes(cut(sheet=True)))


def test_a_stud_s_name_that_would_lie_on_an_edge_moves_beside_its_hole():
    # 14 mm of boss and a gap end just below an edge that is 19 mm above the hole
    outer = tuple(
        Line(a, b)
        for a, b in pairwise(
            [(-60.0, -50.0), (200.0, -50.0), (200.0, 53.0), (-60.0, 53.0), (-60.0, -50.0)]
        )
    )
    part = cut(outer=outer, holes=(replace(HOLES[0], at=(20.0, 34.0)),))
    text = picture(part, "wren-12", "B")
    y, size = map(float, re.search(r'y="(\S+)" font-size="(\S+)"[^>]*>1a<', text).groups())
    assert -y + 0.7 * size < 53.0 or -y > 53.0
