"""Lines, arcs and curves of a DXF file that someone else has drawn, as plain strokes.

Reads the group codes themselves (ASCII DXF, all versions): a trace needs seven kinds of
entity, must be read in milliseconds by every check, and must never fail in an unforeseen way
on a broken file. Meaning of the codes: the format's published reference. The tests write files
with ezdxf and read them here.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from geomgen.ports._dxf_curves import ellipse, spline
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment

MOST_BYTES = 4_000_000
"""Largest file that is read [byte]."""

MOST_PIECES = 20_000
"""Most lines and arcs that are read of one file."""

UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 8: 25.4e-6, 9: 0.0254, 10: 914.4}
"""Drawing units by ``$INSUNITS`` [mm]: inch, foot, mm, cm, m, microinch, mil, yard."""
UNITS |= {13: 1e-3, 14: 100.0, 15: 1e4, 16: 1e5}

_FLAT = 0.01
"""Heights that differ by less are one [drawing units]."""

Tags = list[tuple[int, str]]


class NotDrawn(Exception):
    """A file that no outline can be read from: what was found, what is wanted, what to do."""

    def __init__(self, found: str, allowed: str, remedy: str) -> None:
        self.found, self.allowed, self.remedy = found, allowed, remedy
        super().__init__(f"{found}; {allowed}; {remedy}")


@dataclass(frozen=True)
class Stroke:
    """One entity as segments, in drawing units; ``layer`` as the file spells it."""

    layer: str
    pieces: Loop


@dataclass(frozen=True)
class Drawing:
    """What a DXF file holds.

    Attributes:
        unit: of drawing [mm]; None when the file does not say.
        strokes: of model space, in file order.
        passed_over: entities that are no lines or curves in the drawing's plane, by kind.
    """

    unit: float | None
    strokes: tuple[Stroke, ...]
    passed_over: tuple[tuple[str, int], ...]


def read(content: bytes) -> Drawing:
    """Read a DXF file.

    Raises:
        NotDrawn: it is no ASCII DXF, is broken, or is too large.
    """
    tags = _tags(_text(content))
    unit = UNITS.get(int(_number(_header(tags, "$INSUNITS"), 0.0)))
    strokes: list[Stroke] = []
    passed: Counter[str] = Counter()
    count = 0
    for kind, own in _entities(tags):
        if _text_of(own, 67) == "1" or _text_of(own, 60) == "1":
            continue
        pieces = _pieces(kind, own)
        if pieces is None:
            passed[kind] += 1
        elif pieces:
            strokes.append(Stroke(_text_of(own, 8) or "0", pieces))
            count += len(pieces)
        if count > MOST_PIECES:
            raise NotDrawn(
                f"more than {MOST_PIECES} lines and arcs",
                "a drawing of outlines",
                "save the gasket's outline in a file of its own",
            )
    return Drawing(unit, tuple(strokes), tuple(sorted(passed.items())))


def _text(content: bytes) -> str:
    if len(content) > MOST_BYTES:
        raise NotDrawn(
            "a file of more than " + f"{MOST_BYTES // 1_000_000} MB",
            f"a DXF file of at most {MOST_BYTES // 1_000_000} MB",
            "save the gasket's outline in a file of its own",
        )
    if content.startswith(b"AutoCAD Binary DXF"):
        raise NotDrawn("a binary DXF file", "an ASCII DXF file", "save it as ASCII DXF")
    if b"\x00" in content:
        raise NotDrawn("a binary file", "an ASCII DXF file", "export the outline as DXF")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _tags(text: str) -> Tags:
    """Pairs of group code and value."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    while lines and not lines[-1].strip():
        lines.pop()
    tags: Tags = []
    for i in range(0, len(lines) - 1, 2):
        code = lines[i].strip()
        if not (code.isascii() and code.lstrip("-").isdigit() and len(code) <= 5):
            raise _broken(i + 1, lines[i])
        tags.append((int(code), lines[i + 1].strip()))
    if len(lines) % 2 or not tags or (0, "EOF") not in tags[-1:]:
        raise NotDrawn(
            "a file that does not end in EOF" if lines else "an empty file",
            "a whole DXF file",
            "export it again",
        )
    return tags


