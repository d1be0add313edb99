"""Many filleted polylines at once: lengths, straights, angles and points, in numpy.

A path of k bends is its corners, where the straights meet, and a radius at each. Which way
each corner may move is the path's form: the first slides on the start's axis, the last on
the slot's, those between are free, and corners of kept parts stand still. So the form
always closes; only the length has to be solved for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline, Piece, Straight, from_corners
from geomgen.geometry.frames import Frame, Vec

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHARPEST = np.radians(150.0)
"""Largest turn at one corner; beyond it the corner runs away to infinity [rad]."""

_FLATTEST = -0.9995  # cosine of a turn at which tangents are cut off


@dataclass(frozen=True)
class Room:
    """A kept straight's end: the bend at ``corner`` keeps behind ``point``, seen along ``way``."""

    corner: int
    point: Vec
    way: Vec


@dataclass(frozen=True)
class Form:
    """How the corners of a path between two poses may move.

    Attributes:
        start: pose that it leaves along z.
        end: pose that it arrives in along z.
        moves: (d, k, 3): what each of the d free numbers does to the corners, per mm.
        stretch: the corner that is moved for the length; None when none is free.
        rail: the pose on whose axis, backwards, that corner slides; None when it is free
            in space.
        least: (k+1,): least straights [mm].
        kept: (k,): corners that stand still, whatever their radius and angle.
        rooms: ends of kept straights: the bend at a corner must leave the axis that runs
            from it towards a point free from that point on.
    """

    start: Frame
    end: Frame
    moves: Floats
    stretch: int | None
    rail: Frame | None
    least: Floats
    kept: Bools
    rooms: tuple[Room, ...] = ()


@dataclass(frozen=True)
class Batch:
    """n paths of k bends of one form.

    Attributes:
        form: which corners may move, and how.
        corners: (n, k, 3) [mm].
        radii: (n, k) [mm].
    """

    form: Form
    corners: Floats
    radii: Floats

    def __len__(self) -> int:
        return len(self.corners)

    @property
    def nodes(self) -> Floats:
        """Ends and corners (n, k+2, 3) [mm]."""
        n, k = self.radii.shape
        nodes = np.empty((n, k + 2, 3))
        nodes[:, 0], nodes[:, -1] = self.form.start.origin, self.form.end.origin
        nodes[:, 1:-1] = self.corners
        return nodes

    def take(self, chosen: NDArray[np.intp] | Bools) -> Batch:
        """The chosen paths only."""
        return Batch(self.form, self.corners[chosen], self.radii[chosen])

    def path(self, index: int) -> Centreline:
        """One of them as a centreline; its end lies on the slot by construction."""
        corners: tuple[Vec, ...] = tuple(
            (float(c[0]), float(c[1]), float(c[2])) for c in self.corners[index]
        )
        radii = tuple(float(r) for r in self.radii[index])
        path = from_corners(self.form.start, corners, self.form.end.origin, radii)
        return Centreline(path.start, tuple(_not_less_than_none(piece) for piece in path.pieces))


@dataclass(frozen=True)
class Lines:
    """n filleted polylines of k bends, each with ends of its own: nodes (n, k+2, 3), radii [mm]."""

    nodes: Floats
    radii: Floats

    def __len__(self) -> int:
        return len(self.nodes)

    def take(self, chosen: NDArray[np.intp] | Bools | slice) -> Lines:
        """The chosen ones only."""
        return Lines(self.nodes[chosen], self.radii[chosen])


def _not_less_than_none(piece: Piece) -> Piece:
    """A straight that is negative by rounding only is none."""
    none = isinstance(piece, Straight) and -ROUNDING <= piece.length < 0.0
    return Straight(0.0) if none else piece


