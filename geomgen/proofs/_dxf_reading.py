"""A written DXF read back into plain lines and arcs."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment

if TYPE_CHECKING:
    from collections.abc import Iterable

KNOWN = ("LWPOLYLINE", "POLYLINE", "CIRCLE", "LINE", "ARC")
"""Entities that a cutter's software takes."""

FLAT = 1e-9
"""Heights and tilts below this are none [mm]."""


@dataclass(frozen=True)
class Contour:
    """One entity as segments, in file order.

    Attributes:
        layer: it lies on.
        kind: of entity.
        pieces: its segments.
        closed: whether the entity itself says that it closes.
    """

    layer: str
    kind: str
    pieces: Loop
    closed: bool


@dataclass(frozen=True)
class Reading:
    """What a file holds.

    Attributes:
        version: ``AC1015`` and so on.
        units: ``$INSUNITS``, None when the header has none.
        measurement: ``$MEASUREMENT``, None when the header has none.
        contours: every entity that is made of lines and arcs.
        foreign: other entities, as ``SPLINE on CUT``.
        raised: entities that are not flat at z = 0.
    """

    version: str
    units: int | None
    measurement: int | None
    contours: tuple[Contour, ...]
    foreign: tuple[str, ...]
    raised: tuple[str, ...]

    def in_mm(self, factor: float) -> Reading:
        """The same in mm, from a file whose unit is ``factor`` mm long."""
        return replace(self, contours=tuple(_scaled(c, factor) for c in self.contours))

    def on(self, layer: str) -> tuple[Contour, ...]:
        """Contours on one layer."""
        return tuple(contour for contour in self.contours if contour.layer == layer)


def _scaled(contour: Contour, factor: float) -> Contour:
    if factor == 1.0:
        return contour

    def carry(p: Point2) -> Point2:
        return (factor * p[0], factor * p[1])

    pieces = tuple(
        Line(carry(piece.start), carry(piece.end))
        if isinstance(piece, Line)
        else Arc(carry(piece.centre), factor * piece.radius, piece.begin, piece.sweep)
        for piece in contour.pieces
    )
    return replace(contour, pieces=pieces)


class Unreadable(Exception):
    """The bytes are no DXF that a reader takes."""


def read(data: bytes) -> Reading:
    """Read the bytes of a DXF.

    Raises:
        Unreadable: they are none, or are damaged.
    """
    import ezdxf
    from ezdxf.lldxf.const import DXFError

    try:
        doc = ezdxf.read(io.StringIO(data.decode("utf-8")))  # type: ignore[attr-defined]
        faults = doc.audit().errors
    except (DXFError, ValueError, KeyError, TypeError, IndexError, AttributeError) as error:
        raise Unreadable(f"{type(error).__name__}: {error}") from None
    if faults:
        raise Unreadable(str(faults[0].message))
    entities = [entity for layout in doc.layouts for entity in layout if _is_drawn(entity)]
    old = doc.dxfversion <= "AC1009"
    return Reading(
        version=doc.dxfversion,
        units=None if old else _whole(doc.header.get("$INSUNITS")),
        measurement=None if old else _whole(doc.header.get("$MEASUREMENT")),
        contours=tuple(_contour(e) for e in entities if e.dxftype() in KNOWN),
        foreign=tuple(_name(e) for e in entities if e.dxftype() not in KNOWN),
        raised=tuple(_name(e) for e in entities if e.dxftype() in KNOWN and not _is_flat(e)),
    )


def _whole(value: Any) -> int | None:
    return None if value is None else int(value)


def _is_drawn(entity: Any) -> bool:
    return bool(entity.dxftype() != "VIEWPORT")


def _name(entity: Any) -> str:
    return f"{entity.dxftype()} on {entity.dxf.layer}"


_POINTS = {"LINE": ("start", "end"), "CIRCLE": ("center",), "ARC": ("center",)}


def _is_flat(entity: Any) -> bool:
    up = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    heights = [abs(up[0]), abs(up[1]), abs(up[2] - 1.0), abs(entity.dxf.get("thickness", 0.0))]
    heights += [abs(entity.dxf.get(key)[2]) for key in _POINTS.get(entity.dxftype(), ())]
    if entity.dxftype() == "LWPOLYLINE":
        heights.append(abs(entity.dxf.elevation))
    if entity.dxftype() == "POLYLINE":
        heights.append(0.0 if entity.is_2d_polyline else math.inf)
        heights.append(abs(entity.dxf.get("elevation", (0.0, 0.0, 0.0))[2]))
        heights += [abs(vertex.dxf.location[2]) for vertex in entity.vertices]
    return bool(max(heights) <= FLAT)


def _contour(entity: Any) -> Contour:
    kind = entity.dxftype()
    pieces, closed = _PIECES[kind](entity)
    return Contour(entity.dxf.layer, kind, pieces, closed)


def _flat(p: Any) -> Point2:
    return (float(p[0]), float(p[1]))


