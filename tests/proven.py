"""A layout's proven gaps as one number: the same measures that the checks are made of."""

from __future__ import annotations

import math

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import Span, to_field
from geomgen.routing.problem import Problem
from geomgen.routing.prove import TOLERANCE, clearances, free_places


def shortfall(problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]) -> float:
    """By how much the worst proven gap of a layout falls short [mm]; negative when all are kept.

    A stud without a tool counts like a gap.
    """
    gaps = clearances(problem, paths, slots)
    worst = max((found.needed - found.gap for found in gaps), default=-math.inf)
    for barred in problem.off:
        for path, edge in zip(paths, problem.edges, strict=True):
            keep = edge.radius + barred.gap
            worst = max(worst, keep - to_field(Span.whole(path), barred.field, TOLERANCE).lower)
    rooms = [-room for _, _, room in free_places(problem, paths)]
    return max([worst, *rooms])