@dataclass(frozen=True)
class Measure:
    """Of a batch: straights (n, k+1) [mm], angles (n, k) [rad], length (n,) [mm]."""

    straights: Floats
    angles: Floats
    length: Floats

    def take(self, chosen: NDArray[np.intp] | Bools) -> Measure:
        """The chosen rows only."""
        return Measure(self.straights[chosen], self.angles[chosen], self.length[chosen])


def measure(batch: Batch | Lines) -> Measure:
    """Straights, bend angles and length of every path."""
    directions, straights = legs(batch.nodes)
    half = half_tangents(directions[:, :-1], directions[:, 1:])
    angles = 2.0 * np.arctan(half)
    tangents = batch.radii * half
    straights[:, :-1] -= tangents
    straights[:, 1:] -= tangents
    length = straights.sum(axis=1) + (batch.radii * angles).sum(axis=1)
    return Measure(straights, angles, length)


def rooms(batch: Batch, measured: Measure) -> Floats:
    """What each bend beside a kept straight leaves free of it (n, rooms); negative: not all."""
    out = np.empty((len(batch), len(batch.form.rooms)))
    for i, room in enumerate(batch.form.rooms):
        tangent = batch.radii[:, room.corner] * np.tan(0.5 * measured.angles[:, room.corner])
        out[:, i] = (np.array(room.point) - batch.corners[:, room.corner]) @ np.array(room.way)
        out[:, i] -= tangent
    return out


ROUNDING = 1e-9
"""What pieces, worked out to corners and back again, may be off [mm]."""

LENGTH_SLIP = 0.01
"""Within what a path has its length [mm]: the bar for solved lengths."""


def exact_shape(batch: Batch, target: float, step: float | None = None) -> Batch:
    """A path that nearly has its length, and whole angles, moved until it has them exactly.

    Args:
        batch: of one.
        target: length [mm].
        step: what the angles of bends that are not kept are whole multiples of [rad].
    """
    corners, form = batch.corners, batch.form
    if len(form.moves) == 0:
        return batch
    loose = np.flatnonzero(~form.kept)
    wanted = np.zeros(0) if step is None else _whole(measure(batch).angles[0, loose], step)
    # Two bends of whole angles have the length that they have, within what may slip.
    length = target if len(form.moves) > len(wanted) else None
    for _ in range(12):
        off = _off(Batch(form, corners, batch.radii), length, loose, wanted)
        if bool((np.abs(off) < 1e-11).all()):
            break
        ways = [
            _off(Batch(form, corners + h * move, batch.radii), length, loose, wanted)
            for move in form.moves
            for h in (1e-4, -1e-4)
        ]
        slope = np.array([(a - b) / 2e-4 for a, b in zip(ways[::2], ways[1::2], strict=True)])
        move = np.linalg.lstsq(slope.T, off, rcond=1e-12)[0]
        corners = corners - np.einsum("d,dkc->kc", move, form.moves)
    return Batch(form, corners, batch.radii)


def _whole(angles: Floats, step: float) -> Floats:
    return np.asarray(step * np.maximum(np.round(angles / step), 1.0))


def _off(batch: Batch, target: float | None, loose: NDArray[np.intp], wanted: Floats) -> Floats:
    """Length less target [mm], and angles less what is wanted, as mm on a 100 mm arm."""
    measured = measure(batch)
    angles = measured.angles[0, loose[: len(wanted)]] - wanted
    off = np.zeros(0) if target is None else measured.length - target
    return np.concatenate([off, 100.0 * angles])


def points(batch: Batch | Lines, measured: Measure, count: int) -> tuple[Floats, Floats]:
    """Evenly spaced points of each path.

    Returns:
        stations (n, count) [mm] and points (n, count, 3) [mm], at the middles of
        ``count`` equal parts.
    """
    stations = measured.length[:, None] * ((np.arange(count) + 0.5) / count)[None, :]
    return stations, points_along(batch, measured, stations)


