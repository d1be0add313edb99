"""Where a drawn outline of any number of pieces crosses itself."""

from __future__ import annotations

import math

import numpy as np

from geomgen.profiles.loops import Arc, Loop, Point2

_CHORD = 0.2
"""Turn of an arc per chord [rad]."""


def crossing(loop: Loop) -> Point2 | None:
    """A point where a closed outline crosses itself or runs over itself, if it does [mm].

    Arcs are taken as chords: what only just touches may be missed.
    """
    points: list[Point2] = []
    for piece in loop:
        count = math.ceil(abs(piece.sweep) / _CHORD) if isinstance(piece, Arc) else 1
        points += [
            piece.at(i / count) if isinstance(piece, Arc) else piece.start for i in range(count)
        ]
    start = np.array(points)
    end = np.roll(start, -1, axis=0)
    way = end - start
    n = len(start)
    for i in range(n - 2):
        others = slice(i + 2, n - 1 if i == 0 else n)
        off, along = start[others] - start[i], way[others]
        turn = way[i, 0] * along[:, 1] - way[i, 1] * along[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            here = (off[:, 0] * along[:, 1] - off[:, 1] * along[:, 0]) / turn
            there = (off[:, 0] * way[i, 1] - off[:, 1] * way[i, 0]) / turn
        met = (here >= 0.0) & (here <= 1.0) & (there >= 0.0) & (there <= 1.0)
        if met.any():
            at = start[i] + float(here[int(met.argmax())]) * way[i]
            return (float(at[0]), float(at[1]))
    return None
