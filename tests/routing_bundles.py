"""Small bundles to route, and measures of them that use nothing of the router."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Box, Cylinder
from geomgen.geometry.frames import Frame
from geomgen.routing.problem import Body, Edge, Obstacle, Problem, Radius, Shelf

R = 21.0
CLR = 63.0
SHELF = Shelf((Radius(CLR, math.pi),), math.radians(8), 0.0, 10.0, 0.0)


def bundle(tubes: int = 2, length: float = 620.0) -> Problem:
    """Tubes from ports 110 mm apart, past a block and a shaft, into slots side by side."""
    starts = [Frame((110.0 * i, 0.0, 50.0)) for i in range(tubes)]
    slots = tuple(
        Frame.facing((250.0, -300.0 + 52.0 * i, 190.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
        for i in range(tubes)
    )
    return Problem(
        tuple(Edge(f"runner {i + 1}", f, length, R, i) for i, f in enumerate(starts)),
        slots,
        tuple(
            Body("stub", Centreline(s, (Straight(60.0),)), R, slot=i) for i, s in enumerate(slots)
        ),
        SHELF,
        6.0,
        (
            Obstacle("block", Box((-200.0, -400.0, -200.0), (400.0, -60.0, 5.0)), 10.0),
            Obstacle(
                "shaft", Cylinder((-100.0, -150.0, 260.0), (300.0, -150.0, 260.0), 11.0), 25.0
            ),
        ),
        (),
        (),
    )


def alone(start: Frame, end: Frame, length: float, shelf: Shelf = SHELF) -> Problem:
    """One tube, and nothing in its way."""
    return Problem((Edge("runner 1", start, length, R, 0),), (end,), (), shelf, 6.0, (), (), ())


def keeping(problem: Problem, edge: int, *parts: Centreline) -> Problem:
    """The problem with parts of one tube kept."""
    edges = list(problem.edges)
    edges[edge] = replace(edges[edge], kept=parts)
    return replace(problem, edges=tuple(edges))


def dense(path: Centreline, spacing: float = 1.0) -> NDArray[np.float64]:
    """Points along a path, its end included (n, 3) [mm]."""
    count = math.ceil(path.length / spacing) + 1
    return points_at(path, np.linspace(0.0, path.length, count))
