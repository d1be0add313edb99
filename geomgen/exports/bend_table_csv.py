"""Bend tables as CSV: intersection points (XYZ), and length, rotation, angle (LRA).

Travel is from the flange to the collector. Rotation is the turn of one bend's plane
against the plane of the bend before it; positive is clockwise as seen from the start end
looking toward the far end. The first bend of a runner has nothing to be rotated against:
its plane is given by the intersection points, and its clock against the head's x is said.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable

from geomgen.design.joints import Joint, stock_for, welded
from geomgen.design.model import Design, Runner, Secondary, Stock
from geomgen.geometry.centreline import Bend, Straight, bends_at, corners_of
from geomgen.geometry.frames import Vec

NAME = "bend-table-csv"

XYZ_FILE = "bend_table_xyz.csv"
LRA_FILE = "bend_table_lra.csv"

SENSE = "clockwise is +, seen from the start end toward the far end"
"""Sign of the rotation, in words, on every row that has one."""

_COMMON = ("manifold", "revision", "part", "material", "quantity", "od_mm", "wall_mm")
XYZ_COLUMNS = (*_COMMON, "point", "what", "x_mm", "y_mm", "z_mm", "clr_mm")
LRA_COLUMNS = (
    *_COMMON,
    "bend",
    "straight_before_mm",
    "rotation_deg",
    "angle_deg",
    "clr_mm",
    "arc_mm",
    "rotation_sense",
    "made_from",
    "joints_before",
)


def export(design: Design) -> dict[str, bytes]:
    """Both tables, one row a point and one row a bend; the last row is the end straight.

    Nothing without a shelf: of a casting no bend is bought or made.
    """
    if not design.stock:
        return {}
    return {
        XYZ_FILE: _table(XYZ_COLUMNS, (row for t in design.tubes for row in _points(design, t))),
        LRA_FILE: _table(LRA_COLUMNS, (row for t in design.tubes for row in _bends(design, t))),
    }


def _points(design: Design, tube: Runner | Secondary) -> list[list[str]]:
    path = tube.path
    places = (0.0, *bends_at(path), path.length)
    stops: list[tuple[str, Vec, str]] = [("start", path.start.origin, "")]
    stops += [
        ("corner", corner, _mm(bend.radius))
        for corner, bend in zip(corners_of(path), path.bends, strict=True)
    ]
    stops.append(("end", path.end.origin, ""))
    return [
        [*_common(design, tube, at), str(index), what, *(_mm(value) for value in point), radius]
        for index, (at, (what, point, radius)) in enumerate(zip(places, stops, strict=True))
    ]


def _bends(design: Design, tube: Runner | Secondary) -> list[list[str]]:
    places = bends_at(tube.path)
    joints = welded(design, tube)
    rows: list[list[str]] = []
    straight = 0.0
    for piece in tube.path.pieces:
        if isinstance(piece, Straight):
            straight += piece.length
            continue
        turn = _deg(_wrapped(piece.roll)) if rows else ""
        at = places[len(rows)]
        stock = design.stock_for(tube.size_at(at)[0])
        rows.append(
            [
                *_common(design, tube, at),
                str(len(rows) + 1),
                _mm(straight),
                turn,
                *_bend(piece),
                SENSE if turn else _first(piece),
                _text(_made_from(stock, piece)),
                _joints(joints, len(rows), f"bend {len(rows) + 1}"),
            ]
        )
        straight = 0.0
    common = _common(design, tube, tube.path.length)
    rows.append([*common, "end", _mm(straight), *[""] * 6, _joints(joints, len(rows), "the end")])
    return rows


def _made_from(stock: tuple[Stock, ...], bend: Bend) -> str:
    line = stock_for(bend, stock)
    return "nothing on the shelf" if line is None else line.label


def _joints(joints: tuple[Joint, ...], straight: int, then: str) -> str:
    """The joints in one straight, in words; oval is the end that is cut in its bend."""
    return "; ".join(_told(joint, then) for joint in joints if joint.straight == straight)


def _told(joint: Joint, then: str) -> str:
    since = f"bend {joint.straight}" if joint.straight else "the start"
    place = f"{joint.before:.1f} mm behind {since} and {joint.behind:.1f} mm before {then}"
    if joint.what:
        return f"{place}, {joint.what}"
    oval = " and ".join(f"bend {number}" for number in joint.cut)
    return f"{place}, {oval} cut in the bend (oval)" if oval else place


def _first(bend: Bend) -> str:
    """Where the first bend goes, in words and as ``clock`` on the bench has it."""
    clock = _deg(_wrapped(bend.roll))
    return f"first bend: its plane is given by the points; clock {clock} against the head's x"


def _bend(bend: Bend) -> tuple[str, str, str]:
    return _deg(bend.angle), _mm(bend.radius), _mm(bend.length)


def _common(design: Design, tube: Runner | Secondary, station: float) -> tuple[str, ...]:
    outer, inner = tube.size_at(station)
    bank = design.bank_of(tube)
    return (
        _text(f"{design.name}, {design.engine.called(bank)}" if bank else design.name),
        _text(design.revision),
        tube.name.replace(" ", "_"),
        _text(tube.material),
        "1",
        _mm(2.0 * outer),
        _mm(outer - inner),
    )


def _wrapped(angle: float) -> float:
    """The same turn, more than -180 degrees and at most 180."""
    turned = math.remainder(angle, 2.0 * math.pi)
    return math.pi if turned <= -math.pi else turned


def _text(value: str) -> str:
    """Free text that no spreadsheet takes for a formula."""
    return f"'{value}" if value[:1] in ("=", "+", "-", "@") else value


def _mm(value: float) -> str:
    # A short first leg gives the whole tube its direction: 1e-6 mm keeps the far end to 0.01.
    return f"{round(value, 6) + 0.0:.6f}"


def _deg(value: float) -> str:
    return f"{round(math.degrees(value), 5) + 0.0:.5f}"


def _table(columns: tuple[str, ...], rows: Iterable[list[str]]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue().encode("utf-8")
