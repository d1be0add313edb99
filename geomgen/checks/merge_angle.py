"""The merge angle is one that works and can be welded.

What: a tube's axis against the collector's axis, in a row the outermost's; the included angle
is twice that.
Why: flat merges are long and their trimmed edges burn; steep ones turn the pulse into the
neighbour.
Limit: ``limits.merge_angle_min`` and ``limits.merge_angle_max``.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import Early, judged
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding, Verdict

NAME = "merge-angle"
EARLY = Early.STOPS
KEYS = (("collector", "merge_angle"),)


def run(design: Ground) -> tuple[Finding, ...]:
    """One finding for the collector [deg]; none for families that do not merge."""
    angle = dict(design.collector.facts).get("merge_angle_deg")
    if angle is None:
        return ()
    low, high = design.limits["merge_angle_min"], design.limits["merge_angle_max"]
    ok = low <= angle <= high
    return (
        Finding(
            NAME,
            "collector",
            judged(ok, Verdict.WARN),
            f"{angle:g} deg from a tube's axis to the collector's ({2 * angle:g} deg included), "
            f"usual {low:g} to {high:g} deg",
            angle,
            high if angle > high else low,
            "deg",
            "" if ok else "choose collector.merge_angle within the usual",
        ),
    )
