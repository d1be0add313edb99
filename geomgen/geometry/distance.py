"""Proven distances: between two centrelines, and from a centreline to a field.

Points on a curve travelled by arc length move no faster than the arc length does, and
distance fields are 1-Lipschitz. So over an interval of half-length h about a sample,
nothing comes nearer than the sample's distance minus h. Intervals that could still hold
the minimum are halved until the bound is as tight as asked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.fields import Field, at_most
from geomgen.geometry.frames import Vec, add, dot, norm, scale, sub
from geomgen.geometry.tracing import tracing

Floats = NDArray[np.float64]

_ROUNDS = 60
_MOST = 400_000


@dataclass(frozen=True)
class Nearest:
    """A proven least distance.

    Attributes:
        lower: nothing is nearer than this [mm].
        upper: this near it certainly comes [mm].
        station: where on the (first) curve, from its start [mm].
        other: where on the second curve; 0 for a field [mm].
        point: the place on the (first) curve.
    """

    lower: float
    upper: float
    station: float
    other: float
    point: Vec


@dataclass(frozen=True)
class Span:
    """Part of a centreline between two stations [mm]."""

    path: Centreline
    begin: float
    end: float

    @staticmethod
    def whole(path: Centreline) -> Span:
        """All of it."""
        return Span(path, 0.0, path.length)


def points_at(path: Centreline, stations: Floats) -> Floats:
    """Points (n, 3) at distances along a path [mm], clamped to its ends."""
    return tracing(path).points(stations)


def to_field(span: Span, field: Field, tolerance: float = 1e-3, first: float = 12.0) -> Nearest:
    """Least signed distance from part of a centreline to a field, proven to ``tolerance`` [mm].

    Args:
        span: the part.
        field: what to keep clear of.
        tolerance: ``upper - lower`` of the answer, unless the curve is inside or the field
            itself is only bounded.
        first: length of the first intervals [mm].
    """
    mid, half = _cut(span, first)
    best, station = np.inf, span.begin
    lower = -np.inf
    for _ in range(_ROUNDS):
        d = field.distance(points_at(span.path, mid))
        i = int(np.argmin(d))
        if d[i] < best:
            best, station = float(d[i]), float(mid[i])
        bound = d - half
        lower = min(float(bound.min()), best)
        keep = bound < best - tolerance
        if not keep.any():
            break
        mid, half = _halved(mid[keep], half[keep])
    place = points_at(span.path, np.array([station]))
    upper = float(at_most(field, place)[0])
    return Nearest(max(lower, best - tolerance), upper, station, 0.0, _vec(place[0]))


def between(a: Span, b: Span, tolerance: float = 1e-3, first: float = 12.0) -> Nearest:
    """Least distance between parts of two centrelines, proven to ``tolerance`` [mm]."""
    ma, ha = _cut(a, first)
    mb, hb = _cut(b, first)
    i, j = (index.ravel() for index in np.indices((len(ma), len(mb))))
    sa, sb, la, lb = ma[i], mb[j], ha[i], hb[j]
    best, at_a, at_b = np.inf, a.begin, b.begin
    p, q = points_at(a.path, ma), points_at(b.path, mb)
    apart = (p[:, None, :] - q).reshape(-1, 3)
    for round_ in range(_ROUNDS):
        if round_:
            apart = points_at(a.path, sa) - points_at(b.path, sb)
        d = np.sqrt(np.einsum("nc,nc->n", apart, apart))
        k = int(np.argmin(d))
        if d[k] < best:
            best, at_a, at_b = float(d[k]), float(sa[k]), float(sb[k])
        keep = d - la - lb < best - tolerance
        if not keep.any() or int(keep.sum()) > _MOST:
            break
        sa, sb, la, lb = _quartered(sa[keep], sb[keep], la[keep], lb[keep])
    else:
        keep = np.zeros(len(sa), dtype=bool)
    lower = best - tolerance
    if keep.any():
        lower = min(lower, float((d - la - lb)[keep].min()))
    point = points_at(a.path, np.array([at_a]))[0]
    return Nearest(lower, best, at_a, at_b, _vec(point))


def between_straights(a: tuple[Vec, Vec], b: tuple[Vec, Vec]) -> float:
    """Least distance between two line segments, each by its ends, in closed form [mm].

    It is at a common normal of the two lines, or at an end of one of the segments.
    """
    u, v, w = sub(a[1], a[0]), sub(b[1], b[0]), sub(a[0], b[0])
    uu, uv, vv = dot(u, u), dot(u, v), dot(v, v)
    least = min(
        _to_straight(a[0], b), _to_straight(a[1], b), _to_straight(b[0], a), _to_straight(b[1], a)
    )
    square = uu * vv - uv * uv
    if square > 1e-12 * uu * vv:
        s = (uv * dot(v, w) - vv * dot(u, w)) / square
        t = (uu * dot(v, w) - uv * dot(u, w)) / square
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            least = min(least, norm(sub(add(w, scale(u, s)), scale(v, t))))
    return least


def _to_straight(p: Vec, straight: tuple[Vec, Vec]) -> float:
    along, away = sub(straight[1], straight[0]), sub(p, straight[0])
    length = dot(along, along)
    t = min(1.0, max(0.0, dot(away, along) / length)) if length > 0.0 else 0.0
    return norm(sub(away, scale(along, t)))


def _cut(span: Span, first: float) -> tuple[Floats, Floats]:
    length = max(span.end - span.begin, 0.0)
    count = max(1, int(np.ceil(length / first)))
    half = 0.5 * length / count
    mid = span.begin + half * (2.0 * np.arange(count) + 1.0)
    return np.asarray(mid, dtype=np.float64), np.full(count, half, dtype=np.float64)


def _halved(mid: Floats, half: Floats) -> tuple[Floats, Floats]:
    quarter = 0.5 * half
    return np.concatenate([mid - quarter, mid + quarter]), np.concatenate([quarter, quarter])


def _quartered(
    sa: Floats, sb: Floats, la: Floats, lb: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Split the longer side of each pair; both when they are alike."""
    qa, qb = 0.5 * la, 0.5 * lb
    return (
        np.concatenate([sa - qa, sa - qa, sa + qa, sa + qa]),
        np.concatenate([sb - qb, sb + qb, sb - qb, sb + qb]),
        np.concatenate([qa] * 4),
        np.concatenate([qb] * 4),
    )


def _vec(point: Floats) -> Vec:
    return (float(point[0]), float(point[1]), float(point[2]))
