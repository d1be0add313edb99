"""Points on many centrelines at once, by piece: what distances are measured from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Bend, Centreline

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Tracing:
    """The pieces of some paths, laid end to end along one line of stations.

    Attributes:
        begins: (paths + 1,) station at which each path begins [mm]; the last is the end.
        starts: (m,) station at which each piece begins [mm].
        origins: (m, 3) [mm].
        along: (m, 3) direction at the beginning of each piece.
        aside: (m, 3) towards a bend's centre; zero for a straight.
        radii: (m,) of bends [mm]; 1 for a straight.
        bent: (m,) whether it is a bend.
    """

    begins: Floats
    starts: Floats
    origins: Floats
    along: Floats
    aside: Floats
    radii: Floats
    bent: NDArray[np.bool_]

    @staticmethod
    def of(paths: tuple[Centreline, ...]) -> Tracing:
        """Of some paths, one after the other."""
        begins, rows = [0.0], []
        here = 0.0
        for path in paths:
            for frame, piece in zip(path.frames, path.pieces, strict=False):
                if piece.length <= 0.0:
                    continue
                bend = isinstance(piece, Bend)
                aside = frame.rolled(piece.roll).x if isinstance(piece, Bend) else (0.0, 0.0, 0.0)
                radius = piece.radius if isinstance(piece, Bend) else 1.0
                rows.append((here, *frame.origin, *frame.z, *aside, radius, float(bend)))
                here += piece.length
            begins.append(here)
        table = np.array(rows, dtype=np.float64).reshape(-1, 12)
        return Tracing(
            np.array(begins),
            table[:, 0],
            table[:, 1:4],
            table[:, 4:7],
            table[:, 7:10],
            table[:, 10],
            table[:, 11] > 0.5,
        )

    def points(self, stations: Floats) -> Floats:
        """Points (n, 3) at stations (n,) of the common line [mm], clamped to its ends."""
        s = np.clip(stations, 0.0, self.begins[-1])
        piece = np.maximum(np.searchsorted(self.starts, s, side="right") - 1, 0)
        local = s - self.starts[piece]
        radius, bent = self.radii[piece], self.bent[piece]
        turn = local / radius
        ahead = np.where(bent, radius * np.sin(turn), local)
        over = np.where(bent, 2.0 * radius * np.sin(0.5 * turn) ** 2, 0.0)
        out = self.origins[piece] + ahead[:, None] * self.along[piece]
        return np.asarray(out + over[:, None] * self.aside[piece])


@lru_cache(maxsize=512)
def tracing(path: Centreline) -> Tracing:
    """Of one path."""
    return Tracing.of((path,))
