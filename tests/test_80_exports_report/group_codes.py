"""A DXF reader of our own, forty lines, to check the library with: group codes only."""

import math


def entities(data):
    """Entities of the ENTITIES section as (kind, list of (code, text))."""
    lines = [line.strip() for line in data.decode("ascii").split("\n")]
    pairs = list(zip((int(c) for c in lines[0:-1:2]), lines[1::2], strict=False))
    start = next(
        i for i, p in enumerate(pairs) if p == (2, "ENTITIES") and pairs[i - 1] == (0, "SECTION")
    )
    found = []
    for code, text in pairs[start + 1 :]:
        if (code, text) == (0, "ENDSEC"):
            return found
        if code == 0:
            found.append((text, []))
        else:
            found[-1][1].append((code, text))
    raise AssertionError("no ENDSEC")


def header(data, name):
    """Value of a header variable as text, None when it is not there."""
    lines = [line.strip() for line in data.decode("ascii").split("\n")]
    return lines[lines.index(name) + 2] if name in lines else None


def first(groups, code):
    return next(float(text) for c, text in groups if c == code)


def layer(groups):
    return next(text for c, text in groups if c == 8)


def vertices(groups):
    """(x, y, bulge) of an LWPOLYLINE."""
    points = []
    for code, text in groups:
        if code == 10:
            points.append([float(text), 0.0, 0.0])
        elif code in (20, 42) and points:
            points[-1][1 if code == 20 else 2] = float(text)
    return points


def area(kind, groups):
    """Enclosed area: trapezia under the chords, and a circular segment on each bulge."""
    if kind == "CIRCLE":
        return math.pi * first(groups, 40) ** 2
    points, total = vertices(groups), 0.0
    for (x0, y0, b), (x1, y1, _) in zip(points, points[1:] + points[:1], strict=True):
        total += (x1 + x0) * (y1 - y0) / 2
        if b:
            chord, angle = math.hypot(x1 - x0, y1 - y0), 4 * math.atan(b)
            total += (chord / 2 / math.sin(angle / 2)) ** 2 * (angle - math.sin(angle)) / 2
    return total
