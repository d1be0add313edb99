"""Steps stand where they are wanted.

What: how far each runner's expanders stand from the places that the spec gives, which they leave
only for a straight that holds them.
Why: a step's place is what it is tuned by.
Limit: what the steps say, ``within``, or else ``limits.step_moved``; where they say ``must`` it
fails. A place beyond the runner's end is none.
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
        limit, must = steps[0].within, steps[0].must
        worst = max(abs(step.moved) for step in steps)
        at, places, beyond = runner.account.plate + runner.account.transition, [], False
        for section in runner.sections:
            if section.is_step:
                middle = at + section.path.length / 2.0
                beyond = beyond or middle - section.moved >= runner.account.total
                places.append(
                    f"{2 * section.outer[0]:g} to {2 * section.outer[1]:g} mm OD at "
                    f"{middle:.1f} mm (wanted {middle - section.moved:.1f})"
                )
            at += section.path.length
        ok = worst <= limit and not beyond
        remedy = "ask for it elsewhere, shorten the expander, or run geomgen route again"
        if beyond:
            remedy = f"the runner is {runner.account.total:.1f} mm long: make the step's to smaller"
        found.append(
            Finding(
                NAME,
                runner.name,
                judged(ok, Verdict.FAIL if beyond or must else Verdict.WARN),
                "steps " + " and ".join(places),
                worst,
                limit,
                "mm",
                "" if ok else remedy,
                steps[0].path.start.origin,
            )
        )
    return tuple(found)
