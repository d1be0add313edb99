"""Somebody has said what holds the turbo up.

What: whether a bracket point is stated, the turbo's weight, and its moment about that point, or
about the inlet flange where the manifold carries it alone.
Why: a hot manifold creeps and cracks under a turbo that hangs on it.
Limit: none; a turbo without a bracket warns, and so does one of unknown mass.
Source: common practice, no source. Weight: standard gravity, ISO 80000-3.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "turbine-support"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding where a turbine is [N]."""
    facts = dict(design.collector.facts)
    if "support_x_mm" not in facts:
        return ()
    x, y, z = (facts[f"support_{axis}_mm"] for axis in "xyz")
    mass = facts.get("turbo_mass_kg")
    held = facts.get("turbo_bracket_count", 0.0) > 0.0
    if mass is None:
        load = "its mass is not stated"
    else:
        load = (
            f"{mass:g} kg, {facts['turbo_weight_n']:.0f} N, and "
            f"{facts['turbo_moment_at_support_nm']:.1f} Nm about it"
        )
    where = f"({x:.0f}, {y:.0f}, {z:.0f})"
    what = f"a bracket at {where}" if held else f"the manifold alone, at its flange {where}"
    return (
        Finding(
            NAME,
            "turbine",
            judged(held, Verdict.WARN),
            f"held by {what}: {load}",
            facts.get("turbo_weight_n"),
            unit="" if mass is None else "N",
            remedy="" if held else "say where a bracket holds it: collector.turbine.support",
            where=(x, y, z),
        ),
    )
