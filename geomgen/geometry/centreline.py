"""A centreline is a start frame plus straights and bends, never a list of points.

Joints are tangent by construction and the length is an exact sum. Each bend first
rolls the travelling frame about the tangent (z), then bends towards the frame's x.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame, Vec, add, dot, scale, sub, unit

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Straight:
    """A straight of ``length`` [mm]."""

    length: float


@dataclass(frozen=True)
class Bend:
    """A circular bend.

    Attributes:
        radius: centreline radius, CLR [mm].
        angle: degree of bend, 0 to pi [rad].
        roll: turn of the plane of bend about the tangent, against the plane of the bend
            before (for the first bend: against the start frame's x), right-hand rule
            about the direction of travel [rad].
    """

    radius: float
    angle: float
    roll: float = 0.0

    @property
    def length(self) -> float:
        """Arc length [mm]."""
        return self.radius * self.angle


Piece = Straight | Bend


@dataclass(frozen=True)
class Centreline:
    """Start frame (z is the direction of travel) and the pieces that follow it."""

    start: Frame
    pieces: tuple[Piece, ...]

    @property
    def length(self) -> float:
        """Exact length along the centreline [mm]."""
        return math.fsum(piece.length for piece in self.pieces)

    @property
    def frames(self) -> tuple[Frame, ...]:
        """Frames at every joint: ``len(pieces) + 1``, the first is the start."""
        frames = [self.start]
        for piece in self.pieces:
            frames.append(advance(frames[-1], piece))
        return tuple(frames)

    @property
    def end(self) -> Frame:
        """Frame at the far end."""
        return self.frames[-1]

    @property
    def bends(self) -> tuple[Bend, ...]:
        """The bends, in order of travel."""
        return tuple(piece for piece in self.pieces if isinstance(piece, Bend))

    @property
    def total_angle(self) -> float:
        """Sum of all bend angles [rad]."""
        return math.fsum(bend.angle for bend in self.bends)

    def reversed(self) -> Centreline:
        """The same path travelled from the far end."""
        return _backwards(self)

    def based_on(self, frame: Frame) -> Centreline:
        """The same path from a frame that differs from its own in its roll only."""
        turn = math.atan2(dot(self.start.x, frame.y), dot(self.start.x, frame.x))
        pieces: list[Piece] = []
        for piece in self.pieces:
            if isinstance(piece, Bend) and turn:
                pieces.append(replace(piece, roll=piece.roll + turn))
                turn = 0.0
            else:
                pieces.append(piece)
        return Centreline(frame, tuple(pieces))

    def joined(self, other: Centreline) -> Centreline:
        """This path followed by ``other``'s pieces; ``other.start`` must be this end."""
        return Centreline(self.start, self.pieces + other.pieces)


def advance(frame: Frame, piece: Piece) -> Frame:
    """Frame after travelling one piece."""
    if isinstance(piece, Straight):
        return frame.moved(piece.length)
    turned = frame.rolled(piece.roll)
    c, s = math.cos(piece.angle), math.sin(piece.angle)
    origin = add(
        turned.origin,
        add(
            scale(turned.x, piece.radius * (1.0 - c)),
            scale(turned.z, piece.radius * s),
        ),
    )
    z = unit(add(scale(turned.z, c), scale(turned.x, s)))
    x = unit(add(scale(turned.x, c), scale(turned.z, -s)))
    return Frame(origin, x, z)


def _backwards(path: Centreline) -> Centreline:
    end = path.end
    start = Frame(end.origin, end.x, scale(end.z, -1.0))
    pieces: list[Piece] = []
    travelling = start
    frames = path.frames
    for index in range(len(path.pieces) - 1, -1, -1):
        piece = path.pieces[index]
        if isinstance(piece, Straight):
            pieces.append(piece)
        else:
            # The plane of bend at the far end of this bend: x points to the bend centre.
            towards = frames[index + 1].x
            roll = math.atan2(dot(towards, travelling.y), dot(towards, travelling.x))
            pieces.append(Bend(piece.radius, piece.angle, roll))
        travelling = advance(travelling, pieces[-1])
    return Centreline(start, tuple(pieces))


def from_corners(
    start: Frame, corners: tuple[Vec, ...], end: Vec, radii: tuple[float, ...]
) -> Centreline:
    """Path from ``start`` along its z through filleted corners to the point ``end``.

    Args:
        start: pose at the beginning; the first corner lies on its z axis.
        corners: intersection points of the straights [mm].
        end: far end of the last straight [mm].
        radii: bend radius at each corner [mm].

    Returns:
        Straight, bend, straight, ..., straight. A straight may come out negative when
        the corners are too near each other; the caller judges.
    """
    points = (start.origin, *corners, end)
    pieces: list[Piece] = []
    travelling = start
    used = 0.0
    for i, radius in enumerate(radii):
        here, corner, there = points[i], points[i + 1], points[i + 2]
        leg = sub(corner, here)
        onward = unit(sub(there, corner))
        z = travelling.z
        side = (
            onward[0] - z[0] * dot(onward, z),
            onward[1] - z[1] * dot(onward, z),
            onward[2] - z[2] * dot(onward, z),
        )
        sine = math.sqrt(dot(side, side))
        angle = math.atan2(sine, dot(onward, z))
        tangent = radius * math.tan(angle / 2.0)
        pieces.append(Straight(dot(leg, z) - used - tangent))
        if sine > 1e-12:
            roll = math.atan2(dot(side, travelling.y), dot(side, travelling.x))
            pieces.append(Bend(radius, angle, roll))
            for piece in pieces[-2:]:
                travelling = advance(travelling, piece)
            used = tangent
        else:
            travelling = advance(travelling, pieces[-1])
            used = 0.0
    pieces.append(Straight(dot(sub(end, travelling.origin), travelling.z)))
    return Centreline(start, tuple(pieces))


def corners_of(path: Centreline) -> tuple[Vec, ...]:
    """Intersection points of the straights either side of each bend [mm].

    A bend of half a turn has none; such a bend gives its two tangent points' apexes
    at its middle instead.
    """
    corners: list[Vec] = []
    for frame, piece in zip(path.frames, path.pieces, strict=False):
        if isinstance(piece, Bend):
            reach = piece.radius * math.tan(min(piece.angle, math.pi - 1e-6) / 2.0)
            corners.append(add(frame.origin, scale(frame.z, reach)))
    return tuple(corners)


def sample(path: Centreline, spacing: float) -> tuple[Floats, Floats, float]:
    """Points along the path.

    Returns:
        stations (n,) [mm from the start], points (n, 3) [mm], and the largest distance
        along the path from any point of it to the nearest sample [mm].
    """
    stations: list[float] = []
    points: list[Vec] = []
    gap = 0.0
    travelled = 0.0
    for frame, piece in zip(path.frames, path.pieces, strict=False):
        length = piece.length
        if length <= 0.0:
            continue
        count = max(1, math.ceil(length / spacing))
        gap = max(gap, 0.5 * length / count)
        for i in range(count):
            s = (i + 0.5) * length / count
            stations.append(travelled + s)
            points.append(_within(frame, piece, s).origin)
        travelled += length
    return np.array(stations), np.array(points).reshape(-1, 3), gap


def at(path: Centreline, station: float) -> Frame:
    """Frame at a distance along the path [mm], clamped to its ends."""
    travelled = 0.0
    for frame, piece in zip(path.frames, path.pieces, strict=False):
        if station <= travelled + piece.length:
            return _within(frame, piece, max(0.0, station - travelled))
        travelled += piece.length
    return path.end


def bends_at(path: Centreline) -> tuple[float, ...]:
    """Distances along the path to the middle of each bend [mm]."""
    found: list[float] = []
    travelled = 0.0
    for piece in path.pieces:
        if isinstance(piece, Bend):
            found.append(travelled + piece.length / 2.0)
        travelled += piece.length
    return tuple(found)


def piece_at(path: Centreline, station: float) -> int:
    """Index of the piece that holds a distance along the path [mm]."""
    travelled = 0.0
    for index, piece in enumerate(path.pieces):
        travelled += piece.length
        if station <= travelled:
            return index
    return len(path.pieces) - 1


def _within(frame: Frame, piece: Piece, s: float) -> Frame:
    if isinstance(piece, Straight):
        return frame.moved(s)
    return advance(frame, Bend(piece.radius, s / piece.radius, piece.roll))
