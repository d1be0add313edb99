"""The gas volume in the written STEP is one watertight solid with its ends named.

What: re-read, one closed valid solid; every named inlet and outlet on its plane, normal
outward; volume against the sum of the bores, each worked out by itself.
Why: flow people mesh it as it comes, and pick inlets and outlet by name.
Limit: 0.1 % of volume; ends 0.01 mm and 0.01 degree.
Source: bores by area times length (Pappus), prismatoid formula (Simpson's rule is exact
between parallel sections joined by straight lines); coped bores by the kernel, one by one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.exports.step import gas_path
from geomgen.geometry.frames import angle_between
from geomgen.profiles.loops import Arc, EllipseArc, Line, area, profile_area
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import ReadStep, proven
from geomgen.proofs.step_solids import defect
from geomgen.recipe.nodes import (
    Cut,
    Fuse,
    Node,
    Part,
    Placed,
    Prism,
    RuledWall,
    Section,
    Trim,
    Tube,
)
from geomgen.solids.build import build
from geomgen.solids.measure import volume
from geomgen.solids.products import products_of

NAME = "step-gas"

SHARE = 1e-3
"""What the volume may be off the bores' sum, as a share."""

PLACE, LEAN = 0.01, math.radians(0.01)
"""What a named end may be off [mm], [rad]."""

_POINTS = 400

Floats = NDArray[np.float64]


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Findings on soundness, volume and named ends of each gas volume."""
    return tuple(
        found
        for gas in design.gases
        for found in proven(NAME, partial(_prove, gas), files, gas_path(design, gas))
    )


def _prove(gas: Part, step: ReadStep) -> list[Finding]:
    part = step.parts[0]
    wrong = f"{len(step.parts)} parts" if len(step.parts) != 1 else defect(part)
    if not wrong and part.name != gas.name:
        wrong = f"it is named {part.name!r}, not {gas.name!r}"
    said = wrong or "one closed, valid solid"
    return [finding(NAME, gas.name, not wrong, said), _volume(gas, step), *_ends(gas, step)]


def _volume(gas: Part, step: ReadStep) -> Finding:
    wanted = bore_volume(gas.node)
    found = sum(volume(part.shape) for part in step.parts)
    off = abs(found / wanted - 1.0)
    return finding(
        NAME,
        f"{gas.name} volume",
        off <= SHARE,
        f"{found / 1000.0:.1f} cc, the bores one by one {wanted / 1000.0:.1f} cc, "
        f"{100.0 * off:.2g} % apart",
        value=100.0 * off,
        limit=100.0 * SHARE,
        unit="%",
    )


def _ends(gas: Part, step: ReadStep) -> list[Finding]:
    product = products_of(gas)[gas.name]
    found = []
    for wanted in product.faces:
        faces = [f for part in step.parts for f in part.faces if f.name == wanted.name]
        wrong = f"{len(faces)} faces of that name" if len(faces) != 1 else ""
        if not wrong:
            off = abs(faces[0].plane.height(wanted.point))
            lean = angle_between(faces[0].plane.normal, wanted.normal)
            reach = max(faces[0].size)
            far = math.dist(faces[0].middle, wanted.point) > reach
            if off > PLACE or lean > LEAN or far:
                wrong = f"off its place by {off:.3g} mm, leaning {math.degrees(lean):.3g} deg"
        subject = f"{gas.name} {wanted.name}"
        found.append(finding(NAME, subject, not wrong, wrong or "named, in its place, outward"))
    return found


def bore_volume(node: Node) -> float:
    """Volume of a bore, worked out without the kernel except for coped ones [mm3]."""
    match node:
        case Fuse():
            return math.fsum(bore_volume(piece) for piece in node.nodes)
        case Placed():
            return bore_volume(node.node)
        case Tube():
            square = node.outer_radius**2 - node.inner_radius**2
            return math.pi * square * node.centreline.length
        case Prism():
            return profile_area(node.profile) * node.depth
        case RuledWall():
            return _between(node.outer) - _between(node.inner)
        case Trim() | Cut():
            return volume(build(node))


def _between(sections: tuple[Section, ...]) -> float:
    """Volume between parallel sections joined by straight lines [mm3]."""
    total = []
    for near, far in pairwise(sections):
        depth = abs(near.frame.local(far.frame.origin)[2])
        middle = _middle_area(near, far)
        ends = abs(area(near.loop)) + abs(area(far.loop))
        total.append(depth / 6.0 * (ends + 4.0 * middle))
    return math.fsum(total)


def _middle_area(near: Section, far: Section) -> float:
    """Area half way: each ruling's middle, in the plane of the nearer section [mm2]."""
    fraction = np.arange(_POINTS) / _POINTS
    loop = []
    for a, b in zip(near.loop, far.loop, strict=True):
        loop.append(0.5 * (_points(near, near, a, fraction) + _points(near, far, b, fraction)))
    x, y = np.concatenate(loop).T
    return float(abs(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def _points(plane: Section, section: Section, piece: Line | Arc | EllipseArc, f: Floats) -> Floats:
    """Points (n, 2) of a piece, in another section's x and y [mm]."""
    flat = _along(piece, f)
    frame, onto = section.frame, plane.frame
    space = np.array(frame.origin) + flat @ np.array([frame.x, frame.y])
    seen: Floats = (space - np.array(onto.origin)) @ np.array([onto.x, onto.y]).T
    return seen


def _along(piece: Line | Arc | EllipseArc, f: Floats) -> Floats:
    if isinstance(piece, Line):
        start, end = np.array(piece.start), np.array(piece.end)
        return np.asarray(start + f[:, None] * (end - start), dtype=np.float64)
    if isinstance(piece, Arc):
        piece = EllipseArc(piece.centre, piece.radius, piece.radius, 0.0, piece.begin, piece.sweep)
    t = piece.begin + f * piece.sweep
    u, v = piece.major * np.cos(t), piece.minor * np.sin(t)
    c, s = math.cos(piece.tilt), math.sin(piece.tilt)
    return np.column_stack((piece.centre[0] + u * c - v * s, piece.centre[1] + u * s + v * c))
