"""The cone behind the throat widens, or narrows, as slowly as gas follows a wall.

What: the included angle of the round cone that has the areas of the throat and of the outlet
at its ends: a diffuser where the outlet is wider, a reducing cone where it is narrower; and how
far its wall leans at most, since a lobed section has to become round too.
Why: gas comes off the wall of a diffuser that opens faster, and the pressure is not won back;
one that opens more slowly is long. A reducing cone forgives more.
Limit: ``limits.diffuser_angle_min`` and ``limits.diffuser_angle_max``, and
``limits.reducer_angle_max``; ``limits.wall_angle`` for the wall. Outside them it warns.
Source: common practice, no source: 7 to 12 deg included.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict

NAME = "collector-cone"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for the wall, one where the outlet has another bore than the throat [deg]."""
    facts = dict(design.collector.facts)
    if "cone_wall_deg" not in facts:
        return ()
    return (_wall(facts, design.limits["wall_angle"]), *_included(design, facts))


def _wall(facts: dict[str, float], limit: float) -> Finding:
    angle = facts["cone_wall_deg"]
    ok = angle <= limit
    return Finding(
        NAME,
        "wall",
        judged(ok, Verdict.WARN),
        f"leans at most {angle:.1f} deg between the lobed section and the round outlet, over "
        f"{facts['cone_length_mm']:.0f} mm; usual at most {limit:g} deg",
        angle,
        limit,
        "deg",
        "" if ok else "give the cone more length, collector.diffuser",
    )


def _included(design: Design, facts: dict[str, float]) -> tuple[Finding, ...]:
    for fact, what, low, high in (
        ("diffuser_included_deg", "diffuser", "diffuser_angle_min", "diffuser_angle_max"),
        ("reducer_included_deg", "reducing cone", None, "reducer_angle_max"),
    ):
        if fact in facts:
            least = 0.0 if low is None else design.limits[low]
            most = design.limits[high]
            return (_finding(facts, what, facts[fact], least, most),)
    return ()


def _finding(
    facts: dict[str, float], what: str, angle: float, least: float, most: float
) -> Finding:
    ok = least <= angle <= most
    usual = f"{least:g} to {most:g} deg" if least else f"at most {most:g} deg"
    return Finding(
        NAME,
        "included angle",
        judged(ok, Verdict.WARN),
        f"{what} of {angle:.1f} deg included over {facts['cone_length_mm']:.0f} mm behind a throat "
        f"of {facts['throat_bore_mm']:.1f} mm bore, usual {usual}",
        angle,
        most if angle > most or not least else least,
        "deg",
        "" if ok else "choose collector.diffuser, or a throat nearer to the outlet's bore",
    )
