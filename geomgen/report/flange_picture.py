"""A picture of each flat part as SVG: to look at before anybody opens a CAD program.

True arcs, sizes, the hole table and the notes that go with the cut file. Pure text,
the same bytes for the same part.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from xml.sax.saxutils import escape

from geomgen.design.model import PLAIN, Design, Files, FlatPart
from geomgen.profiles.loops import (
    Arc,
    Box,
    Line,
    Loop,
    Point2,
    bounding_box,
)
from geomgen.report._labels import inked, is_clear, place
from geomgen.report.flat_words import HEADS, cells, headline, notes, what_it_is

NAME = "flange-picture"

INK = "#1d2733"
STEEL = "#dfe4ea"
CUT = "#1d2733"
MARK = "#0b63b0"
DRILL = "#b3261e"
PORT = "#7d8896"
SIZE = "#5b6673"


def pictures(design: Design) -> dict[str, bytes]:
    """One SVG a flat part, by file name."""
    return {
        f"flats/{part.name}.svg": picture(part, design.name, design.revision, design.files).encode(
            "utf-8"
        )
        for part in design.flats
    }


def picture(part: FlatPart, manifold: str, revision: str, files: Files = PLAIN) -> str:
    """The part as SVG text, y up on the drawing, seen from the tube side.

    Args:
        part: what to draw.
        manifold: name of the manifold, for the head line.
        revision: of the manifold.
        files: what the cutter's files are like, for the notes.
    """
    box = bounding_box(part.profile.outer)
    em = max(3.2, min(7.0, box.width / 62.0))
    body = [
        *_metal(part, em),
        *_centre_lines(part, em),
        *_overall_sizes(box, em),
        *_pitch_sizes(part, box, em),
        *_axes(em),
    ]
    left, top = box.left - 9.0 * em, -(box.top + 10.0 * em)
    width = max(box.width + 18.0 * em, 86.0 * em)
    head = _heading(part, manifold, revision, (left + 2.0 * em, top + 2.6 * em), em)
    below = -box.bottom + 9.0 * em
    table, after = _hole_table(part, (left + 2.0 * em, below), em)
    words, end = _notes(notes(part, files), (left + 2.0 * em, after + 1.6 * em), em)
    height = end + 1.5 * em - top
    view = f"{_n(left)} {_n(top)} {_n(width)} {_n(height)}"
    open_tag = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" '
        f'width="{_n(width)}mm" height="{_n(height)}mm" '
        f'font-family="Helvetica, Arial, sans-serif" fill="{INK}">'
    )
    title = f"<title>{escape(headline(part))}</title>"
    ground = (
        f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(width)}" height="{_n(height)}" '
        f'fill="#ffffff"/>'
    )
    return "\n".join([open_tag, title, ground, *body, *head, *table, *words, "</svg>", ""])


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _xy(p: Point2) -> str:
    return f"{_n(p[0])} {_n(-p[1])}"


def path(loop: Loop) -> str:
    """SVG path data of a loop, arcs as arcs; y is turned to point down."""
    parts = [f"M{_xy(loop[0].start)}"]
    for piece in loop:
        if isinstance(piece, Line):
            parts.append(f"L{_xy(piece.end)}")
        else:
            parts.extend(_arc(piece))
    return " ".join([*parts, "Z"])


def _arc(arc: Arc) -> list[str]:
    halves = (0.5, 1.0) if abs(arc.sweep) > math.pi * 0.99 else (1.0,)
    way = "0" if arc.sweep > 0 else "1"
    radius = _n(arc.radius)
    return [f"A{radius} {radius} 0 0 {way} {_xy(arc.at(f))}" for f in halves]


def _metal(part: FlatPart, em: float) -> list[str]:
    cuts = " ".join(path(loop) for loop in (part.profile.outer, *part.profile.holes))
    metal = (
        f'<path d="{cuts}" fill="{STEEL}" fill-rule="evenodd" stroke="{CUT}" '
        f'stroke-width="{_n(em * 0.1)}" stroke-linejoin="round"/>'
    )
    lines = [metal]
    dash = f'stroke-dasharray="{_n(em * 0.5)} {_n(em * 0.35)}"'
    lines += [
        f'<path d="{path(loop)}" fill="none" stroke="{PORT}" stroke-width="{_n(em * 0.06)}" '
        f"{dash}/>"
        for loop in part.reference
    ]
    lines += [
        f'<path d="{path(hole.loop)}" fill="none" stroke="{DRILL}" '
        f'stroke-width="{_n(em * 0.08)}" {dash}/>'
        for hole in part.holes
        if hole.how != "cut"
    ]
    strokes = " ".join(f"M{_xy(mark.start)} L{_xy(mark.end)}" for mark in part.marks)
    if strokes:
        lines.append(
            f'<path d="{strokes}" fill="none" stroke="{MARK}" stroke-width="{_n(em * 0.1)}" '
            f'stroke-linecap="round"/>'
        )
    return lines


def _text(x: float, y: float, text: str, size: float, extra: str = "") -> str:
    """Text at drawing coordinates with y down already."""
    return f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" {extra}>{escape(text)}</text>'


def _centre_lines(part: FlatPart, em: float) -> list[str]:
    style = (
        f'fill="none" stroke="{PORT}" stroke-width="{_n(em * 0.05)}" '
        f'stroke-dasharray="{_n(em * 1.2)} {_n(em * 0.3)} {_n(em * 0.3)} {_n(em * 0.3)}"'
    )
    lines = []
    for window in part.windows:
        box = bounding_box(window)
        x, y = (box.left + box.right) / 2.0, (box.bottom + box.top) / 2.0
        a, b = box.width / 2.0 * 0.9, box.height / 2.0 * 0.9
        lines.append(
            f'<path d="M{_xy((x - a, y))} L{_xy((x + a, y))} '
            f'M{_xy((x, y - b))} L{_xy((x, y + b))}" {style}/>'
        )
    return [*lines, *_hole_labels(part, em)]


def _hole_labels(part: FlatPart, em: float) -> list[str]:
    """Stud names beside their holes, on the side away from the nearest window."""
    boxes = [bounding_box(window) for window in part.windows]
    middle = sum((box.bottom + box.top) / 2.0 for box in boxes) / max(1, len(boxes))
    taken = list(inked(part))
    lines = []
    for hole in part.holes:
        label = hole.name.removeprefix("stud ")
        style = f'text-anchor="middle" fill="{_colour(hole.how)}"'
        size = (0.6 * em * len(label), 0.75 * em)
        if hole.kind == "clearance" and hole.thread:
            up = 1.0 if hole.at[1] >= middle else -1.0
            foot = hole.at[1] + up * (hole.boss + 0.9 * em) - (0.0 if up > 0 else 0.7 * em)
            if is_clear((hole.at[0], foot + size[1] / 2.0), size, taken):
                lines.append(_text(hole.at[0], -foot, label, em, style))
                continue
        # a boss is not always at the edge, and has lettering round it
        box = place(hole, size, 0.3 * em, taken)
        taken.append(box)
        lines.append(_text((box.left + box.right) / 2.0, -box.bottom, label, em, style))
    return lines


def _colour(how: str) -> str:
    return INK if how == "cut" else DRILL


def _size_line(a: Point2, b: Point2, text: str, em: float, upright: bool = False) -> list[str]:
    """A dimension line between two drawing points, y down, with arrow heads."""
    (ax, ay), (bx, by) = a, b
    length = math.dist(a, b)
    ux, uy = (bx - ax) / length, (by - ay) / length
    tip = 0.8 * em
    heads = []
    for x, y, s in ((ax, ay, 1.0), (bx, by, -1.0)):
        px, py = x + s * ux * tip, y + s * uy * tip
        wx, wy = -uy * 0.18 * em, ux * 0.18 * em
        heads.append(
            f"M{_n(x)} {_n(y)} L{_n(px + wx)} {_n(py + wy)} L{_n(px - wx)} {_n(py - wy)} Z"
        )
    mx, my = (ax + bx) / 2.0, (ay + by) / 2.0
    turn = f' transform="rotate(-90 {_n(mx)} {_n(my)})"' if upright else ""
    line = f"M{_n(ax)} {_n(ay)} L{_n(bx)} {_n(by)}"
    return [
        f'<path d="{line}" stroke="{SIZE}" stroke-width="{_n(em * 0.06)}"/>',
        f'<path d="{" ".join(heads)}" fill="{SIZE}"/>',
        _text(mx, my - 0.35 * em, text, em, f'text-anchor="middle" fill="{SIZE}"{turn}'),
    ]


def _witness(points: Sequence[tuple[Point2, Point2]], em: float) -> str:
    data = " ".join(f"M{_n(a[0])} {_n(a[1])} L{_n(b[0])} {_n(b[1])}" for a, b in points)
    return f'<path d="{data}" stroke="{SIZE}" stroke-width="{_n(em * 0.04)}"/>'


def _overall_sizes(box: Box, em: float) -> list[str]:
    below, beside = -box.bottom + 5.0 * em, box.right + 4.0 * em
    return [
        _witness(
            [
                ((box.left, -box.bottom + 0.5 * em), (box.left, below + 0.6 * em)),
                ((box.right, -box.bottom + 0.5 * em), (box.right, below + 0.6 * em)),
                ((box.right + 0.5 * em, -box.top), (beside + 0.6 * em, -box.top)),
                ((box.right + 0.5 * em, -box.bottom), (beside + 0.6 * em, -box.bottom)),
            ],
            em,
        ),
        *_size_line((box.left, below), (box.right, below), f"{box.width:.1f}", em),
        *_size_line(
            (beside, -box.bottom), (beside, -box.top), f"{box.height:.1f}", em, upright=True
        ),
    ]


def _pitch_sizes(part: FlatPart, box: Box, em: float) -> list[str]:
    """Distances from window to window along the row."""
    middles = sorted(
        ((b.left + b.right) / 2.0, b.top) for b in (bounding_box(w) for w in part.windows)
    )
    above = -(box.top + 3.6 * em)
    lines: list[str] = []
    for (x, top), (after, other) in pairwise(middles):
        if after - x < 1e-6:
            continue
        lines.append(
            _witness(
                [
                    ((x, -top + 0.3 * em), (x, above - 0.6 * em)),
                    ((after, -other + 0.3 * em), (after, above - 0.6 * em)),
                ],
                em,
            )
        )
        lines += _size_line((x, above), (after, above), f"{after - x:.1f}", em)
    return lines


def _axes(em: float) -> list[str]:
    """The datum: x to the right, y up, at the origin of the cut file."""
    arm = 2.2 * em
    head = f"M{_n(arm)} 0 l{_n(-0.7 * em)} {_n(-0.25 * em)} v{_n(0.5 * em)} Z"
    up = f"M0 {_n(-arm)} l{_n(-0.25 * em)} {_n(0.7 * em)} h{_n(0.5 * em)} Z"
    lines = f"M0 0 H{_n(arm)} M0 0 V{_n(-arm)}"
    return [
        f'<path d="{lines}" stroke="{INK}" stroke-width="{_n(em * 0.08)}"/>',
        f'<path d="{head} {up}" fill="{INK}"/>',
        f'<circle cx="0" cy="0" r="{_n(0.2 * em)}" fill="{INK}"/>',
        _text(arm + 0.2 * em, 0.35 * em, "x", em),
        _text(-0.25 * em, -arm - 0.3 * em, "y", em),
    ]


def _heading(part: FlatPart, manifold: str, revision: str, at: Point2, em: float) -> list[str]:
    x, y = at
    what = what_it_is(part, manifold, revision)
    return [
        _text(x, y, headline(part), 1.7 * em, 'font-weight="bold"'),
        _text(x, y + 1.7 * em, what, em, f'fill="{SIZE}"'),
    ]


def _hole_table(part: FlatPart, at: Point2, em: float) -> tuple[list[str], float]:
    """Rows of holes in two columns; gives the text and where it ends."""
    x, y = at
    long = any(hole.slot > 0.0 or hole.note for hole in part.holes)
    count = 1 if long else 2
    rows = -(-len(part.holes) // count)
    columns = [0.0, 6.0, 12.0, 18.0, 33.0, 37.0, 50.0] if long else [0.0, 6, 12, 18, 22, 26, 38]
    lines: list[str] = []
    for side in range(count):
        left = x + side * 41.0 * em
        some = part.holes[side * rows : (side + 1) * rows]
        bold = f'font-weight="bold" fill="{SIZE}"'
        table = [(HEADS, bold), *((cells(hole), "") for hole in some)] if some else []
        for k, (texts, style) in enumerate(table):
            row = y + k * 1.45 * em
            lines += [
                _text(left + c * em, row, text, em, style)
                for c, text in zip(columns, texts, strict=True)
                if text and (long or text != "note")
            ]
    return lines, y + (rows + 0.6) * 1.45 * em


def _notes(texts: Sequence[str], at: Point2, em: float) -> tuple[list[str], float]:
    x, y = at
    wrapped = [line for text in texts for line in textwrap.wrap(text, 140)]
    lines = [_text(x, y + k * 1.45 * em, text, em) for k, text in enumerate(wrapped)]
    return lines, y + (len(wrapped) - 1) * 1.45 * em
