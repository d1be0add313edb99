"""Names of holes on sheets and pictures lie on no lettering and on no edge."""

import re
from dataclasses import replace

import pytest
from cut_plates import around, cut
from pdf_paths import MM, opened, paths

from geomgen.design.model import Files
from geomgen.profiles.loops import Box, Line
from geomgen.report._labels import inked, place
from geomgen.report.flange_picture import picture
from geomgen.report.sheet_pdf import pictures

PART = cut("laser")


def lettered(at, size=4.0):
    """The part with a row of upright strokes through a place, as lettering has them."""
    x, y = at
    strokes = tuple(
        Line((x + 0.8 * k, y - size / 2.0), (x + 0.8 * k, y + size / 2.0)) for k in range(-12, 13)
    )
    return replace(PART, centre_marks=strokes, lettering=None)


def hits(box, strokes):
    return sum(
        box.left < s.start[0] < box.right
        and box.bottom < max(s.start[1], s.end[1])
        and min(s.start[1], s.end[1]) < box.top
        for s in strokes
    )


@pytest.mark.parametrize("side", [1, -1])
def test_a_name_moves_off_lettering(side):
    hole = PART.holes[0]
    part = lettered((hole.at[0], hole.at[1] + side * (hole.diameter / 2.0 + 2.0)))
    box = place(hole, (4.0, 1.6), 0.8, inked(part))
    assert hits(box, part.marks) == 0
    # and without lettering it stands above its hole
    alone = place(hole, (4.0, 1.6), 0.8, ())
    assert alone.bottom - hole.at[1] == pytest.approx(hole.diameter / 2.0 + 0.8)


def test_names_on_the_sheet_lie_clear_of_lettering_as_another_library_reads_them():
    hole = PART.holes[0]
    part = lettered((hole.at[0], hole.at[1] + hole.diameter / 2.0 + 2.0))
    ((_, data),) = pictures(around(part, files=Files(paper="a3"))).items()
    page = opened(data)[0]
    text = page.get_textpage()
    whole = text.get_text_range()
    at = whole.index("1a")
    left, bottom, right, top = (MM * side for side in text.get_charbox(at))
    (strokes,) = (path for path in paths(page) if path.colour[2] > 150)
    left_, bottom_, right_, top_ = strokes.box
    assert right_ - left_ == pytest.approx(0.8 * 24, abs=0.05)
    assert not (left < right_ and left_ < right and bottom < top_ and bottom_ < top)


def test_a_tapped_hole_s_name_moves_off_lettering_in_the_picture():
    hole = next(hole for hole in PART.holes if hole.kind == "tapped")
    part = lettered((hole.at[0], hole.at[1] + hole.diameter / 2.0 + 3.0), 6.0)
    text = picture(part, "test", "A")
    x, y, size = map(
        float,
        re.search(r'<text x="(\S+)" y="(\S+)" font-size="(\S+)"[^>]*>tapped 1<', text).groups(),
    )
    wide = 0.5 * size * len("tapped 1")
    assert hits(Box(x - wide / 2.0, -y, x + wide / 2.0, -y + 0.7 * size), part.marks) == 0
