"""Exhaust temperature is taken at the same place of every runner.

What: distance of each probe from the gasket face, and how far the distances differ.
Why: gas cools as it goes, so unequal distances make cylinders look different; too near the head
the probe sees the port's wall and sits in the valve's jet.
Limit: ``limits.egt_from_face`` at least, ``limits.egt_near`` to ``limits.egt_far`` usual; no
difference between cylinders; not more than 10 mm from the place that was asked for.
Source: probe placement pages (1.5 in at least, 2 to 8 in usual); the 10 mm are common practice, no
source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "egt-place"

_SAME = 0.01
"""Distances that differ by less are one [mm]."""
_ASIDE = 10.0
"""A probe farther from where it was wanted is told of [mm]."""


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a probe on a runner [mm], and one on their spread."""
    probes = [
        (one, dict(one.fitted.facts)["at_mm"])
        for one in design.attachments
        if one.fitted.kind == "bung"
        and one.fitted.use == "egt"
        and one.fitted.host.startswith("runner ")
    ]
    least, near, far = (design.limits[key] for key in ("egt_from_face", "egt_near", "egt_far"))
    found = []
    for one, at in probes:
        moved = dict(one.fitted.facts)["moved_mm"]
        usual = near <= at <= far and abs(moved) <= _ASIDE
        verdict = judged(at >= least, Verdict.FAIL)
        if verdict is Verdict.PASS and not usual:
            verdict = Verdict.WARN
        aside = f", {abs(moved):.1f} mm from where it was wanted" if abs(moved) > 0.05 else ""
        found.append(
            Finding(
                NAME,
                one.fitted.name,
                verdict,
                f"{at:.1f} mm from the gasket face, usual {near:g} to {far:g} mm{aside}",
                at,
                least,
                "mm",
                _remedy(verdict, moved),
                one.fitted.at,
            )
        )
    if len(probes) < 2:
        return tuple(found)
    places = [at for _, at in probes]
    spread = max(places) - min(places)
    lacking = len(design.runners) - len({one.fitted.host for one, _ in probes})
    ok = spread <= _SAME
    return (
        *found,
        Finding(
            NAME,
            "all probes",
            judged(ok, Verdict.WARN) if not lacking else Verdict.WARN,
            f"distances differ by {spread:.3f} mm"
            + (f"; {lacking} runners have none" if lacking else ""),
            spread,
            _SAME,
            "mm",
            "" if ok and not lacking else "one bung on: runners keeps them equal",
        ),
    )


def _remedy(verdict: Verdict, moved: float) -> str:
    if verdict is Verdict.PASS:
        return ""
    if abs(moved) > _ASIDE:
        return "choose at where every runner is straight, or a greater shelf.min_straight_at_flange"
    return "move it along the runner: at"
