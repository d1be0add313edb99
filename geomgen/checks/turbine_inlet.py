"""The transition to the turbine's inlet opens gently, and its divider seals.

What: steepest wall of the transition, pipe to window; the fall of its bore's area below the
smaller of its ends; the land of the divider at the flange's face; a bolted flange's thickness as
finished, and what is left on it for facing.
Why: gas leaves a steep wall and a dip throttles it; a divider that stops short or is thin leaks
from one scroll into the other; flanges at a turbine warp.
Limit: ``limits.wall_angle``, ``limits.area_dip_percent``, ``limits.bar_min``,
``limits.turbine_flange_min``; a flange without facing stock warns.
Source: builders' articles: no sudden area change, flanges of 12 to 13 mm; the land of 4 to 6 mm
is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from geomgen.checks import Early, judged
from geomgen.design.groundwork import Ground
from geomgen.errors import Finding, Verdict

NAME = "turbine-inlet"
EARLY = Early.STOPS
KEYS = (("collector", "turbine", "inlet"),)


def run(design: Ground) -> tuple[Finding, ...]:
    """Findings on walls [deg], area [%], divider and flange [mm]; none without a turbine."""
    facts = dict(design.collector.facts)
    return tuple(_findings(design, facts)) if "inlet_wall_angle_deg" in facts else ()


def _findings(design: Ground, facts: dict[str, float]) -> Iterator[Finding]:
    angle, steepest = facts["inlet_wall_angle_deg"], design.limits["wall_angle"]
    yield Finding(
        NAME,
        "transition walls",
        judged(angle <= steepest),
        f"steepest wall {angle:.1f} deg from the flange's axis, at most {steepest:g} deg",
        angle,
        steepest,
        "deg",
        ""
        if angle <= steepest
        else "make collector.transition longer, or the pipe nearer to the window's size",
    )
    dip, most = facts["inlet_area_dip_percent"], design.limits["area_dip_percent"]
    yield Finding(
        NAME,
        "transition area",
        judged(dip <= most),
        f"the bore falls {dip:.2f} % below the smaller of its ends",
        dip,
        most,
        "%",
        "" if dip <= most else "choose a pipe nearer to the window's size",
    )
    bar, least = facts.get("divider_mm"), design.limits["bar_min"]
    if bar is not None:
        yield Finding(
            NAME,
            "divider",
            judged(bar >= least),
            f"runs to the flange's face, {bar:g} mm wide, at least {least:g} mm to seal on",
            bar,
            least,
            "mm",
            "" if bar >= least else "make collector.turbine.inlet.divider wider",
        )
    if "flange_thickness_mm" not in facts:  # a V-band's ring: its clamp holds it flat
        return
    thick, thin = facts["flange_thickness_mm"], design.limits["turbine_flange_min"]
    facing = facts["flange_facing_mm"]
    ok = thick >= thin and facing > 0.0
    yield Finding(
        NAME,
        "flange",
        judged(ok, Verdict.WARN),
        f"{thick:g} mm as finished, usual {thin:g} mm or more; {facing:g} mm on it for facing "
        "after welding",
        thick,
        thin,
        "mm",
        "" if ok else "12 mm finished and 2 mm facing are usual",
    )
