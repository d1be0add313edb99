"""The sheet at full size, measured on paper by another library."""

import math
import re
from importlib.metadata import version
from itertools import pairwise

import pytest
from cut_plates import around, cut
from hypothesis import given
from hypothesis import strategies as st
from pdf_paths import opened, paths, words

from geomgen.design.model import Files
from geomgen.profiles.loops import Arc, Box, bounding_box
from geomgen.report._ink import curves
from geomgen.report._tiles import OVERLAP, PAPER, tiling
from geomgen.report.cautions import CAUTIONS
from geomgen.report.release import is_cut_from
from geomgen.report.sheet_pdf import pictures

PART = cut("laser")
BLACK = (0, 0, 0)
PAPERS = ("a4", "a3", "a0", "letter")


def sheet(part=PART, **said):
    ((name, data),) = pictures(around(part, files=Files(**said))).items()
    assert name == "flats/test_flange_sheet.pdf"
    return data


def full_size(data):
    """Pages with a drawing at full size, as their paths."""
    document = opened(data)
    return [
        paths(page)
        for page in document
        if "full size" in words(page).splitlines()[2] or "tile" in words(page)
    ]


@pytest.mark.parametrize("paper", PAPERS)
def test_outline_and_holes_measure_on_paper_what_the_design_says(paper):
    # read by pdfium; 0.05 mm on paper is the project's bar
    pages = full_size(sheet(paper=paper))
    assert len(pages) == 1
    drawn = [path for path in pages[0] if path.colour == BLACK]
    wanted = [bounding_box(loop) for loop in (PART.profile.outer, *PART.profile.holes)]
    assert len(drawn) == len(wanted)
    for path, box in zip(drawn, wanted, strict=True):
        assert path.size == pytest.approx((box.width, box.height), abs=0.05)
    # and every opening where it is in the outline
    left, bottom, _, _ = drawn[0].box
    for path, box in zip(drawn, wanted, strict=True):
        place = (path.box[0] - left, path.box[1] - bottom)
        assert place == pytest.approx(
            (box.left - wanted[0].left, box.bottom - wanted[0].bottom), abs=0.05
        )


@pytest.mark.parametrize("paper", PAPERS)
def test_check_bars_are_100_mm_and_4_in_both_ways(paper):
    for page in full_size(sheet(paper=paper)):
        sizes = [path.size for path in page if len(path.points) == 2]
        for length in (100.0, 4 * 25.4):
            for wanted in ((length, 0.0), (0.0, length)):
                assert any(size == pytest.approx(wanted, abs=0.05) for size in sizes)


@pytest.fixture(scope="module")
def tiled():
    """A flange of six ports on letter paper, as pages of paths, and its design."""
    part = long_flange()
    return part, sheet(part, paper="letter")


def long_flange():
    from geomgen.plates import PlateHole
    from geomgen.profiles.convex import offset
    from geomgen.profiles.loops import circle, placed, slot
    from geomgen.profiles.union import closing

    windows = tuple(placed(slot(48.3, 40.3), (92.0 * k, 12.0 * k)) for k in range(6))
    holes = tuple(
        PlateHole(f"stud {k + 1}a", (92.0 * k + 40.0, 12.0 * k + 20.0), 9.0, "M8", 14.0)
        for k in range(6)
    )
    shapes = [offset(w, 30.0) for w in windows] + [circle(h.at, h.boss) for h in holes]
    return cut(
        windows=windows,
        holes=holes,
        cuts=(),
        outer=closing(shapes, 30.0)[0],
        cylinders=tuple(range(1, 7)),
        labels=(),
    )


def test_tiles_overlap_and_together_show_the_whole_part(tiled):
    part, data = tiled
    box = bounding_box(part.profile.outer)
    spread = tiling(box, "letter")
    pages = full_size(data)
    assert len(pages) == len(spread.tiles) == 4
    for page, tile in zip(pages, spread.tiles, strict=True):
        outline = next(path for path in page if path.colour == BLACK)
        assert outline.size == pytest.approx((box.width, box.height), abs=0.05)
        # the same point of the part stands where the tile says
        place = (box.left + tile.shift[0], box.bottom + tile.shift[1])
        assert outline.box[:2] == pytest.approx(place, abs=0.05)
    assert len(opened(data)) >= 5


