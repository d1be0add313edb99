"""All paths of two bends, against a scan with roots by Brent's method (scipy)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from routing_bundles import CLR, SHELF
from scipy.optimize import brentq

from geomgen.geometry.centreline import Bend, Centreline, Straight, from_corners
from geomgen.geometry.frames import Frame, Vec, angle_between, distance
from geomgen.routing.lengths import NEAR
from geomgen.routing.problem import Radius
from geomgen.routing.two_bends import two_bends

GRID = 80
AT_START = 10.0
LARGEST = math.radians(150.0)

positions = st.tuples(*[st.floats(-350.0, 350.0)] * 3)
directions = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: math.hypot(*v) > 0.2)


def pieces(
    t: float, u: float, start: Frame, end: Frame, radii: tuple[float, float] = (CLR, CLR)
) -> tuple[float, float, tuple[float, float], tuple[float, float, float]]:
    """Length, leg, angles and straights of a path, by school trigonometry."""
    one = np.array(start.origin) + t * np.array(start.z)
    two = np.array(end.origin) - u * np.array(end.z)
    leg = float(np.linalg.norm(two - one))
    way = (two - one) / max(leg, 1e-9)
    first = math.acos(min(1.0, max(-1.0, float(way @ np.array(start.z)))))
    last = math.acos(min(1.0, max(-1.0, float(way @ np.array(end.z)))))
    a, b = (r * math.tan(min(x, 3.1) / 2.0) for r, x in zip(radii, (first, last), strict=True))
    straights = (t - a, leg - a - b, u - b)
    return sum(straights) + radii[0] * first + radii[1] * last, leg, (first, last), straights


def by_brute_force(
    start: Frame, end: Frame, length: float, count: int
) -> list[tuple[float, float]]:
    """(t, u) of paths with that length that the shelf allows: t scanned, u by Brent."""
    found = []
    for t in np.linspace(AT_START, AT_START + 0.9 * length, count):
        u = np.linspace(0.0, 0.9 * length, 120)
        off = [pieces(float(t), float(v), start, end)[0] - length for v in u]
        for low, high, f, g in zip(u, u[1:], off, off[1:], strict=False):
            if f * g >= 0.0:
                continue
            root = brentq(lambda v, t=t: pieces(float(t), v, start, end)[0] - length, low, high)
            total, _, angles, straights = pieces(float(t), root, start, end)
            fine = min(straights) >= 0.0 and straights[0] >= AT_START
            fine &= SHELF.least_angle < min(angles) and max(angles) < LARGEST - 0.02
            if fine and abs(total - length) < 1e-6:
                found.append((float(t), float(root)))
    return found


def numbers(corners: np.ndarray, start: Frame, end: Frame) -> np.ndarray:
    """(t, u) of paths by their corners."""
    t = (corners[:, 0] - np.array(start.origin)) @ np.array(start.z)
    u = (np.array(end.origin) - corners[:, 1]) @ np.array(end.z)
    return np.stack([t, u], axis=1)


@settings(max_examples=15)
@given(positions, directions, st.floats(1.02, 1.8))
def test_none_is_missed(where: Vec, way: Vec, factor: float) -> None:
    start, end = Frame(), Frame.facing(where, way)
    length = factor * (math.hypot(*where) + 2.0 * CLR)
    roots = by_brute_force(start, end, length, 23)
    assume(roots)
    corners, _ = two_bends(start, (end,), length, SHELF, AT_START, GRID)[0]
    found = numbers(corners, start, end)
    # Numbers are looked at ever farther apart: the widest step is the last.
    widest = 0.95 * length * (1.0 - ((GRID - 2) / (GRID - 1)) ** 1.4)
    for t, u in roots:
        near = np.abs(found - np.array([t, u])).max(axis=1).min() if len(found) else math.inf
        assert near <= widest


@settings(max_examples=25)
@given(positions, directions, st.floats(1.02, 1.8))
def test_each_has_its_length_and_its_ends(where: Vec, way: Vec, factor: float) -> None:
    start, end = Frame(), Frame.facing(where, way)
    length = factor * (math.hypot(*where) + 2.0 * CLR)
    shelf = replace(SHELF, radii=(Radius(CLR, math.pi), Radius(90.0, math.pi)))
    corners, radii = two_bends(start, (end,), length, shelf, AT_START, 24)[0]
    assert len(corners) == len(radii)
    assert {tuple(r) for r in radii} <= {(a, b) for a in (CLR, 90.0) for b in (CLR, 90.0)}
    found = numbers(corners, start, end)
    for (t, u), clr, corner in zip(found, radii, corners, strict=True):
        on_start = np.array(start.origin) + t * np.array(start.z)
        on_end = np.array(end.origin) - u * np.array(end.z)
        assert np.abs(corner - np.stack([on_start, on_end])).max() < 1e-6
        total, leg, angles, straights = pieces(float(t), float(u), start, end, tuple(clr))
        if leg < 1.0 or max(angles) > LARGEST:
            continue
        assert abs(total - length) <= NEAR
        if min(straights) > 0.0:
            made = from_corners(
                start, tuple(tuple(map(float, c)) for c in corner), end.origin, tuple(clr)
            )
            assert abs(made.length - length) <= NEAR
            assert distance(made.end.origin, end.origin) < 1e-6
            assert angle_between(made.end.z, end.z) < 1e-6


@settings(max_examples=25)
@given(
    st.tuples(*[st.floats(5.0, 200.0)] * 3),
    st.tuples(*[st.floats(0.2, 2.4)] * 2),
    st.tuples(*[st.floats(-3.0, 3.0)] * 2),
)
def test_a_planted_path_has_a_neighbour(
    legs: Vec, angles: tuple[float, float], rolls: tuple[float, float]
) -> None:
    path = Centreline(
        Frame(),
        (
            Straight(legs[0] + AT_START),
            Bend(CLR, angles[0], rolls[0]),
            Straight(legs[1]),
            Bend(CLR, angles[1], rolls[1]),
            Straight(legs[2]),
        ),
    )
    corners, _ = two_bends(path.start, (path.end,), path.length, SHELF, AT_START, GRID)[0]
    t = legs[0] + AT_START + CLR * math.tan(angles[0] / 2.0)
    u = legs[2] + CLR * math.tan(angles[1] / 2.0)
    assume(max(t, u) < 0.95 * path.length)
    found = numbers(corners, path.start, path.end)
    widest = 0.95 * path.length * (1.0 - ((GRID - 2) / (GRID - 1)) ** 1.4)
    assert len(found)
    assert np.abs(found - np.array([t, u])).max(axis=1).min() <= widest


def test_nothing_where_nothing_can_be() -> None:
    for length in (100.0, 299.0):
        corners, radii = two_bends(Frame(), (Frame((0.0, 0.0, 300.0)),), length, SHELF, 10.0, 30)[0]
        assert corners.shape == (0, 2, 3)
        assert radii.shape == (0, 2)
