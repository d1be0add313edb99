"""The words of a flat part's sheet: rows of text that flow through columns of pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from geomgen.design.model import Files, FlatPart
from geomgen.exports.dxf import file_name
from geomgen.profiles.loops import Box
from geomgen.report._ink import BOLD, DRILL, INK, PLAIN, SOFT, Colour, width_of, wrapped, write
from geomgen.report.cautions import CAUTIONS
from geomgen.report.flat_words import HEADS, cells, headline, notes, plate

SIZE, SMALL = 7.5, 6.0
"""Of letters, in points."""

_LINE = 0.45
"""Height of a line over the size of its letters [mm per point]."""


@dataclass(frozen=True)
class Cell:
    """A piece of text in a row: how far in [mm], how wide it may be [mm]."""

    x: float
    text: str
    within: float
    font: str = PLAIN
    colour: Colour = INK
    size: float = SIZE


@dataclass(frozen=True)
class Row:
    """One line of a sheet, with what is above it [mm]."""

    height: float
    cells: tuple[Cell, ...]


def rows(part: FlatPart, manifold: str, revision: str, files: Files, width: float) -> list[Row]:
    """Everything that a sheet says in words, for columns of a width [mm]."""
    return [
        *_facts(part, manifold, revision, files, width),
        *_heading("Holes", width),
        *_table(part, width),
        *_heading("Notes", width),
        *_paragraphs(notes(part, files), SIZE, width),
        *_heading("Cautions", width),
        *_paragraphs([f"{c.topic.capitalize()}: {c.text}" for c in CAUTIONS], SMALL, width),
    ]


def _facts(
    part: FlatPart, manifold: str, revision: str, files: Files, width: float
) -> Iterator[Row]:
    said = (
        ("Part", headline(part)),
        ("Manifold", f"{manifold}, revision {revision}"),
        ("Quantity", f"{part.quantity}"),
        ("Material", part.material),
        ("Plate", plate(part)),
        ("Process", part.process),
        ("Units", "mm on this sheet, degrees"),
        ("Frame", "seen from the tube side, x right, y up, as in the cut file"),
        ("Cut file", file_name(part, files.unit).rpartition("/")[2]),
    )
    for what, text in said:
        key = Cell(0.0, what, 18.0, colour=SOFT)
        yield Row(SIZE * _LINE, (key, Cell(20.0, text, width - 20.0, BOLD)))


def _heading(text: str, width: float) -> Iterator[Row]:
    yield Row(SIZE * _LINE + 2.5, (Cell(0.0, text, width, BOLD, SOFT),))


def _table(part: FlatPart, width: float) -> Iterator[Row]:
    """The table of holes: every column as wide as its words, the last what is left."""
    if not part.holes:
        yield Row(SIZE * _LINE, (Cell(0.0, "none", width),))
        return
    table = [cells(hole) for hole in part.holes]
    everything = [HEADS, *table]
    widths = [max(width_of(row[k], SIZE, BOLD) for row in everything) + 3.0 for k in range(6)]
    widths = [w * min(1.0, 0.8 * width / sum(widths)) for w in widths]
    widths.append(width - sum(widths))
    starts = [sum(widths[:k]) for k in range(len(widths))]
    for texts, font, colours in (
        (HEADS, BOLD, [SOFT] * len(HEADS)),
        *((row, PLAIN, _colours(row)) for row in table),
    ):
        line = zip(texts, starts, widths, colours, strict=True)
        yield Row(
            SIZE * _LINE,
            tuple(Cell(x, text, w - 1.0, font, colour) for text, x, w, colour in line if text),
        )


def _colours(row: Sequence[str]) -> list[Colour]:
    """What is not cut to size stands out."""
    return [DRILL if k == 5 and text != "cut" else INK for k, text in enumerate(row)]


def _paragraphs(texts: Sequence[str], size: float, width: float) -> Iterator[Row]:
    for text in texts:
        for k, line in enumerate(wrapped(text, size, width - 3.0)):
            bullet = (Cell(0.0, "-", 3.0, size=size),) if k == 0 else ()
            yield Row(size * _LINE, (*bullet, Cell(2.5, line, width - 2.5, size=size)))


def flow(canvas: Any, words: Sequence[Row], columns: Sequence[Box]) -> list[Row]:
    """Write rows down one column after the other; gives those that found no room."""
    left = list(words)
    for column in columns:
        y = column.top
        while left and y - left[0].height >= column.bottom:
            row = left.pop(0)
            y -= row.height
            for cell in row.cells:
                at = (column.left + cell.x, y)
                write(canvas, at, cell.text, cell.size, cell.font, cell.colour, within=cell.within)
    return left


def fits(words: Sequence[Row], columns: Sequence[Box]) -> bool:
    """Whether rows find room in columns."""
    left = list(words)
    for column in columns:
        room = column.height
        while left and left[0].height <= room:
            room -= left.pop(0).height
    return not left
