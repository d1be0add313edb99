"""Tubes whose beginning is already made: the search goes on from its end.

What stands at a tube's start may have any radius, angle and clock, for it is as it was
tacked. The search sees its end as the start, and the made part as a body of that tube.
"""

from __future__ import annotations

import math
from dataclasses import replace

from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight
from geomgen.geometry.frames import dot, norm, sub
from geomgen.routing.problem import Body, Edge, Impossible, Problem, Routed, Shelf, shelf_of
from geomgen.routing.score import layout_score
from geomgen.routing.stations import price

_ON = 1e-6


def beginning(edge: Edge) -> Centreline | None:
    """The kept part that stands at a tube's start and leaves some of it open, if any."""
    if not edge.kept:
        return None
    part = edge.kept[0]
    at_start = norm(sub(part.start.origin, edge.start.origin)) < _ON
    along = dot(part.start.z, edge.start.z) > 1.0 - 1e-9
    whole = abs(part.length - edge.length) < 0.02
    return part if at_start and along and part.bends and not whole else None


def advanced(problem: Problem) -> Problem:
    """The problem from the ends of what is already made."""
    edges, bodies = [], list(problem.bodies)
    for i, edge in enumerate(problem.edges):
        part = beginning(edge)
        if part is None:
            edges.append(edge)
            continue
        bodies.append(Body(f"{edge.name} as it stands", part, edge.radius, edge=i))
        edges.append(
            replace(
                edge,
                start=part.end,
                length=edge.length - part.length,
                kept=edge.kept[1:],
                at_start=_straight_left(shelf_of(problem, edge), part),
                stations=tuple(
                    replace(one, at=one.at - part.length)
                    for one in edge.stations
                    if one.at > part.length
                ),
            )
        )
    return replace(problem, edges=tuple(edges), bodies=tuple(bodies))


def rejoined(problem: Problem, found: Routed) -> Routed:
    """A layout of the advanced problem as one of the problem itself."""
    paths = tuple(
        path if part is None else _joined(edge, part, path)
        for edge, part, path in zip(
            problem.edges, (beginning(edge) for edge in problem.edges), found.paths, strict=True
        )
    )
    score = layout_score(paths, found.in_order, price(problem, paths))
    return replace(found, paths=paths, score=score)


def of_whole(problem: Problem, certain: Impossible) -> Impossible:
    """A certificate about what is left of a tube, its lengths as those of the whole tube."""
    for edge in problem.edges:
        part = beginning(edge) if edge.name == certain.edge else None
        if part is not None and certain.target:
            floor = certain.floor + part.length if certain.floor else 0.0
            return replace(certain, target=certain.target + part.length, floor=floor)
    return certain


def _straight_left(shelf: Shelf, part: Centreline) -> float:
    last = part.pieces[-1]
    have = last.length if isinstance(last, Straight) else 0.0
    return max(0.0, shelf.straight - have)


def _joined(edge: Edge, part: Centreline, path: Centreline) -> Centreline:
    pieces: list[Piece] = [*part.pieces]
    follow = list(path.pieces)
    if isinstance(pieces[-1], Straight) and isinstance(follow[0], Straight):
        follow[0] = Straight(pieces.pop().length + follow[0].length)
    pieces += follow
    # The first bend's roll counts from the edge's own x.
    turn = math.atan2(dot(part.start.x, edge.start.y), dot(part.start.x, edge.start.x))
    if abs(turn) > 1e-12:
        first = next(i for i, piece in enumerate(pieces) if isinstance(piece, Bend))
        bend = pieces[first]
        assert isinstance(bend, Bend)
        pieces[first] = replace(bend, roll=bend.roll + turn)
    return Centreline(edge.start, tuple(pieces))
