"""Ways to spoil a DXF file, by its text alone: group codes are changed, nothing is re-written.

Entities are lists of ``[code, text]``. Bulges are those of LWPOLYLINE, bare arcs those of R12.
"""

import math
from itertools import pairwise


def spoiled(data, spoil):
    """The file after ``spoil`` has changed its list of entities."""
    lines = data.decode("ascii").split("\n")
    tags = [[int(code), text.strip()] for code, text in zip(lines[:-1:2], lines[1::2], strict=True)]
    begin = tags.index([2, "ENTITIES"]) + 1
    end = begin + tags[begin:].index([0, "ENDSEC"])
    entities = []
    for code, text in tags[begin:end]:
        if code == 0:
            entities.append([])
        entities[-1].append([code, text])
    spoil(entities)
    tags[begin:end] = [tag for entity in entities for tag in entity]
    return "".join(f"{code:3d}\n{text}\n" for code, text in tags).encode("ascii")


def _cut(entities, *kinds):
    return [e for e in entities if e[0][1] in kinds and [8, "CUT"] in e]


def _value(entity, code):
    return next(float(text) for c, text in entity if c == code)


def _shift(entity, code, by):
    """Add to the first value of a group."""
    tag = next(tag for tag in entity if tag[0] == code)
    tag[1] = repr(float(tag[1]) + by)


def nothing(entities):
    """Write the same again."""


def bulge(factor):
    """Scale the largest bulge of the outline; without polylines, bend its longest arc to match."""

    def spoil(entities):
        polylines = _cut(entities, "LWPOLYLINE")
        if polylines:
            bulges = [tag for tag in polylines[-1] if tag[0] == 42]
            tag = max(bulges, key=lambda tag: abs(float(tag[1])))
            tag[1] = repr(float(tag[1]) * factor)
        else:
            _bend(_cut(entities, "ARC")[-1], factor)

    return spoil


def _bend(arc, factor):
    """Keep an arc's ends and scale its bulge: another centre, radius and angles, or its chord."""
    x, y, r = (_value(arc, code) for code in (10, 20, 40))
    a, b = (math.radians(_value(arc, code)) for code in (50, 51))
    turned = math.tan((b - a) % math.tau / 4.0) * factor
    ends = [(x + r * math.cos(t), y + r * math.sin(t)) for t in (a, b)]
    (x0, y0), (x1, y1) = ends
    values = {10: x0, 20: y0, 11: x1, 21: y1}
    kind = "LINE"
    if turned:
        sweep, chord = 4.0 * math.atan(turned), math.dist(*ends)
        r = chord / 2.0 / math.sin(sweep / 2.0)
        away = r * math.cos(sweep / 2.0) / chord
        x, y = (x0 + x1) / 2 - away * (y1 - y0), (y0 + y1) / 2 + away * (x1 - x0)
        a, b = (math.degrees(math.atan2(v - y, u - x)) % 360 for u, v in ends)
        values, kind = {10: x, 20: y, 40: r, 50: a, 51: b}, "ARC"
    arc[:] = [[0, kind], [8, "CUT"], *([code, repr(value)] for code, value in values.items())]


def hole_moved(entities):
    """Move one bolt hole by 0.05 mm."""
    _shift(_cut(entities, "CIRCLE")[2], 10, 0.05)


def hole_widened(entities):
    """Open one bolt hole by 0.05 mm."""
    _shift(_cut(entities, "CIRCLE")[1], 40, 0.025)


def all_moved(entities):
    """Move the whole part by 0.05 mm."""
    for entity in _cut(entities, "LINE", "ARC", "CIRCLE", "LWPOLYLINE"):
        for tag in entity:
            if tag[0] in (10, 11):
                tag[1] = repr(float(tag[1]) + 0.05)


def hole_missing(entities):
    """Leave one bolt hole out."""
    entities.remove(_cut(entities, "CIRCLE")[0])


def loop_opened(entities):
    """Take the closing flag from the outline, or 0.05 mm from the end of a line."""
    polylines = _cut(entities, "LWPOLYLINE")
    if polylines:
        tag = next(tag for tag in polylines[-1] if tag[0] == 70)
        assert tag[1] == "1"
        tag[1] = "0"
        last = [tag for tag in polylines[-1] if tag[0] in (10, 42)][-1]
        if last[0] == 42:
            last[1] = "0.0"  # of the edge that is not there any more
        return
    line = _cut(entities, "LINE")[-1]
    run = _value(line, 11) - _value(line, 10), _value(line, 21) - _value(line, 20)
    for code, along in zip((11, 21), run, strict=True):
        _shift(line, code, -0.05 * along / math.hypot(*run))


def line_doubled(entities):
    """Draw one straight edge twice: as another line on top of the first polyline's own."""
    lines = _cut(entities, "LINE")
    if lines:
        line = [list(tag) for tag in lines[0]]
    else:
        line = [list(tag) for tag in next(e for e in entities if e[0][1] == "LINE")]
        ends = _straight(_cut(entities, "LWPOLYLINE"))
        values = dict(zip((10, 20, 11, 21), ends, strict=True))
        line = [[code, repr(values[code]) if code in values else text] for code, text in line]
        line = [[code, "CUT" if code == 8 else text] for code, text in line]
    entities.append(_renamed(line))


def circle_doubled(entities):
    """Cut one bolt hole twice."""
    entities.append(_renamed([list(tag) for tag in _cut(entities, "CIRCLE")[0]]))


def _straight(polylines):
    """Both ends of the first straight edge of the polylines."""
    for polyline in polylines:
        points = []
        for code, text in polyline:
            if code == 10:
                points.append([float(text), 0.0, 0.0])
            elif code in (20, 42) and points:
                points[-1][1 if code == 20 else 2] = float(text)
        for (x0, y0, b), (x1, y1, _) in pairwise(points):
            if not b:
                return x0, y0, x1, y1
    raise AssertionError("no straight edge")


def _renamed(entity):
    """With a handle of its own, since handles are unique."""
    return [[code, "FFFF0" if code == 5 else text] for code, text in entity]
