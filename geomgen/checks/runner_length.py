"""Every runner is exactly as long as asked.

What: length from z = 0 (or the valve) to the stated end, summed over plate, transition,
tube and stub, against the target.
Why: the length was chosen for the engine; the router may not change it.
Limit: ``limits.runner_length``, the project's own bar for the numbers inside. What the
shop may be off is ``runners.tolerance``.
Source: the spec.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design, Runner, Secondary
from geomgen.errors import Finding

NAME = "runner-length"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner [mm]."""
    limit = design.limits["runner_length"]
    end = design.tuning.length_to
    found = []
    for tube in design.tubes:
        length = tube.account.total
        off = abs(length - tube.target)
        found.append(
            Finding(
                NAME,
                tube.name,
                judged(off <= limit),
                f"{length:.3f} mm from {_since(tube)} to {end}, target {tube.target:.3f} mm",
                off,
                limit,
                "mm",
                "" if off <= limit else "delete the lock and solve again",
            )
        )
    return tuple(found)


def _since(tube: Runner | Secondary) -> str:
    """Where a tube's length begins."""
    return "z = 0" if isinstance(tube, Runner) else "the first join before it"
