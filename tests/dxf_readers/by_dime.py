"""dime, the DXF library beside Coin3D: C++ of 1999 to 2011, a Debian package of 0.4 MB.

Its ``dxf2vrml`` makes chords of arcs, as fine as it is told, in single precision, and sorts them
by colour, which stands for the layer here. It drops the bulges of LWPOLYLINE without a word, and
begins clockwise ones of R12's POLYLINE in the wrong place: the kind of reader that style
``lines-arcs`` is for.
"""

import re
import shutil
import subprocess

import numpy as np
from dxf_readers.seen import IN_MM, Stroke, seen

PROGRAM, PACKAGE = "dxf2vrml", "dime"
THERE = shutil.which(PROGRAM) is not None

FINE = 0.0005
"""How far chords may be off their arcs [mm]."""

CUT = (1.0, 1.0, 1.0)
"""Colour of what is cut: 7 of DXF's index."""

_BLOCK = re.compile(
    r"diffuseColor ([\d. ]+)\s.*?point \[([^\]]*)\].*?IndexedLineSet \{\s*coordIndex \[([^\]]*)\]",
    re.DOTALL,
)


def read(data, layer="CUT", unit="mm"):  # noqa: ARG001
    """What dime sees of a layer, which it knows by its colour."""
    fine = f"{FINE / IN_MM[unit]:.8f}"
    run = subprocess.run(
        [PROGRAM, "-e", fine], input=data, capture_output=True, check=True, timeout=60
    )
    strokes = []
    for colour, coordinates, indices in _BLOCK.findall(run.stdout.decode("ascii")):
        if tuple(map(float, colour.split())) != CUT:
            continue
        points = np.array(coordinates.replace(",", " ").split(), float).reshape(-1, 3)[:, :2]
        order = np.array(indices.replace(",", " ").split(), int)
        for run_of in np.split(order, np.flatnonzero(order == -1) + 1):
            line = points[run_of[run_of >= 0]]
            if len(line) > 1:
                strokes.append(Stroke(line, float(np.hypot(*np.diff(line, axis=0).T).sum())))
    return seen(strokes, unit)
