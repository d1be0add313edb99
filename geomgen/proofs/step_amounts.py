"""What the report says of volumes, areas and mass is what the written STEP holds.

What: metal of the manifold with its head flange, and gas, as the kernel measures them in the
re-read files, against the closed forms in the report; the gas volume's skin without its named
ends against the area that the gas touches.
Why: a manifold and the one that it replaces are compared by these numbers.
Limit: 0.1 %.
Source: project's own bar; the closed forms are pi, radii and lengths, the prismatoid formula,
and integrals over the curves where cylinders meet.
"""

from __future__ import annotations

from collections.abc import Mapping

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.exports.step import gas_path
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import ReadStep, on_assembly, proven
from geomgen.solids.measure import area, volume

NAME = "step-amounts"

SHARE = 1e-3
"""What an amount may be off, as a share."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Findings on metal, gas and the gas's wall.

    Where the report does not say them, what the file holds is told and held against nothing.
    """
    facts = dict(design.collector.facts)
    plates = {flat.name for flat in design.flats if flat not in design.head_flanges}

    def metal(step: ReadStep) -> list[Finding]:
        parts = [part for part in step.parts if part.name not in plates]
        found = sum(volume(part.shape) for part in parts) / 1e3
        wanted = facts.get("metal_volume_cc")
        return [_finding("metal", found, wanted, "cc", facts.get("mass_kg"))]

    inside: list[tuple[float, float]] = []

    def gas(step: ReadStep) -> list[Finding]:
        for part in step.parts:
            ends = sum(face.area for face in part.faces)
            inside.append((volume(part.shape) / 1e3, (area(part.shape) - ends) / 1e2))
        return []

    broken = [
        found for part in design.gases for found in proven(NAME, gas, files, gas_path(design, part))
    ]
    sums = (
        ("gas", sum(row[0] for row in inside), facts.get("gas_volume_cc"), "cc"),
        ("gas wall", sum(row[1] for row in inside), facts.get("gas_wall_area_cm2"), "cm2"),
    )
    return (
        *on_assembly(NAME, metal, design, files),
        *broken,
        *(_finding(*row) for row in sums if not broken),
    )


def _finding(
    subject: str, found: float, wanted: float | None, unit: str, mass: float | None = None
) -> Finding:
    if wanted is None:
        said = f"{found:.2f} {unit} in the file; the report has no closed form beside it"
        return finding(NAME, subject, found > 0.0, said, value=found, unit=unit)
    off = abs(found / wanted - 1.0)
    weighs = "" if mass is None else f"; {mass * found / wanted:.3f} kg by the grade's density"
    return finding(
        NAME,
        subject,
        off <= SHARE,
        f"{found:.2f} {unit} in the file, {wanted:.2f} {unit} in closed form, "
        f"{100.0 * off:.2g} % apart{weighs}",
        value=found,
        limit=wanted,
        unit=unit,
    )
