"""Views, names and a scale bar on one sheet, written as PNG."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from geomgen.design.model import Design
from geomgen.geometry.distance import points_at
from geomgen.recipe.nodes import parts_of
from geomgen.report import _hues
from geomgen.report._shading import Floats, Raster, Scene, View, rendered
from geomgen.report._wires import Wire, draw, wires_of

if TYPE_CHECKING:
    from geomgen.report.assembly_picture import Cell

Rect = tuple[float, float, float, float]
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

INK, SOFT, LINE = (29, 39, 51), (91, 102, 115), (205, 210, 216)
_WIRE = 150
_BARS = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)


def sheet(
    design: Design,
    scene: Scene,
    cells: tuple[Cell, ...],
    legend: tuple[tuple[int, int, int, int], str],
    size: tuple[int, int],
    fine: int,
    extents: Floats,
) -> bytes:
    """The whole sheet as PNG.

    Args:
        design: what is shown.
        scene: its parts as triangles.
        cells: the views, the three-quarter view first.
        legend: box for the legend, and a line about the views.
        size: of the sheet [pixels].
        fine: how many times finer the views are worked out.
        extents: of all parts along x, y and z [mm].
    """
    image = Image.new("RGB", size, "white")
    pen = ImageDraw.Draw(image)
    for cell in cells:
        _cell(image, pen, design, scene, cell, fine)
    _title(pen, design, extents, size)
    scale = cells[-1].view.scale / fine
    _legend(pen, design, legend, scale)
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=4)
    return out.getvalue()


def _font(size: int) -> Font:
    return ImageFont.load_default(size)


def _cell(
    image: Image.Image,
    pen: ImageDraw.ImageDraw,
    design: Design,
    scene: Scene,
    cell: Cell,
    fine: int,
) -> None:
    raster = rendered(scene, cell.view)
    wires = wires_of(design, cell.view.axes[2])
    draw(raster, cell.view, wires, _WIRE, fine)
    wide, high = (side // fine for side in cell.view.size)
    x, y = cell.at
    image.paste(Image.fromarray(raster.colour).reduce(fine), (x, y))
    pen.rectangle((x, y, x + wide - 1, y + high - 1), outline=LINE)
    title = (float(x), float(y), x + 14.0 + pen.textlength(cell.title, font=_font(15)), y + 24.0)
    pen.rectangle(title, fill="white", outline=LINE)
    pen.text((x + 7, y + 4), cell.title, fill=SOFT, font=_font(15))
    taken = [title]
    drawn = raster.part[::fine, ::fine] >= 0
    _numbers(pen, design, cell, raster, fine, taken)
    _names(pen, cell, wires, drawn, fine, taken)


def _numbers(
    pen: ImageDraw.ImageDraw,
    design: Design,
    cell: Cell,
    raster: Raster,
    fine: int,
    taken: list[Rect],
) -> None:
    """Cylinder numbers on their tubes, where the tube is seen, nearest its middle."""
    names = [part.name for part in parts_of(design.assembly)]
    shown = _hues.colours(design)
    font = _font(17)
    for runner in design.runners:
        name = runner.part
        if name not in names:
            continue
        share = np.array([0.5 + 0.03 * (k // 2 + 1) * (-1) ** k for k in range(32)])
        places = cell.view.seen(points_at(runner.path, runner.path.length * share))
        reach = int(runner.outer_radius * cell.view.scale * 0.45)
        for px, py, _ in places:
            if not _covered(raster, names.index(name), int(px), int(py), reach):
                continue
            x, y = cell.at[0] + px / fine, cell.at[1] + py / fine
            box = (x - 12.0, y - 12.0, x + 12.0, y + 12.0)
            if any(_meet(box, other) for other in taken):
                continue
            dark = tuple(int(150 * value) for value in shown[name])
            pen.ellipse(box, fill=(255, 255, 255), outline=dark, width=2)
            pen.text((x, y), str(runner.cylinder), fill=INK, font=font, anchor="mm")
            taken.append(box)
            break


def _covered(raster: Raster, part: int, x: int, y: int, reach: int) -> bool:
    """Whether a part fills the pixels round a place."""
    high, wide = raster.part.shape
    if not (reach <= x < wide - reach and reach <= y < high - reach):
        return False
    round_it = raster.part[y - reach : y + reach + 1 : 2, x - reach : x + reach + 1 : 2]
    return bool((round_it == part).mean() > 0.9)


def _names(
    pen: ImageDraw.ImageDraw,
    cell: Cell,
    wires: list[Wire],
    drawn: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    fine: int,
    taken: list[Rect],
) -> None:
    """Names of obstacles beside their lines, where nothing else is."""
    font = _font(14)
    high, wide = drawn.shape
    for wire in wires:
        length = pen.textlength(wire.name, font=font)
        for box in _places(wire, cell.view, fine, length):
            left, top, right, bottom = (int(side) for side in box)
            if left < 4 or top < 4 or right > wide - 4 or bottom > high - 4:
                continue
            on_sheet = (
                box[0] + cell.at[0],
                box[1] + cell.at[1],
                box[2] + cell.at[0],
                box[3] + cell.at[1],
            )
            if drawn[top:bottom, left:right].any() or any(_meet(on_sheet, t) for t in taken):
                continue
            pen.text(on_sheet[:2], wire.name, fill=SOFT, font=font)
            taken.append(on_sheet)
            break


def _places(wire: Wire, view: View, fine: int, length: float) -> list[Rect]:
    """Boxes in the cell that a name could stand in.

    In the middle of what hangs on the manifold; four round each anchor, then farther off.
    """
    tall, gap = 17.0, 5.0
    within = []
    if wire.hangs:
        x, y, _ = view.seen(wire.lines.reshape(-1, 3)).mean(axis=0) / fine
        within.append((x - length / 2.0, y - tall / 2.0, x + length / 2.0, y + tall / 2.0))
    return within + [
        (x, y, x + length, y + tall)
        for off in (gap, gap + tall)
        for px, py, _ in view.seen(wire.anchors) / np.array([fine, fine, 1.0])
        for x in (px + gap, px - gap - length)
        for y in (py - off - tall, py + off)
    ]


def _meet(a: Rect, b: Rect) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _title(
    pen: ImageDraw.ImageDraw, design: Design, extents: Floats, size: tuple[int, int]
) -> None:
    pen.text((18, 10), f"{design.name}, revision {design.revision}", fill=INK, font=_font(30))
    x, y, z = extents
    what = (
        f"{design.title}: {x:.0f} x {y:.0f} x {z:.0f} mm along x, y, z; third-angle "
        f"projection; obstacles as grey lines; to look at, not to measure"
    )
    pen.text((18, 50), what, fill=SOFT, font=_font(18))
    pen.line((18, 78, size[0] - 18, 78), fill=LINE)


def _swatch(
    pen: ImageDraw.ImageDraw,
    box: tuple[int, int, int, int],
    those: list[tuple[int, int, int]],
) -> None:
    """A patch of one colour, or of several side by side."""
    left, top, right, bottom = box
    wide = (right - left) / len(those)
    for k, colour in enumerate(those):
        pen.rectangle((left + k * wide, top, left + (k + 1) * wide, bottom), fill=colour)
    pen.rectangle(box, outline=SOFT)


def _legend(
    pen: ImageDraw.ImageDraw,
    design: Design,
    said: tuple[tuple[int, int, int, int], str],
    scale: float,
) -> None:
    """Colours, lengths of the runners, and a scale bar for the three projections."""
    box, note = said
    left, top, right, bottom = box
    font = _font(15)
    rows = [
        (_wrapped(pen, text, font, right - left - 50.0), [_bytes(colour) for colour in those])
        for text, those in _hues.legend(design)
    ]
    y = float(top + 10)
    # Between the top and what stands over the scale bar; closer where there is much to say.
    count = sum(len(lines) for lines, _ in rows)
    step = min(21.0, max(16.0, (bottom - (64 if note else 42) - y) / count))
    for lines, those in rows:
        _swatch(pen, (left + 12, int(y) + 2, left + 30, int(y) + 15), those)
        for line in lines:
            pen.text((left + 38, int(y)), line, fill=INK, font=font)
            y += step
    room = (right - left - 24) / scale
    bar = max((b for b in _BARS if b <= min(room, 300.0)), default=_BARS[0])
    y, x = bottom - 14, left + 12
    end = x + bar * scale
    pen.rectangle((x, y - 6, end, y), outline=INK)
    pen.rectangle((x, y - 6, (x + end) / 2.0, y), fill=INK)
    pen.text((x, y - 26), f"{bar:g} mm in these three views", fill=INK, font=font)
    pen.text((x, y - 48), note, fill=SOFT, font=font)


def _wrapped(pen: ImageDraw.ImageDraw, text: str, font: Font, width: float) -> list[str]:
    """A text in lines that are no wider, broken behind commas."""
    lines = [""]
    for word in text.split(", "):
        longer = f"{lines[-1]}, {word}" if lines[-1] else word
        if lines[-1] and pen.textlength(longer, font=font) > width:
            lines[-1] += ","
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _bytes(colour: tuple[float, float, float]) -> tuple[int, int, int]:
    r, g, b = (int(255.0 * value + 0.5) for value in colour)
    return r, g, b
