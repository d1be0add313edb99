"""Runners and collector keep the gap that each kind of obstacle asks for.

What: proven least gap between every runner, stub, cone and outlet and every obstacle.
Why: steering and brakes come first; hoses melt, bodywork burns, the road is hard.
A STEP solid counts as triangles; what its surface may stand out of them is taken off every
gap. One that has not been measured is not run, and that is no pass.
Limit: the obstacle's own ``gap``, or ``limits.gap_...`` of its kind.
Source: builders' articles and common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from geomgen.checks._clearances import MEASURE, finding, gaps
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.geometry.solid_field import Solid
from geomgen.routing.problem import Clearance
from geomgen.routing.prove import fixed_gaps

NAME = "obstacle-gap"

_REMEDY = "solve again, move the collector or its outlet, or check the obstacle's place"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner and obstacle; one an obstacle for the collector's nearest part [mm]."""
    names = [obstacle.name for obstacle in design.problem.obstacles]
    found = [finding(NAME, design, gap, _REMEDY) for gap in gaps(design) if gap.other in names]
    worst: dict[str, Clearance] = {}
    own = {flange.name for flange in design.bolted}
    for gap in fixed_gaps(design.problem, design.collector.envelopes):
        if gap.other in own:  # the pipes are welded to it
            continue
        if gap.other not in worst or gap.gap - gap.needed < worst[gap.other].gap - gap.needed:
            worst[gap.other] = gap
    found += [finding(NAME, design, gap, _REMEDY) for gap in worst.values()]
    return (*found, *_solids(design))


def _solids(design: Design) -> Iterator[Finding]:
    """What is known of obstacles that are STEP solids."""
    for obstacle in design.problem.obstacles:
        if isinstance(obstacle.field, Solid):
            off = obstacle.field.outside
            yield Finding(
                NAME,
                f"{obstacle.name}, as measured",
                Verdict.PASS,
                f"{len(obstacle.field.triangles)} triangles; the solid stands out of them by at "
                f"most {off:.2f} mm, which is taken off every gap",
                off,
                unit="mm",
            )
    for name, file in design.unseen:
        yield Finding(
            NAME,
            f"every runner / {name}",
            Verdict.NOT_RUN,
            f"{file} has not been measured, so nothing was held against it",
            remedy=MEASURE,
        )