def _from_lwpolyline(entity: Any) -> tuple[Loop, bool]:
    return _bulged(entity.get_points("xyb"), bool(entity.closed))


def _from_polyline(entity: Any) -> tuple[Loop, bool]:
    points = [(*_flat(v.dxf.location), float(v.dxf.get("bulge", 0.0))) for v in entity.vertices]
    return _bulged(points, bool(entity.is_closed))


def _from_circle(entity: Any) -> tuple[Loop, bool]:
    centre, radius = _flat(entity.dxf.center), float(entity.dxf.radius)
    return (Arc(centre, radius, 0.0, math.pi), Arc(centre, radius, math.pi, math.pi)), True


def _from_line(entity: Any) -> tuple[Loop, bool]:
    return (Line(_flat(entity.dxf.start), _flat(entity.dxf.end)),), False


def _from_arc(entity: Any) -> tuple[Loop, bool]:
    begin = math.radians(entity.dxf.start_angle)
    sweep = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0)
    return (Arc(_flat(entity.dxf.center), float(entity.dxf.radius), begin, sweep),), False


_PIECES = {
    "LWPOLYLINE": _from_lwpolyline,
    "POLYLINE": _from_polyline,
    "CIRCLE": _from_circle,
    "LINE": _from_line,
    "ARC": _from_arc,
}


def _bulged(points: Iterable[tuple[float, float, float]], closed: bool) -> tuple[Loop, bool]:
    rows = [(float(x), float(y), float(b)) for x, y, b in points]
    after = rows[1:] + rows[:1] if closed else rows[1:]
    pieces: list[Segment] = []
    for (x, y, b), (ex, ey, _) in zip(rows, after, strict=False):
        pieces.append(segment((x, y), (ex, ey), b))
    return tuple(pieces), closed


def segment(start: Point2, end: Point2, bulge: float) -> Segment:
    """A line, or the arc whose quarter angle has the tangent ``bulge``."""
    if bulge == 0.0:
        return Line(start, end)
    dx, dy = end[0] - start[0], end[1] - start[1]
    lean = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = ((start[0] + end[0]) / 2.0 - lean * dy, (start[1] + end[1]) / 2.0 + lean * dx)
    begin = math.atan2(start[1] - centre[1], start[0] - centre[0])
    return Arc(centre, math.dist(start, centre), begin, 4.0 * math.atan(bulge))


def chained(contours: Iterable[Contour], reach: float) -> tuple[list[Loop], list[str]]:
    """Closed loops of one layer, and what is wrong with the rest.

    Loose lines and arcs are joined where exactly two ends lie within ``reach`` [mm].
    """
    loops: list[Loop] = []
    faults: list[str] = []
    loose: list[Segment] = []
    for contour in contours:
        if contour.closed:
            loops.append(contour.pieces)
        elif contour.kind in ("LINE", "ARC"):
            loose.extend(contour.pieces)
        else:
            faults.append(f"open {contour.kind} at {_at(contour.pieces[0].start)}")
    while loose:
        chain = [loose.pop(0)]
        while math.dist(chain[-1].end, chain[0].start) > reach:
            hits = [(k, p) for k, s in enumerate(loose) if (p := _onward(chain[-1].end, s, reach))]
            if len(hits) != 1:
                fault = "open chain" if not hits else "three ends meet"
                faults.append(f"{fault} at {_at(chain[-1].end)}")
                break
            loose.pop(hits[0][0])
            chain.append(hits[0][1])
        else:
            loops.append(tuple(chain))
    return loops, faults


def strung(contours: Iterable[Contour], reach: float) -> list[Loop]:
    """Open paths of one layer in file order: loose pieces that follow each other are one.

    An arc's entity has no direction, so each is turned to go on from the piece before it, and
    the first of a path to lead on to the second.
    """
    paths: list[list[Segment]] = []
    for contour in contours:
        onward = _onward(paths[-1][-1].end, contour.pieces[0], reach) if paths else None
        if paths and onward is None and len(paths[-1]) == 1:
            turned = _turned(paths[-1][0])
            onward = _onward(turned.end, contour.pieces[0], reach)
            paths[-1] = [turned] if onward is not None else paths[-1]
        if contour.kind not in ("LINE", "ARC") or onward is None:
            paths.append(list(contour.pieces))
        else:
            paths[-1].append(onward)
    return [tuple(path) for path in paths]


def _turned(piece: Segment) -> Segment:
    if isinstance(piece, Line):
        return Line(piece.end, piece.start)
    return Arc(piece.centre, piece.radius, piece.begin + piece.sweep, -piece.sweep)


def _onward(end: Point2, piece: Segment, reach: float) -> Segment | None:
    """The piece, turned round if need be, if it goes on from ``end``."""
    if math.dist(end, piece.start) <= reach:
        return piece
    if math.dist(end, piece.end) <= reach:
        return _turned(piece)
    return None


def _at(p: Point2) -> str:
    return f"({p[0]:.3f}, {p[1]:.3f})"
