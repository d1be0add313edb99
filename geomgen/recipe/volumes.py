"""Volumes of bores without the CAD kernel."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Straight
from geomgen.geometry.copes import SaddleCope, held
from geomgen.geometry.frames import Frame, dot, norm, scale, sub
from geomgen.profiles.along import along
from geomgen.profiles.loops import CurvedLoop, area, profile_area
from geomgen.recipe.nodes import Cut, Fuse, Node, Placed, Prism, RuledWall, Section, Trim, Tube

Floats = NDArray[np.float64]

_POINTS = 256
_RADII, _TURNS = 32, 256


class NoClosedForm(Exception):
    """A bore that this module cannot work out: the kernel must."""


def bore_volume(
    node: Node, coped: Callable[[Trim | Cut], float] | None = None, points: int = _POINTS
) -> float:
    """Volume of a bore [mm3].

    Tubes by area times length (Pappus), ruled walls by the prismatoid formula (Simpson's rule
    is exact between parallel sections joined by straight lines), straight tubes trimmed on
    planes by the length of every line along them, summed over the bore (within 0.02 %), tubes
    that leave a straight rod's axis, without the rod, by the curve where cylinders meet. Of one
    that has both, cut and planes are taken to lie apart along it.

    Args:
        node: the bore.
        coped: what works out bores that are trimmed or cut, in place of the closed forms.
        points: of each curved piece of a section half way between two.

    Raises:
        NoClosedForm: a bend is trimmed, or something else is cut with a solid.
    """
    match node:
        case Fuse():
            return math.fsum(bore_volume(piece, coped, points) for piece in node.nodes)
        case Placed():
            return bore_volume(node.node, coped, points)
        case Tube():
            square = node.outer_radius**2 - node.inner_radius**2
            return math.pi * square * node.centreline.length
        case Prism():
            return profile_area(node.profile) * node.depth
        case RuledWall():
            return _between(node.outer, points) - _between(node.inner, points)
        case Trim() | Cut() if coped is not None:
            return coped(node)
        case Trim():
            return _trimmed(node)
        case Cut():
            return _beyond_rod(node)


def _beyond_rod(cut: Cut) -> float:
    """A tube that begins on a straight rod's axis, without what lies in the rod."""
    tube, rods = cut.node, cut.tools
    rod = rods[0]
    if not (len(rods) == 1 and isinstance(tube, Tube) and isinstance(rod, Tube)):
        raise NoClosedForm("a bore that is cut with a solid")
    first, way, whole = tube.centreline.pieces[0], tube.centreline.start, rod.centreline
    base = sub(way.origin, whole.start.origin)
    off_axis = norm(sub(base, scale(whole.start.z, dot(base, whole.start.z))))
    straight = all(isinstance(piece, Straight) for piece in (first, *whole.pieces))
    if not straight or rod.inner_radius or tube.inner_radius or off_axis > 1e-6:
        raise NoClosedForm("a bore that does not leave a straight rod's axis")
    leg = Frame(way.moved(first.length).origin, way.x, scale(way.z, -1.0))
    cope = SaddleCope(leg, whole.start.origin, whole.start.z, rod.outer_radius)
    rest = tube.centreline.length - first.length
    return held(cope, tube.outer_radius) + math.pi * tube.outer_radius**2 * rest


def _trimmed(trim: Trim) -> float:
    tube = trim.node
    if isinstance(tube, Cut):
        whole = Trim(tube.node, trim.planes)
        return _trimmed(whole) + _beyond_rod(tube) - bore_volume(tube.node)
    if not isinstance(tube, Tube) or not all(
        isinstance(piece, Straight) for piece in tube.centreline.pieces
    ):
        raise NoClosedForm("a trimmed bore that is no straight tube")
    start, length = tube.centreline.start, tube.centreline.length
    nodes, weights = np.polynomial.legendre.leggauss(_RADII)
    low, high = tube.inner_radius**2, tube.outer_radius**2
    radius = np.sqrt(0.5 * (high + low) + 0.5 * (high - low) * nodes)
    turn = (np.arange(_TURNS) + 0.5) * (math.tau / _TURNS)
    u, v = np.outer(radius, np.cos(turn)), np.outer(radius, np.sin(turn))
    near, far = np.zeros_like(u), np.full_like(u, length)
    for plane in trim.planes:
        # Height over the plane is linear along each line of the tube.
        here = plane.height(start.origin)
        along, x, y = (_dot(plane.normal, way) for way in (start.z, start.x, start.y))
        height = here + u * x + v * y
        if abs(along) < 1e-12:
            far = np.where(height > 0.0, near, far)
        elif along > 0.0:
            far = np.minimum(far, -height / along)
        else:
            near = np.maximum(near, -height / along)
    lines = np.maximum(far - near, 0.0)
    return float(0.25 * (high - low) * (math.tau / _TURNS) * np.sum(weights[:, None] * lines))


def _dot(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _between(sections: tuple[Section, ...], points: int) -> float:
    total = []
    for near, far in pairwise(sections):
        depth = abs(near.frame.local(far.frame.origin)[2])
        ends = abs(area(near.loop)) + abs(area(far.loop))
        total.append(depth / 6.0 * (ends + 4.0 * _middle_area(near, far, points)))
    return math.fsum(total)


def _middle_area(near: Section, far: Section, points: int) -> float:
    """Area half way: each ruling's middle, in the plane of the nearer section [mm2]."""
    middle = 0.5 * (_points(near.loop, points) + _points_in(near, far, points))
    x, y = middle.T
    return float(abs(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def _points_in(plane: Section, section: Section, points: int) -> Floats:
    flat = _points(section.loop, points)
    space = np.array(section.frame.origin) + flat @ np.array([section.frame.x, section.frame.y])
    onto = np.array([plane.frame.x, plane.frame.y]).T
    return np.asarray((space - np.array(plane.frame.origin)) @ onto)


def _points(loop: CurvedLoop, count: int) -> Floats:
    fraction = np.arange(count) / count
    return np.concatenate([along(piece, fraction) for piece in loop])
