"""The welded manifold slides off its studs without touching anything.

What: runners, transitions, stubs, cone and outlet moved along the head's normal by as much
as the studs stand out of the flange's gasket face, against every obstacle.
Why: a header that can be built but not taken off is a header in the scrap bin.
Limit: none but that nothing touches; the steps are no longer than the room that is proven.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.checks._clearances import beside_unseen
from geomgen.design.model import Design
from geomgen.design.network import off_travel
from geomgen.errors import Finding
from geomgen.geometry.centreline import Centreline
from geomgen.routing.prove import slide

NAME = "removal"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding: how far it slides, of how far it must [mm]."""
    travel = off_travel(design.studs)
    named = {name for name, _ in design.obstacles}
    obstacles = tuple(o for o in design.problem.obstacles if o.name in named)
    stuck = slide(_bars(design), obstacles, design.head_flanges[0].frame.z, travel)
    if stuck is None:
        free = Finding(
            NAME,
            "whole manifold",
            judged(True),
            f"slides {travel:.1f} mm off its studs and touches nothing",
            travel,
            travel,
            "mm",
        )
        return beside_unseen(design, (free,))
    x, y, z = stuck.point
    out = "taking the studs out first cures it, for then it need not slide"
    return (
        Finding(
            NAME,
            "whole manifold",
            judged(False),
            f"{stuck.bar} touches {stuck.obstacle} after {stuck.got:.1f} mm of {travel:.1f} mm, at "
            f"({x:.0f}, {y:.0f}, {z:.0f}); {out}",
            stuck.got,
            travel,
            "mm",
            "use shorter studs or bolts, split the flange, or waive it and take the studs out",
            stuck.point,
        ),
    )


def _bars(design: Design) -> tuple[tuple[str, Centreline, float], ...]:
    runners = tuple(
        (f"runner {runner.cylinder}", runner.path, runner.outer_radius) for runner in design.runners
    )
    ends = tuple(
        (body.name, body.path, body.radius)
        for body in design.problem.bodies
        if body.edge is not None
    )
    return (*runners, *ends, *design.collector.envelopes)
