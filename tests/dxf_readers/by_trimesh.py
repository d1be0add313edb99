"""trimesh, which has a DXF parser of its own in Python.

Keeps every arc and circle as one, by three points. Writes layers in capitals, and loses
that of polylines with bulges: so what is on no layer counts as cut, since marks are lines; what is
on a reference layer then does too. Its own cleaning, which merges ends and takes doubled entities
out, is left off. Calls an R12 file inches.

Reads the three points of every arc, and will not say the centre of one that turns through less
than 0.72 degrees: "arc is colinear!". Such an arc goes on as its three points here.
"""

import io
import math

import numpy as np
from dxf_readers.seen import Stroke, arc, seen

STRAIGHT = 4.0 * math.sqrt(1e-5)
"""Arcs of a smaller sweep it takes for straight [rad]. Heron's formula over the arc's three
points, in units of the shorter chord, comes to sweep^2 / 16, which it holds against its
``tol.merge``, 1e-5 by its documentation."""


def read(data, layer="CUT", unit="mm"):
    """What trimesh sees of a layer."""
    path = _load(data)
    layers = (layer.upper(), None)
    strokes = [_stroke(entity, path) for entity in path.entities if entity.layer in layers]
    return seen(strokes, unit, arcs_from=STRAIGHT)


def unit_of(data):
    """The unit that trimesh takes the drawing to be in."""
    return _load(data).units


def _load(data):
    from trimesh.path.exchange.load import load_path  # takes a second

    return load_path(io.BytesIO(data), file_type="dxf", process=False)


def _stroke(entity, path):
    if type(entity).__name__ != "Arc":
        return Stroke(path.vertices[entity.points], entity.length(path.vertices))
    try:
        info = entity.center(path.vertices)
    except ValueError as error:
        if str(error) != "arc is colinear!":
            raise
        points = path.vertices[entity.points]
        return Stroke(points, float(np.hypot(*np.diff(points, axis=0).T).sum()))
    begin, end = info.angles
    sweep = math.tau if entity.closed else (end - begin) % math.tau
    x, y = (float(value) for value in info.center[:2])
    points = arc((x, y), info.radius, begin, sweep)
    return Stroke(points, info.radius * sweep, (x, y, float(info.radius)))
