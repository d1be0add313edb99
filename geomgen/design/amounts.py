"""What a manifold comes to from the gasket face on: gas, metal, areas, mass, without the kernel.

Plain tubes by pi, radii and length; plates by the area of lines and arcs; transitions by the
prismatoid formula (exact between parallel sections joined by straight lines) and their skins by
fine triangles; what the family adds, from the family. A proof holds the volumes against the
kernel's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geomgen.design.fixed import Fixed
from geomgen.design.grades import density
from geomgen.design.model import Transition
from geomgen.families import Layout
from geomgen.profiles.along import along
from geomgen.profiles.loops import area, profile_area
from geomgen.recipe.nodes import RuledWall, Section
from geomgen.spec.header import HeaderSpec

Floats = NDArray[np.float64]

_AREA = 1500
"""Points on each piece of a loop, for areas: within 1e-6 of them."""

_ALONG, _ACROSS = 200, 16
"""The same for skins, and steps between two sections: within 1e-4 of them."""


@dataclass(frozen=True)
class Whole:
    """A manifold's amounts: volumes [mm3], areas [mm2], mass [kg].

    Attributes:
        gas: from z = 0 to the outlets.
        wall: that the gas touches.
        outside: that the air touches, without flanges and the rims of open ends.
        metal: with the head flange, without other plates.
        mass: of that; None where a grade's density is not known.
    """

    gas: float
    wall: float
    outside: float
    metal: float
    mass: float | None


def amounts(spec: HeaderSpec, fixed: Fixed) -> Whole | None:
    """What all of it comes to; None where the family or a leaning port has no closed form."""
    layout = fixed.layout
    if layout.amounts is None or layout.laid is None or layout.links:
        return None
    blends = [blend(transition) for transition in fixed.transitions]
    if any(one is None for one in blends):
        return None
    made = [one for one in blends if one is not None]
    ro, ri = fixed.tube.outer_radius, fixed.tube.inner_radius
    length = math.fsum(path.length for path in layout.laid)
    own = layout.amounts
    metal = dict(own.metal)
    _add(metal, spec.runners.tube.material, math.pi * (ro**2 - ri**2) * length)
    _add(metal, spec.runners.tube.material, math.fsum(one.metal for one in made))
    for flange in fixed.flanges:
        _add(metal, _grade(spec, layout), profile_area(flange.drilled) * flange.thickness)
    return Whole(
        gas=own.gas + math.pi * ri**2 * length + math.fsum(one.gas for one in made),
        wall=own.wall + math.tau * ri * length + math.fsum(one.wall for one in made),
        outside=own.outside + math.tau * ro * length + math.fsum(one.outside for one in made),
        metal=math.fsum(metal.values()),
        mass=_mass(metal, layout),
    )


def come_to(spec: HeaderSpec, fixed: Fixed) -> tuple[tuple[str, float], ...]:
    """The amounts as facts for the report, by name with unit suffix; none where not known."""
    whole = amounts(spec, fixed)
    if whole is None:
        return ()
    facts = (
        ("gas_volume_cc", whole.gas / 1e3),
        ("gas_wall_area_cm2", whole.wall / 1e2),
        ("outside_area_cm2", whole.outside / 1e2),
        ("metal_volume_cc", whole.metal / 1e3),
    )
    return facts if whole.mass is None else (*facts, ("mass_kg", whole.mass))


def _grade(spec: HeaderSpec, layout: Layout) -> str:
    return layout.casting.grade if layout.casting is not None else spec.flange.material


def _add(metal: dict[str, float], grade: str, volume: float) -> None:
    metal[grade] = metal.get(grade, 0.0) + volume


def _mass(metal: dict[str, float], layout: Layout) -> float | None:
    said = layout.casting.density if layout.casting is not None else None
    weights = [(volume, said or density(grade)) for grade, volume in metal.items()]
    if any(weight is None for _, weight in weights):
        return None
    return math.fsum(volume * 1e-9 * weight for volume, weight in weights if weight is not None)


def blend(transition: Transition) -> Whole | None:
    """What a transition comes to; None where it is cut in line with a face that it leans from."""
    metal, gas = transition.metal, transition.gas
    if not isinstance(metal, RuledWall) or not isinstance(gas, RuledWall):
        return None
    return Whole(
        gas=_volume(gas.outer),
        wall=_skin(gas.outer),
        # What stands in the plate is not in the air.
        outside=_skin(metal.outer[-2:]),
        metal=_volume(metal.outer) - _volume(metal.inner),
        mass=None,
    )


def _volume(sections: tuple[Section, ...]) -> float:
    """Between parallel sections joined by straight lines."""
    total = 0.0
    for near, far in pairwise(sections):
        depth = abs(near.frame.local(far.frame.origin)[2])
        middle = 0.5 * (_points(near, _AREA) + _points(far, _AREA)) - np.array(near.frame.origin)
        x, y = middle @ np.array(near.frame.x), middle @ np.array(near.frame.y)
        half = abs(0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
        total += depth / 6.0 * (abs(area(near.loop)) + abs(area(far.loop)) + 4.0 * half)
    return total


def _skin(sections: tuple[Section, ...]) -> float:
    """Area of the ruled sides, as triangles."""
    total = 0.0
    share = np.linspace(0.0, 1.0, _ACROSS + 1)[:, None, None]
    for near, far in pairwise(sections):
        a, b = _points(near, _ALONG), _points(far, _ALONG)
        grid = a + share * (b - a)
        on = np.roll(grid, -1, axis=1)
        for p, q, r in (
            (grid[:-1], on[:-1], grid[1:]),
            (on[1:], grid[1:], on[:-1]),
        ):
            total += 0.5 * float(np.linalg.norm(np.cross(q - p, r - p), axis=2).sum())
    return total


def _points(section: Section, count: int) -> Floats:
    """Points (n, 3) round a section, so many on each piece [mm]."""
    flat = np.concatenate([along(piece, np.arange(count) / count) for piece in section.loop])
    frame = section.frame
    found: Floats = np.array(frame.origin) + flat @ np.array([frame.x, frame.y])
    return found
