"""Steps stand where they are wanted.

What: how far each runner's expanders stand from the places that the spec gives, which they leave
only for a straight that holds them.
Why: a step's place is what it is tuned by.
Limit: ``limits.step_moved``.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "step-place"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a stepped runner: the farthest that a step was moved [mm]."""
    found = []
    for runner in design.runners:
        steps = [section for section in runner.sections if section.is_step]
        if not steps:
            continue
        limit = design.limits["step_moved"]
        worst = max(abs(step.moved) for step in steps)
        at, places = runner.account.plate + runner.account.transition, []
        for section in runner.sections:
            if section.is_step:
                middle = at + section.path.length / 2.0
                places.append(
                    f"{2 * section.outer[0]:g} to {2 * section.outer[1]:g} mm OD at "
                    f"{middle:.1f} mm (wanted {middle - section.moved:.1f})"
                )
            at += section.path.length
        ok = worst <= limit
        found.append(
            Finding(
                NAME,
                runner.name,
                judged(ok, Verdict.WARN),
                "steps " + " and ".join(places),
                worst,
                limit,
                "mm",
                "" if ok else "move the step to a straight, shorten the expander, or solve again",
                steps[0].path.start.origin,
            )
        )
    return tuple(found)
