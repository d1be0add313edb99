"""Runners keep clear of one another, of other transitions and of the collector's body.

What: proven least gap between outsides, everywhere before the last straights; from there
to the merge the array sets the gap, and the exempt length is printed. Slip tubes count at their
own outsides, which are wider than the runners in them; beside one a runner keeps the gap, or what
the array leaves between them.
Why: no room to weld, and hot tubes that touch rub through.
Limit: ``limits.runner_gap``.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks._clearances import finding, gaps, slip_gaps
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.routing.problem import Clearance
from geomgen.routing.prove import last_straight

NAME = "runner-gap"

_REMEDY = "solve again, lengthen the runners, or move the collector"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a pair of runners, one for each runner's nearest other body [mm]."""
    obstacles = {obstacle.name for obstacle in design.problem.obstacles}
    tubes = {tube.name for tube in design.tubes}
    found: list[Finding] = []
    nearest: dict[str, Clearance] = {}
    for gap in (*gaps(design), *slip_gaps(design)):
        if gap.other in obstacles:
            continue
        if gap.other in tubes:
            found.append(finding(NAME, design, gap, _REMEDY))
        elif gap.subject not in nearest or gap.gap < nearest[gap.subject].gap:
            nearest[gap.subject] = gap
    found += [finding(NAME, design, gap, _REMEDY) for gap in nearest.values()]
    exempt = ", ".join(
        f"{tube.name.removeprefix('runner ')}: {last_straight(tube.path):.0f} mm"
        for tube in design.tubes
    )
    found.append(
        Finding(
            NAME,
            "exempt before the collector",
            Verdict.PASS,
            f"last straights, where the array sets the gap: {exempt}",
        )
    )
    return tuple(found)