def points_along(batch: Batch | Lines, measured: Measure, stations: Floats) -> Floats:
    """Points (n, count, 3) of each path at ``stations`` (n, count) from its start [mm]."""
    n, k = batch.radii.shape
    nodes = batch.nodes
    directions, _ = legs(nodes)
    arcs = batch.radii * measured.angles
    lengths = np.empty((n, 2 * k + 1))
    lengths[:, 0::2], lengths[:, 1::2] = measured.straights, arcs
    ends = np.cumsum(lengths, axis=1)
    piece = np.zeros(stations.shape, dtype=np.intp)
    for i in range(2 * k):
        piece += stations >= ends[:, i, None]
    local = stations - np.take_along_axis(ends - lengths, piece, axis=1)
    return _positions(Lines(nodes, batch.radii), directions, measured, piece, local)


def _positions(
    batch: Lines,
    directions: Floats,
    measured: Measure,
    piece: NDArray[np.intp],
    local: Floats,
) -> Floats:
    """Points at ``local`` mm into piece number ``piece`` of each path.

    A straight begins at a tangent point and goes on along its direction; a bend leaves it
    along the same direction and towards its centre, square to that. Both are written
    ``begin + along * z + aside * x``.
    """
    n, k = batch.radii.shape
    half = np.tan(0.5 * measured.angles)
    tangent = (batch.radii * half)[:, :, None]
    begins = np.empty((n, 2 * k + 1, 3))
    corners = batch.nodes[:, 1:-1]
    begins[:, 0] = batch.nodes[:, 0]
    begins[:, 1::2] = corners - tangent * directions[:, :-1]
    begins[:, 2::2] = corners + tangent * directions[:, 1:]
    sine = np.sin(measured.angles)
    sine = np.where(sine < 1e-9, 1.0, sine)[:, :, None]
    cosine = np.cos(measured.angles)[:, :, None]
    x = np.zeros((n, 2 * k + 1, 3))
    x[:, 1::2] = (directions[:, 1:] - cosine * directions[:, :-1]) / sine
    z = np.empty((n, 2 * k + 1, 3))
    z[:, 0::2], z[:, 1::2] = directions, directions[:, :-1]
    radius = np.full((n, 2 * k + 1), 1e12)
    radius[:, 1::2] = batch.radii
    rows = np.arange(n)[:, None]
    r = radius[rows, piece]
    turn = local / r
    bent = piece % 2 == 1
    along = np.where(bent, r * np.sin(turn), local)
    aside = np.where(bent, 2.0 * r * np.sin(0.5 * turn) ** 2, 0.0)
    out = begins[rows, piece]
    out += along[:, :, None] * z[rows, piece]
    out += aside[:, :, None] * x[rows, piece]
    return np.asarray(out)


def legs(nodes: Floats) -> tuple[Floats, Floats]:
    """Directions (n, k+1, 3) and lengths (n, k+1) of the polylines' legs."""
    return unit(nodes[:, 1:] - nodes[:, :-1])


def unit(vectors: Floats) -> tuple[Floats, Floats]:
    """Unit vectors and sizes."""
    size = np.sqrt(np.einsum("...c,...c->...", vectors, vectors))
    return vectors / np.maximum(size, 1e-12)[..., None], size


def half_tangents(one: Floats, two: Floats) -> Floats:
    """Tangent of half the angle between unit vectors."""
    return half_tangent(np.einsum("...c,...c->...", one, two))


def half_tangent(cosine: Floats) -> Floats:
    """Tangent of half a turn, from the turn's cosine; cut off where it runs away."""
    c = np.minimum(np.maximum(cosine, _FLATTEST), 1.0)
    return np.asarray(np.sqrt((1.0 - c) / (1.0 + c)))


def shortening(half: Floats, radius: Floats | float) -> Floats:
    """What a fillet adds to the length of its two legs; never positive [mm].

    Args:
        half: tangent of half its turn.
        radius: of the fillet [mm].
    """
    return np.asarray(2.0 * radius * (np.arctan(half) - half))
