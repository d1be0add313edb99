"""Points along a piece of a loop, many at once."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geomgen.profiles.loops import Arc, EllipseArc, Line

Floats = NDArray[np.float64]


def along(piece: Line | Arc | EllipseArc, fractions: Floats) -> Floats:
    """Points (n, 2) after fractions (n,) of a piece, of its length or angle [mm]."""
    if isinstance(piece, Line):
        start, end = np.array(piece.start), np.array(piece.end)
        line: Floats = start + fractions[:, None] * (end - start)
        return line
    if isinstance(piece, Arc):
        piece = EllipseArc(piece.centre, piece.radius, piece.radius, 0.0, piece.begin, piece.sweep)
    t = piece.begin + fractions * piece.sweep
    u, v = piece.major * np.cos(t), piece.minor * np.sin(t)
    c, s = math.cos(piece.tilt), math.sin(piece.tilt)
    return np.column_stack((piece.centre[0] + u * c - v * s, piece.centre[1] + u * s + v * c))
