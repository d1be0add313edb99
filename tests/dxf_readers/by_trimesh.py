"""trimesh, which has a DXF parser of its own in Python.

Keeps every arc and circle as one, by three points. Loses the layer of polylines with bulges: so
what is on no layer counts as cut, since marks are lines. Takes doubled entities out unless told
not to. Calls an R12 file inches.
"""

import io
import math

from dxf_readers.seen import Stroke, arc, seen
from trimesh.path.entities import Arc
from trimesh.path.exchange.load import load_path


def read(data, layer="CUT"):
    """What trimesh sees of a layer."""
    path = load_path(io.BytesIO(data), file_type="dxf", process=False)
    strokes = []
    for entity in path.entities:
        if entity.layer not in (layer, None):
            continue
        strokes += _arc(entity, path) if isinstance(entity, Arc) else _lines(entity, path)
    return seen(strokes, keeps_arcs=True)


def unit(data):
    """The unit that trimesh takes the drawing to be in."""
    return load_path(io.BytesIO(data), file_type="dxf", process=False).units


def _lines(entity, path):
    return [Stroke(path.vertices[entity.points], entity.length(path.vertices))]


def _arc(entity, path):
    info = entity.center(path.vertices)
    begin, end = info.angles
    sweep = math.tau if entity.closed else (end - begin) % math.tau
    x, y = (float(value) for value in info.center[:2])
    points = arc((x, y), info.radius, begin, sweep)
    return [Stroke(points, info.radius * sweep, (x, y, float(info.radius)))]
