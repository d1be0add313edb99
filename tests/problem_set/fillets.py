"""Batches of polylines with filleted corners, in plain numpy.

A path from a pose to a slot is a polyline whose first corner lies on the start's axis and
whose last corner lies on the slot's axis. With k bends it has 2 + 3 (k - 2) unknowns: the
distance of the first corner, that of the last, and the places of the corners between.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
LEAST_ANGLE = math.radians(8.0)
MOST_ANGLE = math.radians(150.0)


@dataclass(frozen=True)
class Ends:
    """Start point and direction, slot point and direction (of the gas) [mm]."""

    p: Floats
    z: Floats
    q: Floats
    w: Floats


@dataclass(frozen=True)
class Rules:
    """What straights and bends may be [mm, rad]."""

    radii: tuple[float, ...]
    most: tuple[float, ...]
    straight: float
    at_start: float
    at_end: float


@dataclass(frozen=True)
class Batch:
    """Filleted polylines: straights (B, k+1), angles (B, k), radii (B, k), corners (B, k+2, 3)."""

    points: Floats
    radii: Floats
    straights: Floats
    angles: Floats
    length: Floats

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> Batch:
        """Some of them."""
        return Batch(
            self.points[index],
            self.radii[index],
            self.straights[index],
            self.angles[index],
            self.length[index],
        )


def corners(ends: Ends, x: Floats) -> Floats:
    """Polylines (B, k+2, 3) of parameters (B, 2 + 3 (k - 2))."""
    count = len(x)
    inner = (x.shape[1] - 2) // 3
    points = np.empty((count, inner + 4, 3))
    points[:, 0] = ends.p
    points[:, 1] = ends.p + x[:, :1] * ends.z
    points[:, 2:-2] = x[:, 2:].reshape(count, inner, 3)
    points[:, -2] = ends.q - x[:, 1:2] * ends.w
    points[:, -1] = ends.q
    return points


def filleted(ends: Ends, x: Floats, radii: Floats) -> Batch:
    """Straights, angles and lengths of the filleted polylines."""
    points = corners(ends, x)
    leg = np.diff(points, axis=1)
    size = np.sqrt(np.einsum("bij,bij->bi", leg, leg)) + 1e-12
    way = leg / size[..., None]
    cosine = np.clip(np.einsum("bij,bij->bi", way[:, :-1], way[:, 1:]), -1.0, 1.0)
    angles = np.arccos(cosine)
    reach = radii * np.tan(np.minimum(angles, 3.1) / 2.0)
    straights = size.copy()
    straights[:, :-1] -= reach
    straights[:, 1:] -= reach
    # A corner behind the start or past the slot is no path at all.
    straights[:, 0] = np.where(x[:, 0] > 0.0, straights[:, 0], -1e6)
    straights[:, -1] = np.where(x[:, 1] > 0.0, straights[:, -1], -1e6)
    length = straights.sum(axis=1) + (radii * angles).sum(axis=1)
    return Batch(points, radii, straights, angles, length)


def allowed(batch: Batch, rules: Rules, spare: float = 1e-4) -> NDArray[np.bool_]:
    """Which of them the rules allow."""
    least = np.full(batch.straights.shape[1], rules.straight)
    least[0], least[-1] = rules.at_start, rules.at_end
    ok = (batch.straights >= least + spare).all(axis=1)
    ok &= (batch.angles >= LEAST_ANGLE + 1e-6).all(axis=1)
    most = np.full(batch.angles.shape, min(MOST_ANGLE, rules.most[0]))
    for radius, angle in zip(rules.radii, rules.most, strict=True):
        most = np.where(batch.radii == radius, min(MOST_ANGLE, angle), most)
    return np.asarray(ok & (batch.angles <= most - 1e-6).all(axis=1))


def to_length(ends: Ends, x: Floats, radii: Floats, length: float, rounds: int = 6) -> Floats:
    """Parameters moved square to their level set until the length fits (Newton's steps)."""
    x = x.copy()
    count, free = x.shape
    step = 1e-4
    shifts = np.vstack([np.zeros(free), step * np.eye(free)])
    for _ in range(rounds):
        trial = (x[:, None, :] + shifts).reshape(-1, free)
        spread = np.repeat(radii, free + 1, axis=0)
        found = filleted(ends, trial, spread).length.reshape(count, free + 1)
        found = np.where(np.abs(found) < 1e5, found, length)
        slope = (found[:, 1:] - found[:, :1]) / step
        off = found[:, 0] - length
        if np.abs(off).max() < 1e-10:
            break
        move = slope * (off / np.maximum((slope * slope).sum(axis=1), 1e-4))[:, None]
        size = np.sqrt((move * move).sum(axis=1, keepdims=True))
        x -= move * np.minimum(1.0, 80.0 / np.maximum(size, 1e-12))
    return x


def along(batch: Batch, count: int) -> tuple[Floats, NDArray[np.bool_]]:
    """Evenly spaced points (B, count, 3) from start to slot, and which lie on the last straight."""
    points, straights, angles, radii = batch.points, batch.straights, batch.angles, batch.radii
    leg = np.diff(points, axis=1)
    way = leg / np.sqrt((leg * leg).sum(axis=2, keepdims=True))
    s = batch.length[:, None] * np.linspace(0.0, 1.0, count)
    out = np.empty((len(points), count, 3))
    here, travelled = points[:, 0], np.zeros(len(points))
    bends = angles.shape[1]
    for i in range(bends + 1):
        local = s - travelled[:, None]
        mine = (local >= 0.0)[..., None]
        np.copyto(out, here[:, None] + local[..., None] * way[:, i, None], where=mine)
        here = here + straights[:, i, None] * way[:, i]
        travelled = travelled + straights[:, i]
        if i == bends:
            break
        z, r = way[:, i], radii[:, i]
        side = way[:, i + 1] - (way[:, i + 1] * z).sum(axis=1, keepdims=True) * z
        side /= np.sqrt((side * side).sum(axis=1, keepdims=True)) + 1e-15
        phi = (s - travelled[:, None]) / r[:, None]
        mine = (phi >= 0.0)[..., None]
        arc = (
            here[:, None]
            + (r[:, None] * np.sin(phi))[..., None] * z[:, None]
            + (r[:, None] * (1.0 - np.cos(phi)))[..., None] * side[:, None]
        )
        np.copyto(out, arc, where=mine)
        end = angles[:, i]
        here = here + (r * np.sin(end))[:, None] * z + (r * (1.0 - np.cos(end)))[:, None] * side
        travelled = travelled + r * end
    last = s > (batch.length - straights[:, -1])[:, None]
    return out, last
