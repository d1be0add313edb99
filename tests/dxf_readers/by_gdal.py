"""GDAL's DXF driver, which is what most maps and many importers read DXF with. C++, via pyogrio.

Keeps layers. Makes chords of arcs, circles and bulges, as fine as it is told.
"""

import numpy as np
import pyogrio
import shapely
from dxf_readers.seen import Stroke, seen

DEGREES = 0.25


def read(data, layer="CUT", unit="mm"):
    """What GDAL sees of a layer."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": str(DEGREES)})
    meta, _, shapes, columns = pyogrio.raw.read(data, encoding="utf-8")
    layers = columns[list(meta["fields"]).index("Layer")]
    strokes = []
    for shape in shapely.from_wkb(shapes[layers == layer]):
        for line in shapely.get_parts(shape):
            points = np.array(line.coords)[:, :2]
            strokes.append(Stroke(points, line.length))
    return seen(strokes, unit)