def test_neighbours_share_their_crosses(tiled):
    part, data = tiled
    spread = tiling(bounding_box(part.profile.outer), "letter")
    where = []
    for page, tile in zip(full_size(data), spread.tiles, strict=True):
        joins = [p for p in page if p.size[0] < 1e-6 and p.size[1] > 120.0]
        where.append({round(p.box[0] - tile.shift[0], 2) for p in joins})
    first, second, third = (round(x, 2) for x in spread.uprights)
    assert [sorted(w) for w in where] == [
        [first],
        [first, second],
        [second, third],
        [third],
    ]


@given(st.floats(20.0, 2500.0), st.floats(20.0, 900.0), st.sampled_from(sorted(PAPER)))
def test_tiles_cover_the_part_and_overlap(width, height, paper):
    box = Box(-30.0, -40.0, width - 30.0, height - 40.0)
    spread = tiling(box, paper)
    windows = [tile.window for tile in spread.tiles]
    assert min(w.left for w in windows) <= box.left
    assert max(w.right for w in windows) >= box.right
    assert min(w.bottom for w in windows) <= box.bottom
    assert max(w.top for w in windows) >= box.top
    lefts, tops = sorted({w.left for w in windows}), sorted({w.top for w in windows})
    assert len(lefts) * len(tops) == len(windows)
    for edges, size in ((lefts, spread.area.width), (tops, spread.area.height)):
        for a, b in pairwise(edges):
            assert a + size - b == pytest.approx(OVERLAP)
    for tile in spread.tiles:
        assert tile.window.left + tile.shift[0] == pytest.approx(spread.area.left)
        assert tile.window.top + tile.shift[1] == pytest.approx(spread.area.top)


@given(st.floats(0.5, 5000.0), st.floats(-6.2, 6.2).filter(lambda a: abs(a) > 1e-3))
def test_drawn_arcs_stray_less_than_a_hundredth(radius, sweep):
    arc = Arc((3.0, -4.0), radius, 0.7, sweep)
    start, worst = arc.start, 0.0
    for a, b, end in curves(arc):
        for k in range(33):
            t, u = k / 32.0, 1.0 - k / 32.0
            x, y = (
                u**3 * start[i] + 3 * u * u * t * a[i] + 3 * u * t * t * b[i] + t**3 * end[i]
                for i in (0, 1)
            )
            worst = max(worst, abs(math.hypot(x - 3.0, y + 4.0) - radius))
        start = end
    assert start == pytest.approx(arc.end, abs=1e-9)
    assert worst < 1.1e-3


def text_of(data):
    return "\n".join(words(page) for page in opened(data))


@pytest.mark.parametrize("paper", ["a4", "a3"])
def test_it_says_what_a_shop_asks(paper):
    text = re.sub(r"\s+", " ", text_of(sheet(paper=paper)))
    for wanted in (
        "wren-12, revision B",
        "2 off, 304, 10 mm, faced to 8 mm, laser",
        "seen from the tube side",
        "no fit to page",
        "100 mm",
        "4 in",
        "9.0 x 12.0 at 17 deg",
        "cut 7.0, drill, mill",
        "mark, drill, tap",
        "ream H7",
        "Net size: no kerf, no lead-ins",
        "not at the corners of a window",
        "test_flange_10mm_304_mm.dxf",
    ):
        assert wanted in text, wanted
    letters = re.sub(r"\W", "", text)
    for caution in CAUTIONS:
        assert re.sub(r"\W", "", caution.text) in letters


def test_words_stay_on_the_page():
    for paper in PAPERS:
        for page in opened(sheet(paper=paper)):
            width, height = page.get_size()
            text = page.get_textpage()
            for k in range(text.count_chars()):
                left, bottom, right, top = text.get_charbox(k)
                if right > left:
                    assert 20.0 < left < right < width - 20.0
                    assert 20.0 < bottom < top < height - 20.0


def test_the_page_is_the_paper():
    for paper, (short, long) in PAPER.items():
        page = opened(sheet(paper=paper))[0]
        assert sorted(page.get_size()) == pytest.approx(
            [short / 25.4 * 72, long / 25.4 * 72], abs=1e-3
        )


def test_same_bytes_and_no_date():
    data = sheet()
    assert data == sheet()
    assert not re.search(rb"D:20[1-9]", data)
    assert b"PrintScaling /None" in data
    assert version("reportlab").encode() not in data


def test_odd_names_are_printed_as_they_can_be():
    part = cut(title="Fächer \N{SNOWMAN}\n(1\\2) " + "x" * 100)
    assert "Fächer ?" in text_of(sheet(part))


def test_a_sheet_is_withheld_while_something_fails():
    assert is_cut_from("flats/test_flange_sheet.pdf")