def _broken(line: int, said: str) -> NotDrawn:
    return NotDrawn(
        f"line {line}, {said.strip()[:30]!r}, where a group code should stand",
        "an ASCII DXF file: a group code and its value, line by line",
        "export the outline as DXF",
    )


def _header(tags: Tags, name: str) -> str:
    for i, tag in enumerate(tags[:20_000]):
        if tag == (9, name) and i + 1 < len(tags):
            return tags[i + 1][1]
        if tag == (2, "ENTITIES"):
            break
    return ""


def _entities(tags: Tags) -> Iterator[tuple[str, Tags]]:
    """Kind and tags of every entity of the ENTITIES section; a polyline has its vertices'."""
    inside, kind, own, open_line = False, "", Tags(), False
    for i, (code, value) in enumerate(tags):
        if code == 0:
            goes_on = open_line and value == "VERTEX"
            if not goes_on:
                if inside and kind not in ("", "SECTION", "SEQEND", "VERTEX"):
                    yield kind, own
                kind, own, open_line = value, [], value == "POLYLINE"
            else:
                own.append((0, "VERTEX"))
            if value == "SECTION":
                inside = tags[i + 1 : i + 2] == [(2, "ENTITIES")]
            elif value == "ENDSEC":
                inside = False
        elif inside:
            own.append((code, value))


def _number(text: str, otherwise: float | None = None) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if math.isfinite(value) and abs(value) < 1e9:
        return value
    if otherwise is not None and not text:
        return otherwise
    raise NotDrawn(
        f"{text[:30]!r} where a number should stand", "numbers", "export the drawing again"
    )


def _text_of(tags: Tags, code: int) -> str:
    return next((value for c, value in tags if c == code), "")


def _value(tags: Tags, code: int, otherwise: float = 0.0) -> float:
    return _number(_text_of(tags, code), otherwise)


def _whole(tags: Tags, code: int, otherwise: int = 0) -> int:
    return int(_value(tags, code, float(otherwise)))


def _point(tags: Tags, first: int) -> tuple[float, float, float]:
    x, y, z = (_value(tags, first + 10 * i) for i in range(3))
    return (x, y, z)


