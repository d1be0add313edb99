"""Proven clearances of a finished layout: exact curves, bounded distances.

The search samples; nothing leaves the router, and no check passes, without this.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from geomgen.geometry.centreline import Centreline, Straight, piece_at
from geomgen.geometry.distance import Nearest, Span, between, to_field
from geomgen.geometry.fields import Field
from geomgen.geometry.frames import Vec, scale, sub
from geomgen.routing.problem import (
    Clearance,
    Obstacle,
    Problem,
    ToolPlace,
    half_turn,
    leads_on,
    spared,
    together,
)

TOLERANCE = 0.02
"""Difference between a proven gap and the true one where it is near its limit, at most [mm]."""

_FINE = 2e-4
_ROUGH = 1.0
_AMPLE = 10.0


def last_straight(path: Centreline) -> float:
    """Length of the straight at the far end, the exempt part [mm]."""
    piece = path.pieces[-1]
    return piece.length if isinstance(piece, Straight) else 0.0


def with_stub(problem: Problem, path: Centreline, slot: int) -> Centreline:
    """The path carried on through its slot's stub."""
    for body in problem.bodies:
        if body.slot == slot:
            return path.joined(body.path.based_on(path.end))
    return path


def tube_gaps(
    problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]
) -> Iterator[Clearance]:
    """Gap of every two tubes; at one collector held before the last straight of either."""
    for i in range(len(paths)):
        for j in range(i + 1, len(paths)):
            yield _pair(problem, paths, slots, i, j)


def _pair(
    problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...], i: int, j: int
) -> Clearance:
    one, two = paths[i], paths[j]
    full_one = with_stub(problem, one, slots[i])
    full_two = with_stub(problem, two, slots[j])
    held_one = one.length - last_straight(one)
    held_two = two.length - last_straight(two)
    radii = problem.edges[i].radius + problem.edges[j].radius
    keep = radii + problem.gap
    if not together(problem, slots[i], slots[j]):
        nearest = _of_two(problem, (full_one, full_two), (one, two), (i, j), slots, keep)
        return _clearance(problem, i, problem.edges[j].name, one, nearest, radii, problem.gap)
    a = _between(Span(full_one, 0.0, held_one), Span.whole(full_two), keep)
    b = _between(Span(full_one, held_one, full_one.length), Span(full_two, 0.0, held_two), keep)
    nearest = a if a.lower <= b.lower else b
    return _clearance(problem, i, problem.edges[j].name, one, nearest, radii, problem.gap)


def _of_two(
    problem: Problem,
    full: tuple[Centreline, Centreline],
    bare: tuple[Centreline, Centreline],
    pair: tuple[int, int],
    slots: tuple[int, ...],
    keep: float,
) -> Nearest:
    """Least distance of two tubes into two collectors, each with its stub.

    A tube that starts from the other's junction has the stub behind it: no path of bounded
    curvature comes back to that within half a turn.
    """
    for a, b in ((0, 1), (1, 0)):
        if not leads_on(problem, slots[pair[a]], pair[b]):
            continue
        turn = half_turn(problem, problem.edges[pair[b]])
        spans = [(Span.whole(bare[a]), Span.whole(full[b]))]
        if full[b].length > turn:
            stub = Span(full[a], bare[a].length, full[a].length)
            spans.append((stub, Span(full[b], turn, full[b].length)))
        ordered = [(x, y) if a == 0 else (y, x) for x, y in spans]
        return min((_between(x, y, keep) for x, y in ordered), key=lambda near: near.lower)
    return _between(Span.whole(full[0]), Span.whole(full[1]), keep)


def body_gaps(
    problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]
) -> Iterator[Clearance]:
    """Gap of every tube, before its last straight, from transitions, cone and outlet.

    Stubs are judged with the tubes that run into them. A tube's own transition is behind
    it, and within half a turn no path of bounded curvature meets itself (Schur's theorem);
    the search looks at what is farther along.
    """
    for i, path in enumerate(paths):
        for body in problem.bodies:
            if body.slot is not None or body.edge == i:
                continue
            into = spared(problem, body, slots[i])
            free = max(last_straight(path), body.free) if into else 0.0
            end = max(path.length - free, 0.0)
            radii = problem.edges[i].radius + body.radius
            nearest = _between(Span(path, 0.0, end), Span.whole(body.path), radii + problem.gap)
            yield _clearance(problem, i, body.name, path, nearest, radii, problem.gap)


def self_gaps(
    problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]
) -> Iterator[Clearance]:
    """Gap of every tube from itself, farther along than half a turn of the widest bend."""
    for i, path in enumerate(paths):
        turn = half_turn(problem, problem.edges[i])
        full = _whole(problem, path, i, slots[i])
        step = 40.0
        begin, worst = 0.0, None
        while begin + turn + step < full.length:
            near = _between(
                Span(full, begin, begin + step),
                Span(full, begin + step + turn, full.length),
                2.0 * problem.edges[i].radius + problem.gap,
            )
            worst = near if worst is None or near.lower < worst.lower else worst
            begin += step
        if worst is not None:
            radius = 2.0 * problem.edges[i].radius
            yield _clearance(problem, i, "itself", full, worst, radius, problem.gap)


def _between(a: Span, b: Span, keep: float) -> Nearest:
    """Least distance, tightly bounded only where it is near what must be kept."""
    rough = between(a, b, _ROUGH)
    if rough.lower >= keep + _AMPLE:
        return rough
    near = between(a, b, TOLERANCE)
    return between(a, b, _FINE) if near.lower < keep <= near.upper else near


