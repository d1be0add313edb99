"""The written sheet of every flat part, read back: it measures on paper what the part does.

What: on every page at full size, outline and each opening of their size, at their place, curves
as curves; check bars of 100 mm and 4 in both ways; as many pages as the drawing takes.
Why: a template at the wrong scale is found out when the metal is cut.
Limit: 0.05 mm on paper, the project's own bar.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from geomgen.design.model import Design, FlatPart
from geomgen.errors import Finding
from geomgen.profiles.loops import Arc, Loop, bounding_box
from geomgen.proofs._dxf_measures import away, finding
from geomgen.proofs._pdf_reading import Stroke, pages
from geomgen.report._ink import CUT
from geomgen.report._tiles import shows, tiling
from geomgen.report.sheet_pdf import BARS, file_name

NAME = "sheet-pdf"

ON_PAPER = 0.05
"""What a size may be off on paper [mm]."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Findings on every sheet."""
    found: list[Finding] = []
    for part in design.flats:
        data = files.get(file_name(part))
        if data is None:
            found.append(finding("sheet-pdf-file", part, False, "there is no sheet of it"))
            continue
        try:
            drawn = pages(data)
        except (ValueError, IndexError) as error:
            message = f"the sheet cannot be read: {error}"
            found.append(finding("sheet-pdf-file", part, False, message))
            continue
        found += _prove_part(part, drawn, design.files.paper)
    return tuple(found)


def _prove_part(part: FlatPart, drawn: list[tuple[Stroke, ...]], paper: str) -> tuple[Finding, ...]:
    full = [page for page in drawn if any(stroke.colour == CUT for stroke in page)]
    tiles = tiling(bounding_box(part.profile.outer), paper).tiles
    if len(full) != len(tiles):
        message = f"{len(full)} pages at full size, {len(tiles)} wanted"
        count, wanted = float(len(full)), float(len(tiles))
        return (finding("sheet-pdf-size", part, False, message, count, wanted, "count"),)
    loops = (part.profile.outer, *part.profile.holes)
    off = max(
        _off(
            [s for s in page if s.colour == CUT],
            [loop for loop in loops if shows(tile.window, bounding_box(loop))],
            tile.shift,
        )
        for page, tile in zip(full, tiles, strict=True)
    )
    size = f"outline and openings at most {off:.4f} mm off on {len(full)} pages at full size"
    bars = max(_bars_off(page) for page in full)
    check = f"check bars of 100 mm and 4 in both ways, at most {bars:.4f} mm off"
    return (
        finding("sheet-pdf-size", part, off <= ON_PAPER, size, off, ON_PAPER, "mm"),
        finding("sheet-pdf-bars", part, bars <= ON_PAPER, check, bars, ON_PAPER, "mm"),
    )


def _off(strokes: list[Stroke], loops: list[Loop], shift: tuple[float, float]) -> float:
    """Error of place, size or corner, the greatest of any loop [mm]; large when one is missing."""
    if len(strokes) != len(loops):
        return 1e3
    worst = 0.0
    for stroke, loop in zip(strokes, loops, strict=True):
        if stroke.curves < sum(isinstance(piece, Arc) for piece in loop):
            return 1e3
        there = np.array(stroke.points) - np.array(shift)
        box = bounding_box(loop)
        sides = (box.left + shift[0], box.bottom + shift[1], box.width, box.height)
        drawn = (stroke.box.left, stroke.box.bottom, stroke.box.width, stroke.box.height)
        corners = np.array([piece.start for piece in loop])
        lost = np.hypot(*(corners[:, None] - there[None]).transpose(2, 0, 1)).min(axis=1)
        worst = max(
            worst,
            *(abs(a - b) for a, b in zip(sides, drawn, strict=True)),
            float(away(there, loop).max()),
            float(lost.max()),
        )
    return worst


def _bars_off(page: tuple[Stroke, ...]) -> float:
    """Error of the worst check bar of a page [mm]."""
    sizes = [(s.box.width, s.box.height) for s in page if len(s.points) == 2]
    wanted = [way for length, _, _ in BARS for way in ((length, 0.0), (0.0, length))]
    return max(min((max(abs(w - x), abs(h - y)) for w, h in sizes), default=1e3) for x, y in wanted)
