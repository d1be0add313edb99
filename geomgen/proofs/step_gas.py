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

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.exports.step import gas_path
from geomgen.geometry.frames import angle_between
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import ReadStep, proven
from geomgen.proofs.step_solids import defect
from geomgen.recipe.nodes import Node, Part
from geomgen.recipe.volumes import bore_volume
from geomgen.solids.build import build
from geomgen.solids.measure import volume
from geomgen.solids.products import products_of

NAME = "step-gas"

SHARE = 1e-3
"""What the volume may be off the bores' sum, as a share."""

_POINTS = 400

PLACE, LEAN = 0.01, math.radians(0.01)
"""What a named end may be off [mm], [rad]."""


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
    wanted = bores(gas.node)
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


def bores(node: Node) -> float:
    """Volume of a gas volume's bores, worked out without the kernel except for coped ones [mm3]."""
    return bore_volume(node, coped=lambda piece: volume(build(piece)), points=_POINTS)
