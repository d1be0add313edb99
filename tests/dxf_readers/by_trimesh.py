"""trimesh, which has a DXF parser of its own in Python.

Keeps every arc and circle as one, by three points. Writes layers in capitals, and loses
that of polylines with bulges: so what is on no layer counts as cut, since marks are lines; what is
on a reference layer then does too. Its own cleaning, which merges ends and takes doubled entities
out, is left off. Calls an R12 file inches.
"""

import io
import math

from dxf_readers.seen import Stroke, arc, seen


def read(data, layer="CUT", unit="mm"):
    """What trimesh sees of a layer."""
    path = _load(data)
    layers = (layer.upper(), None)
    strokes = [_stroke(entity, path) for entity in path.entities if entity.layer in layers]
    return seen(strokes, unit, keeps_arcs=True)


def unit_of(data):
    """The unit that trimesh takes the drawing to be in."""
    return _load(data).units


def _load(data):
    from trimesh.path.exchange.load import load_path  # takes a second

    return load_path(io.BytesIO(data), file_type="dxf", process=False)


def _stroke(entity, path):
    if type(entity).__name__ != "Arc":
        return Stroke(path.vertices[entity.points], entity.length(path.vertices))
    info = entity.center(path.vertices)
    begin, end = info.angles
    sweep = math.tau if entity.closed else (end - begin) % math.tau
    x, y = (float(value) for value in info.center[:2])
    points = arc((x, y), info.radius, begin, sweep)
    return Stroke(points, info.radius * sweep, (x, y, float(info.radius)))
