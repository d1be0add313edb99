"""Many filleted polylines at once: lengths, straights, angles and points, in numpy.

A batch of n paths with k bends is its corners (n, k, 3) and radii (n, k), between one
start point and one end point. The first corner lies on the start's axis, the last on the
slot's, so the form always closes; only the length has to be solved for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline, from_corners
from geomgen.geometry.frames import Frame, Vec

Floats = NDArray[np.float64]

SHARPEST = np.radians(150.0)
"""Largest turn at one corner; beyond it the corner runs away to infinity [rad]."""


@dataclass(frozen=True)
class Batch:
    """n paths of k bends between two poses.

    Attributes:
        start: pose that they leave along z.
        end: pose that they arrive in along z.
        corners: (n, k, 3) [mm].
        radii: (n, k) [mm].
    """

    start: Frame
    end: Frame
    corners: Floats
    radii: Floats

    def __len__(self) -> int:
        return len(self.corners)

    def take(self, chosen: NDArray[np.intp] | NDArray[np.bool_]) -> Batch:
        """The chosen paths only."""
        return Batch(self.start, self.end, self.corners[chosen], self.radii[chosen])

    def path(self, index: int) -> Centreline:
        """One of them as a centreline; its end lies on the slot by construction."""
        corners: tuple[Vec, ...] = tuple(
            (float(c[0]), float(c[1]), float(c[2])) for c in self.corners[index]
        )
        radii = tuple(float(r) for r in self.radii[index])
        return from_corners(self.start, corners, self.end.origin, radii)


@dataclass(frozen=True)
class Measure:
    """Of a batch: straights (n, k+1) [mm], angles (n, k) [rad], length (n,) [mm]."""

    straights: Floats
    angles: Floats
    length: Floats


def measure(batch: Batch) -> Measure:
    """Straights, bend angles and length of every path."""
    directions, legs = _legs(batch)
    cosine = np.einsum("nkc,nkc->nk", directions[:, :-1], directions[:, 1:])
    angles = np.arccos(np.clip(cosine, -1.0, 1.0))
    tangents = batch.radii * np.tan(0.5 * np.minimum(angles, 3.0))
    straights = legs.copy()
    straights[:, :-1] -= tangents
    straights[:, 1:] -= tangents
    length = straights.sum(axis=1) + (batch.radii * angles).sum(axis=1)
    return Measure(straights, angles, length)


def with_length(batch: Batch, target: float, tries: int = 18) -> tuple[Batch, NDArray[np.bool_]]:
    """Move one corner of each path so that its length is ``target`` [mm].

    With three bends or more the last corner but one moves away from the middle of its
    neighbours, in the direction in which it stands; with two the last moves along the
    slot's axis.

    Returns:
        The batch and which of its paths have the length, within 1e-3 mm.
    """
    index = batch.corners.shape[1] - 2 if batch.corners.shape[1] > 2 else 1
    base, ray = _ray(batch, index)
    low = np.zeros(len(batch))
    high = np.full(len(batch), 0.75 * target)

    def off_by(t: Floats) -> tuple[Batch, Floats]:
        corners = batch.corners.copy()
        corners[:, index] = base + t[:, None] * ray
        moved = Batch(batch.start, batch.end, corners, batch.radii)
        return moved, measure(moved).length - target

    f_low, f_high = off_by(low)[1], off_by(high)[1]
    bracketed = (f_low < 0.0) & (f_high > 0.0)
    moved, f = batch, f_low
    for _ in range(tries):
        # False position with the standing end's weight halved (Illinois), never stuck.
        span = f_high - f_low
        t = high - f_high * (high - low) / np.where(span == 0.0, 1.0, span)
        t = np.where(bracketed, t, low)
        moved, f = off_by(t)
        up = f > 0.0
        f_low = np.where(up, 0.5 * f_low, f)
        f_high = np.where(up, f, 0.5 * f_high)
        low, high = np.where(up, low, t), np.where(up, t, high)
        if bool((np.abs(f[bracketed]) < 1e-9).all()):
            break
    return moved, bracketed & (np.abs(f) < 1e-3)


def exact_length(path_batch: Batch, target: float) -> Batch:
    """``with_length`` carried on until rounding stops it, for the chosen few."""
    return with_length(path_batch, target, tries=80)[0]


def points(batch: Batch, measured: Measure, count: int) -> tuple[Floats, Floats]:
    """Evenly spaced points of each path.

    Returns:
        stations (n, count) [mm] and points (n, count, 3) [mm], at the middles of
        ``count`` equal parts.
    """
    n, k = batch.radii.shape
    directions, _ = _legs(batch)
    arcs = batch.radii * measured.angles
    lengths = np.empty((n, 2 * k + 1))
    lengths[:, 0::2], lengths[:, 1::2] = measured.straights, arcs
    ends = np.cumsum(lengths, axis=1)
    stations = measured.length[:, None] * ((np.arange(count) + 0.5) / count)[None, :]
    piece = (stations[:, :, None] >= ends[:, None, :-1]).sum(axis=2)
    begins = ends - lengths
    local = stations - np.take_along_axis(begins, piece, axis=1)
    return stations, _positions(batch, directions, measured, piece, local)


def _positions(
    batch: Batch,
    directions: Floats,
    measured: Measure,
    piece: NDArray[np.intp],
    local: Floats,
) -> Floats:
    """Points at ``local`` mm into piece number ``piece`` of each path."""
    bend = piece // 2  # the straight before bend i and bend i share the direction i
    rows = np.arange(len(batch))[:, None]
    z = directions[rows, bend]
    half_tan = batch.radii * np.tan(0.5 * measured.angles)
    leg_start = np.concatenate(
        [np.broadcast_to(np.array(batch.start.origin), (len(batch), 1, 3)), batch.corners], axis=1
    )
    leave = np.concatenate([np.zeros((len(batch), 1)), half_tan], axis=1)
    on_straight = leg_start[rows, bend] + (leave[rows, bend] + local)[:, :, None] * z
    last = batch.radii.shape[1] - 1
    b = np.minimum(bend, last)
    radius = batch.radii[rows, b]
    after = directions[rows, b + 1]
    sine = np.sin(measured.angles)[rows, b]
    sine = np.where(sine < 1e-9, 1.0, sine)
    cosine = np.cos(measured.angles)[rows, b]
    x = (after - cosine[:, :, None] * directions[rows, b]) / sine[:, :, None]
    turn = local / radius
    touch = batch.corners[rows, b] - half_tan[rows, b][:, :, None] * directions[rows, b]
    on_bend = (
        touch
        + (radius * (1.0 - np.cos(turn)))[:, :, None] * x
        + (radius * np.sin(turn))[:, :, None] * directions[rows, b]
    )
    return np.asarray(np.where((piece % 2 == 0)[:, :, None], on_straight, on_bend))


def _legs(batch: Batch) -> tuple[Floats, Floats]:
    n = len(batch)
    nodes = np.concatenate(
        [
            np.broadcast_to(np.array(batch.start.origin), (n, 1, 3)),
            batch.corners,
            np.broadcast_to(np.array(batch.end.origin), (n, 1, 3)),
        ],
        axis=1,
    )
    vectors = np.diff(nodes, axis=1)
    legs = np.sqrt((vectors**2).sum(axis=2))
    directions = vectors / np.maximum(legs, 1e-12)[:, :, None]
    return directions, legs


def _ray(batch: Batch, index: int) -> tuple[Floats, Floats]:
    n, k, _ = batch.corners.shape
    if k == 2:
        base = np.broadcast_to(np.array(batch.end.origin), (n, 3))
        return base, np.broadcast_to(-np.array(batch.end.z), (n, 3))
    base = 0.5 * (batch.corners[:, index - 1] + batch.corners[:, index + 1])
    ray = batch.corners[:, index] - base
    size = np.sqrt((ray**2).sum(axis=1))
    return base, ray / np.maximum(size, 1e-12)[:, None]
