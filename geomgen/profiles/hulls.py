"""The convex hull of any simple loop, walked along the loop itself, dents and all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from geomgen.profiles.convex import corner_turns
from geomgen.profiles.crossings import stretch
from geomgen.profiles.loops import Arc, Line, Loop, Point2, Segment, heading

_SLACK = 1e-9


@dataclass(frozen=True)
class Step:
    """A piece of a loop, and the outward normals of the hull while it is walked.

    Attributes:
        piece: of the loop; a degenerate line stands for a corner.
        normal: outward normal of the hull where the piece begins [rad].
        sweep: how far the normal turns along it; 0 on straight sides and in dents [rad].
    """

    piece: Segment
    normal: float
    sweep: float


@dataclass(frozen=True)
class _Round:
    """A convex arc (radius above 0) or corner (radius 0) of a loop, which the hull may touch.

    ``low`` and ``high`` are its outward normals, counted on along the loop from its start;
    ``index`` is that of the arc, or of the piece that ends at the corner.
    """

    index: int
    centre: Point2
    radius: float
    low: float
    high: float

    def on(self, turns: int, count: int) -> _Round:
        """The same, met again after whole turns."""
        by = turns * math.tau
        index = self.index + turns * count
        return _Round(index, self.centre, self.radius, self.low + by, self.high + by)


def hull_walk(loop: Loop) -> tuple[Step, ...]:
    """A counter-clockwise loop in pieces, each on its hull or within one dent of it.

    The hull touches convex arcs and corners and bridges the dents between them. A piece in a
    dent has the normal of its bridge, which does not turn; arcs are cut where a bridge touches.

    Raises:
        ValueError: the loop folds back on itself so far that its parts are met out of order.
    """
    touched = _touched(loop)
    steps: list[Step] = []
    for (here, enter), (after, leave) in pairwise(touched):
        if here.radius > 0.0:
            piece = loop[here.index % len(loop)]
            steps += _part(piece, here, enter, leave, enter, leave - enter)
        elif leave - enter > 0.0:
            steps.append(Step(Line(here.centre, here.centre), enter, leave - enter))
        steps += _between(loop, here, after, leave)
    turned = math.fsum(step.sweep for step in steps)
    if abs(turned - math.tau) > 1e-6:
        raise ValueError("the outline folds back on itself")
    return tuple(steps)


def _part(
    piece: Segment, of: _Round, low: float, high: float, normal: float, sweep: float
) -> list[Step]:
    """The part of a convex arc between two normals; nothing where there is none."""
    whole = of.high - of.low
    a, b = max(0.0, (low - of.low) / whole), min(1.0, (high - of.low) / whole)
    part = stretch(piece, a, b)
    return [Step(part, normal, sweep)] if part.length > _SLACK else []


def _between(loop: Loop, here: _Round, after: _Round, normal: float) -> list[Step]:
    """What the bridge between two convex parts spans, ends of their arcs included."""
    count = len(loop)
    steps: list[Step] = []
    if here.radius > 0.0:
        steps += _part(loop[here.index % count], here, normal, here.high, normal, 0.0)
    last = after.index if after.radius > 0.0 else after.index + 1
    for i in range(here.index + 1, last):
        steps.append(Step(loop[i % count], normal, 0.0))
    if after.radius > 0.0:
        steps += _part(loop[after.index % count], after, after.low, normal, normal, 0.0)
    outward = (math.cos(normal), math.sin(normal))
    reach = _along(here.centre, outward) + here.radius
    if any(_height(step.piece, outward) > reach + 1e-6 for step in steps):
        raise ValueError("the outline folds back on itself")
    return steps


def _along(p: Point2, way: Point2) -> float:
    return p[0] * way[0] + p[1] * way[1]


def _height(piece: Segment, way: Point2) -> float:
    """How far a piece reaches out [mm]."""
    ends = max(_along(piece.start, way), _along(piece.end, way))
    if isinstance(piece, Line):
        return ends
    angle = math.atan2(way[1], way[0])
    gone = math.copysign(1.0, piece.sweep) * (angle - piece.begin) % math.tau
    within = gone <= abs(piece.sweep)
    return max(ends, _along(piece.centre, way) + piece.radius) if within else ends


def _rounds(loop: Loop) -> list[_Round]:
    """Convex arcs and corners in order, their normals counted on along the loop."""
    first = loop[0]
    normal = heading(first, 0.0) - math.pi / 2.0
    found: list[_Round] = []
    for i, (piece, turn) in enumerate(zip(loop, corner_turns(loop), strict=True)):
        if isinstance(piece, Arc):
            if piece.sweep > 0.0:
                found.append(_Round(i, piece.centre, piece.radius, normal, normal + piece.sweep))
            normal += piece.sweep
        if turn > 0.0:
            found.append(_Round(i, piece.end, 0.0, normal, normal + turn))
        normal += turn
    return found


def _touched(loop: Loop) -> list[tuple[_Round, float]]:
    """What the hull touches, each with the normal from which on; the first again at the end.

    Graham's scan along the loop, for parts that are round: a part is dropped when the tangent
    that leaves it lies before the one that met it.
    """
    rounds = _rounds(loop)
    first = max(range(len(rounds)), key=lambda k: _rightmost(rounds[k]))
    count = len(loop)
    order = [*rounds[first:], *(r.on(1, count) for r in rounds[: first + 1])]
    start = order[0]
    facing = math.tau * math.ceil((start.low - _SLACK) / math.tau)
    stack = [(start, facing)]
    for part in order[1:]:
        while True:
            top, enter = stack[-1]
            leave = _tangent(top, part)
            if len(stack) > 1 and leave < enter:
                stack.pop()
                continue
            if enter <= leave <= part.high + _SLACK or part is order[-1]:
                stack.append((part, leave))
            break
    last, leave = stack[-1]
    if last is not order[-1] or not leave <= facing + math.tau + _SLACK:
        raise ValueError("the outline folds back on itself")
    return [(start, leave - math.tau), *stack[1:]]


def _rightmost(part: _Round) -> tuple[bool, float]:
    """Sorts what faces the right first, the farthest last."""
    faces = math.floor((part.high + _SLACK) / math.tau) >= math.ceil((part.low - _SLACK) / math.tau)
    return faces, part.centre[0] + part.radius


def _tangent(a: _Round, b: _Round) -> float:
    """Normal of the bridge from one convex part to a later one [rad]."""
    if abs(a.high - b.low) < _SLACK:  # one goes on smoothly into the other, or by a line
        outward = (math.cos(a.high), math.sin(a.high))
        ahead = _along(b.centre, outward) + b.radius - _along(a.centre, outward) - a.radius
        if abs(ahead) < _SLACK:
            return a.high
    (ax, ay), (bx, by) = a.centre, b.centre
    apart = math.hypot(bx - ax, by - ay)
    if apart < _SLACK:
        return min(a.high, b.high) if a.radius >= b.radius else max(a.low, b.low)
    lean = max(-1.0, min(1.0, (a.radius - b.radius) / apart))
    angle = math.atan2(by - ay, bx - ax) - math.acos(lean)
    near = (a.high + b.low) / 2.0
    return near + math.remainder(angle - near, math.tau)
