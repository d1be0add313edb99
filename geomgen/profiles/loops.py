"""Closed flat loops of exact lines and arcs, in mm.

A loop is a tuple of segments, each starting where the one before ends and the last
ending where the first starts. Counter-clockwise loops enclose positive area. A full
circle is two half arcs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Point2 = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """Straight from ``start`` to ``end`` [mm].

    Equal ends make a degenerate line: a corner that a ruled wall may spread out of.
    """

    start: Point2
    end: Point2

    @property
    def length(self) -> float:
        """Length [mm]."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True)
class Arc:
    """Circular arc by centre, radius, start angle and sweep.

    Attributes:
        centre: of the circle [mm].
        radius: [mm].
        begin: angle of the start point about the centre [rad].
        sweep: signed angle travelled, positive counter-clockwise [rad].
    """

    centre: Point2
    radius: float
    begin: float
    sweep: float

    def at(self, fraction: float) -> Point2:
        """Point after ``fraction`` of the sweep."""
        a = self.begin + fraction * self.sweep
        return (
            self.centre[0] + self.radius * math.cos(a),
            self.centre[1] + self.radius * math.sin(a),
        )

    @property
    def start(self) -> Point2:
        """First point."""
        return self.at(0.0)

    @property
    def end(self) -> Point2:
        """Last point."""
        return self.at(1.0)

    @property
    def length(self) -> float:
        """Length [mm]."""
        return self.radius * abs(self.sweep)


@dataclass(frozen=True)
class EllipseArc:
    """Arc of an ellipse: a round tube cut by a slanting plane. Never on a flat part.

    Attributes:
        centre: [mm].
        major: semi-axis along ``tilt`` [mm].
        minor: semi-axis square to it [mm].
        tilt: direction of the major axis [rad].
        begin: eccentric angle of the start point [rad].
        sweep: signed eccentric angle travelled [rad].
    """

    centre: Point2
    major: float
    minor: float
    tilt: float
    begin: float
    sweep: float

    def at(self, fraction: float) -> Point2:
        """Point after ``fraction`` of the sweep in eccentric angle."""
        a = self.begin + fraction * self.sweep
        u, v = self.major * math.cos(a), self.minor * math.sin(a)
        c, s = math.cos(self.tilt), math.sin(self.tilt)
        return (self.centre[0] + u * c - v * s, self.centre[1] + u * s + v * c)

    @property
    def start(self) -> Point2:
        """First point."""
        return self.at(0.0)

    @property
    def end(self) -> Point2:
        """Last point."""
        return self.at(1.0)


Segment = Line | Arc
Loop = tuple[Segment, ...]
"""Closed loop of a flat part."""

CurvedLoop = tuple[Line | Arc | EllipseArc, ...]
"""Closed loop of a section through tubes."""


@dataclass(frozen=True)
class Profile:
    """A flat part's metal: inside ``outer`` (counter-clockwise), outside every hole."""

    outer: Loop
    holes: tuple[Loop, ...] = ()


@dataclass(frozen=True)
class Box:
    """Upright bounding box [mm]."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Left to right [mm]."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Bottom to top [mm]."""
        return self.top - self.bottom


def heading(segment: Segment, fraction: float) -> float:
    """Direction of travel at a fraction of a segment [rad]."""
    if isinstance(segment, Line):
        return math.atan2(segment.end[1] - segment.start[1], segment.end[0] - segment.start[0])
    return segment.begin + fraction * segment.sweep + math.copysign(math.pi / 2, segment.sweep)


def turn_between(before: float, after: float) -> float:
    """Signed turn from one heading to another, in (-pi, pi], positive to the left [rad]."""
    turn = math.remainder(after - before, math.tau)
    return math.pi if turn == -math.pi else turn


def circle(centre: Point2, radius: float) -> Loop:
    """Full circle, counter-clockwise, as two half arcs."""
    return (
        Arc(centre, radius, 0.0, math.pi),
        Arc(centre, radius, math.pi, math.pi),
    )


def slot(width: float, height: float, centre: Point2 = (0.0, 0.0)) -> Loop:
    """Oval with two straight sides, counter-clockwise from the right end's foot [mm].

    The longer of width and height is the distance over the round ends.
    """
    x, y = centre
    if width >= height:
        r, half = height / 2.0, (width - height) / 2.0
        loop: Loop = (
            Arc((x + half, y), r, -math.pi / 2, math.pi),
            Line((x + half, y + r), (x - half, y + r)),
            Arc((x - half, y), r, math.pi / 2, math.pi),
            Line((x - half, y - r), (x + half, y - r)),
        )
    else:
        r, half = width / 2.0, (height - width) / 2.0
        loop = (
            Arc((x, y + half), r, 0.0, math.pi),
            Line((x - r, y + half), (x - r, y - half)),
            Arc((x, y - half), r, math.pi, math.pi),
            Line((x + r, y - half), (x + r, y + half)),
        )
    return tuple(piece for piece in loop if isinstance(piece, Arc) or piece.length > 1e-12)


def perimeter(loop: Loop) -> float:
    """Length round the loop [mm]."""
    return math.fsum(segment.length for segment in loop)


def area(loop: CurvedLoop) -> float:
    """Exact enclosed area [mm2], positive when counter-clockwise (Green's theorem)."""
    total = []
    for segment in loop:
        (x0, y0), (x1, y1) = segment.start, segment.end
        total.append(0.5 * (x0 * y1 - x1 * y0))
        if isinstance(segment, Arc):
            total.append(0.5 * segment.radius**2 * (segment.sweep - math.sin(segment.sweep)))
        elif isinstance(segment, EllipseArc):
            total.append(
                0.5 * segment.major * segment.minor * (segment.sweep - math.sin(segment.sweep))
            )
    return math.fsum(total)


def profile_area(profile: Profile) -> float:
    """Metal area of a flat part [mm2]."""
    return abs(area(profile.outer)) - math.fsum(abs(area(hole)) for hole in profile.holes)


def backwards(loop: Loop) -> Loop:
    """The same loop run the other way round."""
    return tuple(
        Line(piece.end, piece.start)
        if isinstance(piece, Line)
        else Arc(piece.centre, piece.radius, piece.begin + piece.sweep, -piece.sweep)
        for piece in reversed(loop)
    )


def placed(loop: Loop, at: Point2, turn: float = 0.0) -> Loop:
    """The loop turned about its origin by ``turn`` [rad], then moved to ``at`` [mm]."""
    c, s = math.cos(turn), math.sin(turn)

    def carry(p: Point2) -> Point2:
        return (at[0] + c * p[0] - s * p[1], at[1] + s * p[0] + c * p[1])

    return tuple(
        Line(carry(piece.start), carry(piece.end))
        if isinstance(piece, Line)
        else Arc(carry(piece.centre), piece.radius, piece.begin + turn, piece.sweep)
        for piece in loop
    )


def bounding_box(*loops: Loop) -> Box:
    """Exact upright box round loops [mm]."""
    points = [point for loop in loops for piece in loop for point in _extremes(piece)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def _extremes(piece: Segment) -> list[Point2]:
    if isinstance(piece, Line):
        return [piece.start, piece.end]
    points = [piece.start, piece.end]
    low, high = sorted((piece.begin, piece.begin + piece.sweep))
    quarter = math.pi / 2
    for k in range(math.ceil(low / quarter), math.floor(high / quarter) + 1):
        dx, dy = ((1, 0), (0, 1), (-1, 0), (0, -1))[k % 4]
        points.append((piece.centre[0] + dx * piece.radius, piece.centre[1] + dy * piece.radius))
    return points