def _to_field(span: Span, field: Field, keep: float) -> Nearest:
    """Least distance to a field, bounded more tightly where that decides what is kept."""
    near = to_field(span, field, TOLERANCE)
    return to_field(span, field, _FINE) if near.lower < keep <= near.upper else near


def _whole(problem: Problem, path: Centreline, edge: int, slot: int) -> Centreline:
    full = with_stub(problem, path, slot)
    for body in problem.bodies:
        straight = len(body.path.pieces) == 1 and not body.path.bends
        if body.edge == edge and straight and body.path.end.z == path.start.z:
            back = full.start.moved(-body.path.length)
            return Centreline(back, (Straight(body.path.length), *full.pieces))
    return full


def obstacle_gaps(problem: Problem, paths: tuple[Centreline, ...]) -> Iterator[Clearance]:
    """Gap of every tube, whole, from every obstacle."""
    for i, path in enumerate(paths):
        for obstacle in problem.obstacles:
            radius = problem.edges[i].radius
            keep = radius + obstacle.gap
            nearest = _to_field(Span.whole(path), obstacle.field, keep)
            yield _clearance(problem, i, obstacle.name, path, nearest, radius, obstacle.gap)


def fixed_gaps(
    problem: Problem, bars: tuple[tuple[str, Centreline, float], ...]
) -> Iterator[Clearance]:
    """Gap of bars that do not move from every obstacle.

    Args:
        problem: whose obstacles are meant.
        bars: name, axis and outside radius [mm] of each.
    """
    for name, path, radius in bars:
        for obstacle in problem.obstacles:
            nearest = _to_field(Span.whole(path), obstacle.field, radius + obstacle.gap)
            yield Clearance(
                name,
                obstacle.name,
                nearest.lower - radius,
                nearest.upper - radius,
                obstacle.gap,
                0,
                nearest,
            )


@dataclass(frozen=True)
class Stuck:
    """Where a bar that slides touches an obstacle.

    Attributes:
        bar, obstacle: their names.
        got: how far it certainly gets first [mm].
        point: on the bar's axis, where it touches, as installed.
    """

    bar: str
    obstacle: str
    got: float
    point: Vec


def slide(
    bars: tuple[tuple[str, Centreline, float], ...],
    obstacles: tuple[Obstacle, ...],
    way: Vec,
    travel: float,
) -> Stuck | None:
    """What a rigid set of bars touches first when it slides along ``way``; None if nothing.

    Steps are no longer than the room that is proven at each, so nothing is jumped over.

    Args:
        bars: name, axis and outside radius [mm] of each.
        obstacles: their gaps are not asked for on the way, only that nothing touches.
        way: unit direction.
        travel: how far [mm].
    """
    first: Stuck | None = None
    for name, path, radius in bars:
        for obstacle in obstacles:
            at, limit = 0.0, travel if first is None else first.got
            while at < limit:
                moved = Centreline(path.start.shifted(scale(way, at)), path.pieces)
                near = to_field(Span.whole(moved), obstacle.field, TOLERANCE)
                room = near.lower - radius
                if room <= 0.0:
                    point = sub(near.point, scale(way, at))
                    first = Stuck(name, obstacle.name, at, point)
                    break
                at += max(room, 0.05)
    return first


def free_places(
    problem: Problem, paths: tuple[Centreline, ...]
) -> tuple[tuple[str, str, float], ...]:
    """For every stud a tool place that is proven free: stud, tool, gap beyond its play [mm].

    The first free one in the order of the spec's tools is named; when none is free, the
    roomiest, with its negative gap.
    """
    return tuple(_place_for(problem, paths, stud) for stud in problem.studs)


def _place_for(
    problem: Problem, paths: tuple[Centreline, ...], stud: str
) -> tuple[str, str, float]:
    best = ("none", float("-inf"))
    for place in problem.places:
        if place.stud != stud:
            continue
        room = min(
            _room(path, edge.radius + place.gap, place)
            for path, edge in zip(paths, problem.edges, strict=True)
        )
        if room > best[1]:
            best = (place.tool, room)
        if room >= 0.0:
            break
    return (stud, *best)


def _room(path: Centreline, keep: float, place: ToolPlace) -> float:
    """Proven distance of a path from a tool's room, less what it must keep [mm]."""
    span = Span.whole(path)
    about = to_field(span, place.within, 2.0).lower - keep
    if about >= 0.0:
        return about
    return min(to_field(span, field, 0.2).lower for field in place.fields) - keep


@lru_cache(maxsize=8)
def clearances(
    problem: Problem, paths: tuple[Centreline, ...], slots: tuple[int, ...]
) -> tuple[Clearance, ...]:
    """Every proven gap of a layout: obstacles, tubes, bodies, each tube itself."""
    return (
        *obstacle_gaps(problem, paths),
        *tube_gaps(problem, paths, slots),
        *body_gaps(problem, paths, slots),
        *self_gaps(problem, paths, slots),
    )


def _clearance(
    problem: Problem,
    edge: int,
    other: str,
    path: Centreline,
    nearest: Nearest,
    radii: float,
    needed: float,
) -> Clearance:
    return Clearance(
        problem.edges[edge].name,
        other,
        nearest.lower - radii,
        nearest.upper - radii,
        needed,
        piece_at(path, nearest.station),
        nearest,
    )
