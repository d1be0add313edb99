"""Volume over wall area of every tube of constant section is its length.

What: volume of each tube's solid over the area of its end face, in memory and as re-read
from the written STEP, against the length of the centreline; what holes take out of its wall is
added, by the curves where cylinders meet. Expanders against the frustums that they are.
Why: kinked paths and tilted sections make solids that every validity check passes.
Limit: 0.05 mm; of an expander 0.01 % of its volume.
Source: Pappus of Alexandria's second theorem; limit the project's own bar.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from OCP.TopoDS import TopoDS_Shape

from geomgen.design.model import Design, TubeSection
from geomgen.errors import Finding
from geomgen.proofs._step_parts import TubePart, finding, tube_parts
from geomgen.proofs._step_reading import ReadStep, Unreadable, on_assembly
from geomgen.solids.build import build
from geomgen.solids.measure import area, faces_of, surface_kind, volume

NAME = "step-volume"

OFF = 0.05
"""What a length may be off [mm]."""

SHARE = 1e-4
"""What an expander's volume may be off, as a share."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Two findings for every tube: in memory, and as re-read."""

    def on(step: ReadStep) -> list[Finding]:
        found = []
        for tube in tube_parts(design):
            found.append(_prove(tube, "in memory", build(tube.part.node)))
            try:
                found.append(_prove(tube, "as re-read", step.part(tube.part.name).shape))
            except Unreadable as error:
                found.append(finding(NAME, tube.subject, False, str(error)))
        for runner in design.runners:
            for section in runner.sections:
                if section.is_step:
                    try:
                        found.append(_cone(section, step.part(section.part).shape))
                    except Unreadable as error:
                        found.append(finding(NAME, section.part, False, str(error)))
        return found

    return on_assembly(NAME, on, design, files)


def _prove(tube: TubePart, how: str, shape: TopoDS_Shape) -> Finding:
    subject = f"{tube.subject} {how}"
    ends = [area(face) for face in faces_of(shape) if surface_kind(face) == "plane"]
    if len(ends) != 2 or abs(ends[0] - ends[1]) > 1e-6 * abs(ends[0]):
        return finding(NAME, subject, False, f"{len(ends)} flat ends, of {ends} mm2")
    drilled = sum(hole.volume(tube.tube) for hole in tube.holes)
    length, wanted = (volume(shape) + drilled) / ends[0], tube.tube.centreline.length
    return finding(
        NAME,
        subject,
        abs(length - wanted) <= OFF,
        f"volume over wall area {length:.4f} mm, centreline {wanted:.4f} mm",
        value=abs(length - wanted),
        limit=OFF,
        unit="mm",
    )


def _cone(section: TubeSection, shape: TopoDS_Shape) -> Finding:
    """An expander's wall: the difference of two frustums, pi h / 3 (a^2 + a b + b^2) each."""
    outside, bore = (
        math.pi / 3.0 * section.path.length * (a * a + a * b + b * b)
        for a, b in (section.outer, section.inner)
    )
    off = abs(volume(shape) / (outside - bore) - 1.0)
    return finding(
        NAME,
        f"{section.part} as re-read",
        off <= SHARE,
        f"{volume(shape):.2f} mm3, between two frustums {outside - bore:.2f} mm3",
        value=100.0 * off,
        limit=100.0 * SHARE,
        unit="%",
    )
