"""Transitions are neither stubby nor needlessly long.

What: length of each port-to-round transition over the tube's OD.
Why: a short one is steep and hard to form; a long one takes straight tube from the runner.
Limit: ``limits.transition_ratio_min`` and ``limits.transition_ratio_max``; warns.
Source: common practice, no source: 0.7 to 1.5 times the OD.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design, Runner
from geomgen.errors import Finding, Verdict

NAME = "transition-length"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner [mm]."""
    return tuple(_finding(design, runner) for runner in design.runners)


def _finding(design: Design, runner: Runner) -> Finding:
    od, length = 2.0 * runner.entry_outer, runner.transition.length
    least = design.limits["transition_ratio_min"] * od
    most = design.limits["transition_ratio_max"] * od
    ok = least - 1e-9 <= length <= most + 1e-9
    how = "chosen" if runner.transition.chosen else "asked for"
    return Finding(
        NAME,
        f"runner {runner.cylinder}",
        judged(ok, Verdict.WARN),
        f"{length:g} mm {how}, {length / od:.2f} x OD; {least:.1f} to {most:.1f} mm is usual",
        length,
        most if length > most else least,
        "mm",
        "" if ok else "set runners.transition.length to auto, or closer to the tube's OD",
    )