def _points(tags: Tags, first: int) -> list[tuple[float, float, float]]:
    """All points whose x has the code ``first``."""
    found: list[list[float]] = []
    for code, value in tags:
        if code == first:
            found.append([_number(value), 0.0, 0.0])
        elif found and code in (first + 10, first + 20):
            found[-1][(code - first) // 10] = _number(value)
    return [(x, y, z) for x, y, z in found]


def _hand(tags: Tags) -> float | None:
    """1 for an entity seen from above, -1 from below; None for one that is tilted.

    Seen from below, x runs to the left (the format's arbitrary axis rule).
    """
    x, y, z = (_value(tags, 210 + 10 * i, float(i == 2)) for i in range(3))
    if math.hypot(x, y) > 1e-6 * abs(z):
        return None
    return math.copysign(1.0, z)


def _pieces(kind: str, tags: Tags) -> Loop | None:
    """Segments of one entity; None for one that is no flat line or curve."""
    if kind == "LINE":
        (x, y, z), (ex, ey, ez) = _point(tags, 10), _point(tags, 11)
        return (Line((x, y), (ex, ey)),) if abs(ez - z) <= _FLAT else None
    if kind in ("ARC", "CIRCLE"):
        return _arc(kind, tags)
    if kind == "LWPOLYLINE":
        return _lwpolyline(tags)
    if kind == "POLYLINE":
        return _polyline(tags)
    if kind == "ELLIPSE":
        return _ellipse(tags)
    return _spline(tags) if kind == "SPLINE" else None


def _arc(kind: str, tags: Tags) -> Loop | None:
    hand, radius = _hand(tags), _value(tags, 40)
    if hand is None or radius <= 0.0:
        return None
    x, y, _ = _point(tags, 10)
    centre = (hand * x, y)
    if kind == "CIRCLE":
        return (Arc(centre, radius, 0.0, math.pi), Arc(centre, radius, math.pi, math.pi))
    begin, end = math.radians(_value(tags, 50)), math.radians(_value(tags, 51))
    sweep = (end - begin) % math.tau or math.tau
    if hand < 0.0:
        begin, sweep = math.pi - begin, -sweep
    parts = 2 if abs(sweep) > math.pi else 1
    share = sweep / parts
    return tuple(
        Arc(centre, radius, math.remainder(begin + i * share, math.tau), share)
        for i in range(parts)
    )


def _lwpolyline(tags: Tags) -> Loop | None:
    hand = _hand(tags)
    if hand is None:
        return None
    rows: list[list[float]] = []
    for code, value in tags:
        if code == 10:
            rows.append([hand * _number(value), 0.0, 0.0])
        elif rows and code == 20:
            rows[-1][1] = _number(value)
        elif rows and code == 42:
            rows[-1][2] = hand * _number(value)
    return _bulged(rows, bool(_whole(tags, 70) & 1))


def _polyline(tags: Tags) -> Loop | None:
    flags = _whole(tags, 70)
    if flags & (16 | 64):  # a mesh
        return None
    cuts = [i for i, tag in enumerate(tags) if tag == (0, "VERTEX")]
    hand = _hand(tags[: cuts[0]] if cuts else tags)
    if hand is None:
        return None
    hand = 1.0 if flags & 8 else hand
    rows, heights = [], []
    for i, cut in enumerate(cuts):
        own = tags[cut : cuts[i + 1] if i + 1 < len(cuts) else len(tags)]
        if _whole(own, 70) & 16:  # a control point of the curve, not on it
            continue
        x, y, z = _point(own, 10)
        rows.append([hand * x, y, hand * _value(own, 42)])
        heights.append(z)
    if heights and max(heights) - min(heights) > _FLAT:
        return None
    return _bulged(rows, bool(flags & 1))


def _bulged(rows: list[list[float]], closed: bool) -> Loop:
    pieces: list[Segment] = []
    ends = [*rows[1:], *(rows[:1] if closed else [])]
    for (x, y, bulge), (ex, ey, _) in zip(rows, ends, strict=False):
        if math.dist((x, y), (ex, ey)) > 0.0:
            pieces.append(_bulge((x, y), (ex, ey), bulge))
    return tuple(pieces)


def _bulge(start: Point2, end: Point2, bulge: float) -> Segment:
    """A line, or the arc whose bulge is the tangent of a quarter of its sweep."""
    if abs(bulge) < 1e-9:
        return Line(start, end)
    dx, dy = end[0] - start[0], end[1] - start[1]
    across = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = ((start[0] + end[0]) / 2.0 - across * dy, (start[1] + end[1]) / 2.0 + across * dx)
    begin = math.atan2(start[1] - centre[1], start[0] - centre[0])
    return Arc(centre, math.dist(start, centre), begin, 4.0 * math.atan(bulge))


def _ellipse(tags: Tags) -> Loop | None:
    hand = _hand(tags)
    (x, y, _), (ax, ay, az) = _point(tags, 10), _point(tags, 11)
    ratio = _value(tags, 40, 1.0)
    if hand is None or abs(az) > _FLAT or math.hypot(ax, ay) <= 0.0 or not 0.0 < ratio <= 1e3:
        return None
    begin, end = _value(tags, 41), _value(tags, 42, math.tau)
    sweep = (end - begin) % math.tau or math.tau
    return _lines(ellipse((x, y), (ax, ay), hand * ratio, begin, sweep))


def _spline(tags: Tags) -> Loop | None:
    control = _points(tags, 10)
    if not control or max(p[2] for p in control) - min(p[2] for p in control) > _FLAT:
        return None
    knots = [_number(value) for code, value in tags if code == 40]
    weights = [_number(value) for code, value in tags if code == 41]
    curve = spline(_whole(tags, 71, 3), knots, [(x, y) for x, y, _ in control], weights)
    return _lines(curve) if curve is not None else None


def _lines(points: list[Point2]) -> Loop:
    return tuple(Line(a, b) for a, b in pairwise(points) if a != b)
