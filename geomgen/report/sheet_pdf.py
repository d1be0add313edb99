"""A sheet of each flat part as PDF: at full size, with check bars, table, notes and cautions.

What fits one page of the paper that the spec names is one page; else the first page has the
words and an index, and the drawing is tiled over the pages behind it, which overlap and are
joined on lines with crosses.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

from geomgen.design.model import Design, Files, FlatPart
from geomgen.profiles.loops import Box, Loop, Point2, bounding_box
from geomgen.report._ink import (
    BOLD,
    CUT,
    DRILL,
    INK,
    MARK,
    MM,
    SOFT,
    STEEL,
    draw_lines,
    draw_loops,
    pen,
    printable,
    width_of,
    wrapped,
    write,
)
from geomgen.report._labels import inked, place
from geomgen.report._sheet_words import Row, fits, flow, rows
from geomgen.report._tiles import HEAD, MARGIN, OVERLAP, PAPER, SIDE, Tile, Tiling, shows, tiling
from geomgen.report.flat_words import headline, what_it_is

NAME = "sheet-pdf"

BARS = ((100.0, "100 mm", 10.0), (101.6, "4 in", 25.4))
"""Check bars: length [mm], what they say, and from tick to tick [mm]."""

ACTUAL = "PRINT AT ACTUAL SIZE (100 %), no fit to page. Measure both bars, both ways, before use."

_OUTLINE = 0.18
"""Width of the lines that are measured [mm]."""
_NAME = 6.0
"""Of the names of holes, in points."""
_CAPITALS = 0.73
"""Height of capitals over the size of letters."""


def pictures(design: Design) -> dict[str, bytes]:
    """One PDF a flat part, by file name."""
    return {
        file_name(part): sheet(part, design.name, design.revision, design.files)
        for part in design.flats
    }


def file_name(part: FlatPart) -> str:
    """``flats/head_flange_sheet.pdf``."""
    return f"flats/{part.name}_sheet.pdf"


def sheet(part: FlatPart, manifold: str, revision: str, files: Files) -> bytes:
    """The sheet of one part as the bytes of a PDF.

    Args:
        part: what to draw.
        manifold: name of the manifold.
        revision: of the manifold.
        files: paper, and what the notes say of the cut file.
    """
    from reportlab.pdfgen.canvas import Canvas

    stream = io.BytesIO()
    canvas = Canvas(stream, pageCompression=0, invariant=1)
    canvas.setTitle(printable(f"{manifold} {revision} {part.name}"))
    canvas.setSubject(printable(what_it_is(part, manifold, revision)))
    for field in (canvas.setAuthor, canvas.setCreator, canvas.setProducer):
        field("geomgen")
    canvas.setViewerPreference("PrintScaling", "None")
    head = (headline(part), what_it_is(part, manifold, revision))
    spread = tiling(bounding_box(part.profile.outer), files.paper)
    if len(spread.tiles) == 1:
        left = _one_page(canvas, part, spread, head, _words(part, manifold, revision, files))
        _more_pages(canvas, left, files, head)
    else:
        _cover(canvas, part, spread, head, _words(part, manifold, revision, files), files)
        for number, tile in enumerate(spread.tiles, start=1):
            name = f"tile {tile.name}, {number} of {len(spread.tiles)}"
            _full_size(canvas, part, spread, tile, (*head, name))
            canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _words(part: FlatPart, manifold: str, revision: str, files: Files) -> Any:
    """The rows of the sheet, for a width."""
    return lambda width: rows(part, manifold, revision, files, width)


def _page(canvas: Any, page: Point2, head: tuple[str, ...]) -> None:
    """A fresh page with its head line."""
    width, height = page
    canvas.setPageSize((width * MM, height * MM))
    inside, top = width - 2.0 * MARGIN, height - MARGIN
    name = head[2] if len(head) > 2 else ""
    write(canvas, (MARGIN, top - 5.0), head[0], 12.0, BOLD, within=inside - 50.0)
    write(canvas, (MARGIN, top - 10.0), head[1], 7.5, colour=SOFT, within=inside)
    write(canvas, (width - MARGIN, top - 5.0), name, 9.0, BOLD, anchor="right", within=48.0)
    pen(canvas, SOFT, 0.15)
    draw_lines(canvas, [((MARGIN, top - 12.0), (width - MARGIN, top - 12.0))], (0.0, 0.0))


def _one_page(
    canvas: Any, part: FlatPart, spread: Tiling, head: tuple[str, ...], words: Any
) -> list[Row]:
    """The drawing with the words below it; gives what found no room."""
    (tile,) = spread.tiles
    area = spread.area
    _full_size(canvas, part, spread, tile, (*head, "full size"))
    below = bounding_box(part.profile.outer).bottom + tile.shift[1] - 8.0
    room = Box(area.left, area.bottom + 2.0, area.right, below)
    columns = _columns(room, 2 if area.width > 230.0 else 1)
    texts = words(columns[0].width)
    if fits(texts, columns):
        flow(canvas, texts, columns)
        texts = []
    else:  # all of them on pages of their own
        texts = words(PAPER["a4"][0] - 2.0 * MARGIN - 5.0)
    canvas.showPage()
    return list(texts)


def _columns(room: Box, count: int) -> tuple[Box, ...]:
    gap = 6.0
    width = (room.width - gap * (count - 1)) / count
    return tuple(
        Box(left, room.bottom, left + width, max(room.top, room.bottom))
        for left in (room.left + k * (width + gap) for k in range(count))
    )


def _more_pages(canvas: Any, left: list[Row], files: Files, head: tuple[str, ...]) -> None:
    """Pages of words only, upright."""
    page = PAPER["letter" if files.paper in ("letter", "tabloid") else "a4"]
    column = Box(MARGIN, MARGIN, page[0] - MARGIN, page[1] - MARGIN - HEAD)
    while left:
        _page(canvas, page, head)
        left = flow(canvas, left, (column,))
        canvas.showPage()


def _cover(
    canvas: Any,
    part: FlatPart,
    spread: Tiling,
    head: tuple[str, ...],
    words: Any,
    files: Files,
) -> None:
    """Index of the tiles, and all words."""
    page = (min(spread.page), max(spread.page))
    _page(canvas, page, (*head, "index, not to scale"))
    inside = Box(MARGIN, MARGIN, page[0] - MARGIN, page[1] - MARGIN - HEAD)
    windows = [tile.window for tile in spread.tiles]
    whole = Box(
        min(w.left for w in windows),
        min(w.bottom for w in windows),
        max(w.right for w in windows),
        max(w.top for w in windows),
    )
    scale = min(inside.width / whole.width, 0.3 * inside.height / whole.height)
    shift = (
        inside.left - scale * whole.left,
        inside.top - scale * whole.top,
    )
    _index(canvas, part, spread, shift, scale)
    below = inside.top - scale * whole.height - 3.0
    text = (
        f"{len(spread.tiles)} pages at full size follow. {ACTUAL} Trim one page of two along "
        "their join line, lay it on the other's, crosses on crosses, and measure across the join."
    )
    for line in wrapped(text, 7.5, inside.width, BOLD):
        below -= 3.6
        write(canvas, (inside.left, below), line, 7.5, BOLD)
    column = Box(inside.left, inside.bottom, inside.right, below - 3.0)
    left = flow(canvas, words(column.width), (column,))
    canvas.showPage()
    _more_pages(canvas, left, files, head)


def _index(canvas: Any, part: FlatPart, spread: Tiling, shift: Point2, scale: float) -> None:
    pen(canvas, INK, 0.15)
    canvas.setFillColorRGB(*STEEL)
    loops = (part.profile.outer, *part.profile.holes)
    draw_loops(canvas, loops, shift, scale, fill=True)
    for tile in spread.tiles:
        w = tile.window
        pen(canvas, MARK, 0.2, (1.5, 1.0))
        corners = [(w.left, w.bottom), (w.right, w.bottom), (w.right, w.top), (w.left, w.top)]
        draw_lines(canvas, list(zip(corners, corners[1:] + corners[:1], strict=True)), shift, scale)
        at = (w.left * scale + shift[0] + 4.0, w.top * scale + shift[1] - 5.0)
        write(canvas, at, tile.name, 9.0, BOLD, MARK)


def _full_size(
    canvas: Any, part: FlatPart, spread: Tiling, tile: Tile, head: tuple[str, ...]
) -> None:
    """A page with its part of the drawing at full size, and the check bars."""
    _page(canvas, spread.page, head)
    area = spread.area
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(area.left * MM, area.bottom * MM, area.width * MM, area.height * MM)
    canvas.clipPath(clip, stroke=0, fill=0)
    _drawing(canvas, part, tile)
    _joins(canvas, spread, tile)
    canvas.restoreState()
    _check_bars(canvas, spread)


def _drawing(canvas: Any, part: FlatPart, tile: Tile) -> None:
    """What of the part is on a page."""
    shift = tile.shift
    pen(canvas, SOFT, 0.12, (2.0, 1.2))
    _each(canvas, part.reference, tile)
    pen(canvas, DRILL, 0.18, (1.5, 1.0))
    _each(canvas, [hole.loop for hole in part.holes if hole.how != "cut"], tile)
    pen(canvas, MARK, 0.2)
    marks = [m for m in part.marks if shows(tile.window, _grown(bounding_box((m,))))]
    draw_lines(canvas, [(mark.start, mark.end) for mark in marks], shift)
    pen(canvas, CUT, _OUTLINE)
    _each(canvas, (part.profile.outer, *part.profile.holes), tile)
    pen(canvas, SOFT, 0.15)
    draw_lines(canvas, [((-2.0, 0.0), (8.0, 0.0)), ((0.0, -2.0), (0.0, 8.0))], shift)
    write(canvas, (shift[0] + 8.6, shift[1] - 0.8), "x", 6.0, colour=SOFT)
    write(canvas, (shift[0] - 0.6, shift[1] + 8.6), "y", 6.0, colour=SOFT)
    _hole_names(canvas, part, tile)


def _hole_names(canvas: Any, part: FlatPart, tile: Tile) -> None:
    """Names of the holes on a page, each on nothing else if there is room."""
    taken = list(inked(part))
    for hole in part.holes:
        name = hole.name.removeprefix("stud ")
        box = place(hole, (width_of(name, _NAME), _CAPITALS * _NAME / MM), 0.8, taken)
        taken.append(box)
        if not shows(tile.window, bounding_box(hole.loop)):
            continue
        at = (box.left + tile.shift[0], box.bottom + tile.shift[1])
        colour = INK if hole.how == "cut" else DRILL
        write(canvas, at, name, _NAME, colour=colour)


def _each(canvas: Any, loops: Iterable[Loop], tile: Tile) -> None:
    for loop in loops:
        if shows(tile.window, bounding_box(loop)):
            draw_loops(canvas, (loop,), tile.shift)


def _grown(box: Box) -> Box:
    """A box that has some width even if it is that of an upright stroke."""
    return Box(box.left - 1.0, box.bottom - 1.0, box.right + 1.0, box.top + 1.0)


def _joins(canvas: Any, spread: Tiling, tile: Tile) -> None:
    """Lines that this page shares with its neighbours, with crosses and names."""
    w = tile.window
    for x in spread.uprights:
        if w.left < x < w.right:
            pen(canvas, SOFT, 0.12, (6.0, 1.0, 1.0, 1.0))
            draw_lines(canvas, [((x, w.bottom), (x, w.top))], tile.shift)
            _crosses(canvas, [(x, y) for y in _steps(w.bottom, w.top)], tile.shift)
    for y in spread.levels:
        if w.bottom < y < w.top:
            pen(canvas, SOFT, 0.12, (6.0, 1.0, 1.0, 1.0))
            draw_lines(canvas, [((w.left, y), (w.right, y))], tile.shift)
            _crosses(canvas, [(x, y) for x in _steps(w.left, w.right)], tile.shift)
    at = (spread.area.left + OVERLAP / 2.0 + 2.0, spread.area.top - 4.0)
    if len(spread.tiles) > 1:
        write(canvas, at, tile.name, 10.0, BOLD, MARK)


def _steps(low: float, high: float) -> list[float]:
    """Whole multiples of 40 mm well within a range, the same on both pages of a join."""
    return [
        40.0 * k for k in range(int(low // 40.0), int(high // 40.0) + 2) if low < 40.0 * k < high
    ]


def _crosses(canvas: Any, at: list[Point2], shift: Point2) -> None:
    pen(canvas, INK, 0.15)
    arms = [((x - 3.0, y), (x + 3.0, y)) for x, y in at]
    draw_lines(canvas, arms + [((x, y - 3.0), (x, y + 3.0)) for x, y in at], shift)


def _check_bars(canvas: Any, spread: Tiling) -> None:
    """100 mm and 4 in, both ways, each a line of its own with ticks."""
    for k, (length, text, step) in enumerate(BARS):
        y = MARGIN + 10.0 - 7.0 * k
        x = MARGIN + 1.0 + 7.0 * k
        start, foot = MARGIN + SIDE, MARGIN + 17.0
        pen(canvas, INK, 0.2)
        draw_lines(canvas, [((start, y), (start + length, y))], (0.0, 0.0))
        draw_lines(canvas, [((x, foot), (x, foot + length))], (0.0, 0.0))
        marks = [step * i for i in range(round(length / step) + 1)]
        ticks = [((start + m, y), (start + m, y + 2.0)) for m in marks]
        draw_lines(
            canvas, ticks + [((x, foot + m), (x + 2.0, foot + m)) for m in marks], (0.0, 0.0)
        )
        write(canvas, (start + length + 2.0, y), text, 8.0, BOLD)
        canvas.saveState()
        canvas.translate((x + 2.6) * MM, (foot + length + 2.0) * MM)
        canvas.rotate(90)
        write(canvas, (0.0, 0.0), text, 8.0, BOLD)
        canvas.restoreState()
    words = (spread.area.right, MARGIN + 6.0)
    room = spread.area.right - (MARGIN + SIDE + 120.0)
    halves = ACTUAL.split(". ", 1)
    for k, text in enumerate(halves):
        at = (words[0], words[1] - 3.6 * k)
        write(canvas, at, text, 7.5, BOLD if k == 0 else "Helvetica", anchor="right", within=room)
