"""The proof of the sheets: agrees with pdfium, and sees what is wrong on paper."""

import re

import pytest
from cut_plates import around, cut
from pdf_paths import opened, paths

from geomgen.design.model import Files
from geomgen.errors import Verdict
from geomgen.plates import PlateHole
from geomgen.profiles.loops import slot
from geomgen.proofs._pdf_reading import pages
from geomgen.proofs.sheet_pdf import prove
from geomgen.report.sheet_pdf import pictures

PART = cut("laser")


def design(**said):
    return around(PART, files=Files(**said))


def verdicts(data, **said):
    found = prove(design(**said), {"flats/test_flange_sheet.pdf": data})
    return {f.name: f.verdict for f in found}


@pytest.fixture(scope="module")
def data():
    return pictures(design())["flats/test_flange_sheet.pdf"]


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
def test_good_sheets_pass(paper):
    (sheet,) = pictures(design(paper=paper)).values()
    assert verdicts(sheet, paper=paper) == {
        "sheet-pdf-size": Verdict.PASS,
        "sheet-pdf-bars": Verdict.PASS,
    }


def test_our_reader_and_pdfium_see_the_same(data):
    ours, theirs = pages(data), [paths(page) for page in opened(data)]
    assert len(ours) == len(theirs)
    # pdfium lists clips too: only strokes are compared, outline and openings first
    for page, other in zip(ours, theirs, strict=True):
        seen = [p.size for p in other]
        for stroke in page:
            size = (stroke.box.width, stroke.box.height)
            assert any(size == pytest.approx(s, abs=0.02) for s in seen)


def test_a_sheet_printed_to_fit_is_seen(data):
    # a page scaled by 97 %, as printers do
    spoiled = re.sub(rb"(stream\r?\n)1 0 0 1 0 0 cm", rb"\1.97 0 0 .97 0 0 cm", data, count=1)
    spoiled = re.sub(rb"/Length (\d+)", lambda m: b"/Length %d" % (int(m[1]) + 4), spoiled, count=1)
    assert spoiled != data
    assert set(verdicts(spoiled).values()) == {Verdict.FAIL}


def spoiled(data, pattern, change):
    """The first match behind the first black pen, changed without changing its length."""
    start = data.index(b"0 0 0 RG")
    match = re.compile(pattern).search(data, start)
    new = change(match.group(0))
    assert len(new) == len(match.group(0))
    assert new != match.group(0)
    return data[: match.start()] + new + data[match.end() :]


def test_a_lost_opening_is_seen(data):
    lost = spoiled(data, rb"h S\n|h\nS\n", lambda text: text.replace(b"S", b"n"))
    assert verdicts(lost)["sheet-pdf-size"] is Verdict.FAIL


def test_a_moved_corner_is_seen(data):
    # 279.2126 becomes 179.2126: still within the outline's box
    moved = spoiled(data, rb"\d+\.\d+ [\d.]+ l", lambda text: b"1" + text[1:])
    assert verdicts(moved)["sheet-pdf-size"] is Verdict.FAIL


def test_a_changed_curve_is_seen(data):
    bent = spoiled(data, rb"\d+\.\d+ [\d.]+ c", lambda text: b"9" + text[1:])
    assert verdicts(bent)["sheet-pdf-size"] is Verdict.FAIL


def test_a_missing_a_cut_off_and_a_foreign_sheet_are_findings(data):
    assert {f.verdict for f in prove(design(), {})} == {Verdict.FAIL}
    for broken in (b"", b"%PDF-1.4", data[: len(data) // 2], b"\x00" * 64):
        assert verdicts(broken) == {"sheet-pdf-file": Verdict.FAIL}


def test_the_wrong_paper_is_seen():
    (sheet,) = pictures(design(paper="a3")).values()
    assert verdicts(sheet, paper="a4")["sheet-pdf-size"] is Verdict.FAIL


def test_tiled_sheets_pass_whatever_is_on_each_page():
    holes = tuple(
        PlateHole(f"stud {k}", (100.0 * (k % 5) - 200.0, 90.0 * (k // 5) - 90.0), 9.0, "M8", 12.0)
        for k in range(15)
    )
    part = cut(outer=slot(620.0, 300.0), windows=(), cuts=(), holes=holes, cylinders=(), labels=())
    asked = around(part)
    found = prove(asked, pictures(asked))
    assert {f.verdict for f in found} == {Verdict.PASS}
    assert "on 8 pages" in found[0].message
