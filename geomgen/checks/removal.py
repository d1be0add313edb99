"""The welded manifold slides off its studs without touching anything.

What: runners, transitions, stubs, cone and outlet moved along the head's normal by as much
as the studs stand out of the flange's gasket face, against every obstacle but what hangs on the
manifold and comes off with it, or before it. Of a manifold on two heads that do not face one
way, each head's flange and runners alone, drawn out of the slip joints at their ends.
Why: a header that can be built but not taken off is a header in the scrap bin.
Limit: none but that nothing touches; the steps are no longer than the room that is proven.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.checks._clearances import beside_unseen
from geomgen.design.model import Design, HeadPlace
from geomgen.design.network import off_travel
from geomgen.errors import Finding
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import angle_between
from geomgen.routing.prove import slide

NAME = "removal"

_PARALLEL = 1e-3


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a head, or one where all heads face one way [mm].

    How far it slides, of how far it must.
    """
    whole = _face_one_way(design)
    heads = range(1 if whole else len(design.heads))
    found = tuple(_finding(design, number, whole) for number in heads)
    return beside_unseen(design, found)


def _face_one_way(design: Design) -> bool:
    """Whether the manifold slides off all its heads at once."""
    way = design.heads[0].frame.z
    return all(angle_between(way, head.frame.z) < _PARALLEL for head in design.heads)


def _finding(design: Design, number: int, whole: bool) -> Finding:
    head = design.heads[number]
    subject = "whole manifold" if whole else f"{head.name} bank"
    own = tuple(stud for stud in design.studs if whole or stud.head == number)
    travel = off_travel(own)
    named = {name for name, _ in design.obstacles} - set(design.hung)
    obstacles = tuple(o for o in design.problem.obstacles if o.name in named)
    stuck = slide(_bars(design, None if whole else head), obstacles, head.frame.z, travel)
    if stuck is None:
        return Finding(
            NAME,
            subject,
            judged(True),
            f"slides {travel:.1f} mm off its studs and touches nothing",
            travel,
            travel,
            "mm",
        )
    x, y, z = stuck.point
    out = "taking the studs out first cures it, for then it need not slide"
    return Finding(
        NAME,
        subject,
        judged(False),
        f"{stuck.bar} touches {stuck.obstacle} after {stuck.got:.1f} mm of {travel:.1f} mm, at "
        f"({x:.0f}, {y:.0f}, {z:.0f}); {out}",
        stuck.got,
        travel,
        "mm",
        "use shorter studs or bolts, split the flange, or waive it and take the studs out",
        stuck.point,
    )


def _bars(design: Design, head: HeadPlace | None) -> tuple[tuple[str, Centreline, float], ...]:
    """What slides off with a head: all of it, or of two heads that one's own tubes."""
    own = design.runners
    if head is not None:
        own = tuple(runner for runner in own if runner.cylinder in head.cylinders)
    runners = tuple((runner.name, runner.path, runner.outer_radius) for runner in own)
    names = {f"transition {runner.cylinder}" for runner in own}
    ends = tuple(
        (body.name, body.path, body.radius) for body in design.problem.bodies if body.name in names
    )
    if head is not None:
        return (*runners, *ends)
    others = tuple((tube.name, tube.path, tube.outer_radius) for tube in design.secondaries)
    return (*runners, *others, *ends, *design.collector.envelopes)
