"""Every bend can be cut from what is on the shelf.

What: radius and angle of every bend against the stock's.
Why: a radius that nobody stocks cannot be bought; an angle beyond the stock bend's cannot
be cut from it; a very shallow bend cannot be measured.
Limit: the shelf of the spec, ``shelf.min_angle``.
Source: the spec.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.geometry.centreline import Bend

NAME = "bends-on-shelf"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner: the number of bends that are not to be had."""
    found = []
    for runner in design.runners:
        bends = runner.path.bends
        off = [i + 1 for i, bend in enumerate(bends) if not _to_be_had(design, bend)]
        angles = ", ".join(f"{math.degrees(bend.angle):.1f}" for bend in bends) or "none"
        radii = " and ".join(f"{r:g}" for r in sorted({bend.radius for bend in bends}))
        named = ", ".join(map(str, off))
        text = f"bends of {angles} deg" + (f" at CLR {radii} mm" if radii else "")
        found.append(
            Finding(
                NAME,
                f"runner {runner.cylinder}",
                judged(not off),
                text if not off else f"{text}: number {named} is not on the shelf",
                float(len(off)),
                0.0,
                "count",
                "" if not off else "add the bend to the shelf, or solve again",
            )
        )
    return tuple(found)


def _to_be_had(design: Design, bend: Bend) -> bool:
    if bend.angle < design.problem.shelf.least_angle - _SLACK:
        return False
    return any(
        abs(stock.clr - bend.radius) <= _SLACK and bend.angle <= stock.most + _SLACK
        for stock in design.stock
    )
