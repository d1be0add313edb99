"""The one score by which two layouts are compared. Less is better.

A path costs 1 for each bend (two welds and a clamping) and 1 for each right angle of
total turn (loss of pressure, and bends to buy). A layout costs the sum of its paths, plus
half the spread of total turn between its tubes in right angles (an even header), plus 1
when neighbours round the collector do not follow the firing order. For each mm that a step stands
from its place it costs 0.1, and where that is farther than it may, 2. Common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.routing.paths import Measure

PER_BEND = 1.0
PER_RIGHT_ANGLE = 1.0
PER_UNEVEN_RIGHT_ANGLE = 0.5
OUT_OF_ORDER = 1.0
PER_MM_ASIDE = 0.1
ASTRAY = 2.0


def path_scores(measured: Measure) -> NDArray[np.float64]:
    """Score of every path of a batch (n,)."""
    turn = measured.angles.sum(axis=1) / (math.pi / 2.0)
    return np.asarray(PER_BEND * measured.angles.shape[1] + PER_RIGHT_ANGLE * turn)


def layout_score(paths: tuple[Centreline, ...], in_order: bool, steps: float = 0.0) -> float:
    """Score of a whole layout, its ``steps`` priced by ``stations``."""
    turns = [path.total_angle / (math.pi / 2.0) for path in paths]
    bends = sum(len(path.bends) for path in paths)
    return (
        PER_BEND * bends
        + PER_RIGHT_ANGLE * math.fsum(turns)
        + PER_UNEVEN_RIGHT_ANGLE * (max(turns) - min(turns))
        + (0.0 if in_order else OUT_OF_ORDER)
        + steps
    )


def follows_firing_order(slots: tuple[int, ...], orders: tuple[int, ...]) -> bool:
    """Whether neighbours round the collector follow the firing order, either way round.

    Args:
        slots: slot of each tube, counted round the collector.
        orders: place of each tube in the firing order.
    """
    n = len(slots)
    ranked = sorted(range(n), key=lambda i: orders[i])
    steps = {(slots[ranked[(i + 1) % n]] - slots[ranked[i]]) % n for i in range(n)}
    return steps <= {1} or steps <= {n - 1}
