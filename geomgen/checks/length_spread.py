"""How equal the runners are, in every unit that people argue in.

What: half the spread (longest less shortest) over the mean, with the spread itself in mm,
crank degrees at the tuned speed, and rpm of tuned speed.
Why: equal lengths space the pulses at the collector by the firing interval exactly.
Limit: ``limits.spread_pass_percent`` passes, ``limits.spread_warn_percent`` warns. Unequal
lengths that the spec asks for by cylinder warn only.
Source: bands of race builders, common practice, no source.
"""

from __future__ import annotations

import math

from geomgen.design.model import Design, Runner, Secondary
from geomgen.errors import Finding, Verdict
from geomgen.targets.wave import length_as_angle, length_as_rpm

NAME = "length-spread"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding for the runners and one for the secondaries, in percent of the mean length."""
    found = [_finding(design, "all runners", design.runners)]
    if len(design.secondaries) > 1:
        found.append(_finding(design, "all secondaries", design.secondaries))
    return tuple(found)


def _finding(
    design: Design, subject: str, tubes: tuple[Runner, ...] | tuple[Secondary, ...]
) -> Finding:
    lengths = [tube.account.total for tube in tubes]
    mean, spread = math.fsum(lengths) / len(lengths), max(lengths) - min(lengths)
    percent = 50.0 * spread / mean
    passes, warns = design.limits["spread_pass_percent"], design.limits["spread_warn_percent"]
    asked = len({tube.target for tube in tubes}) > 1
    verdict = Verdict.PASS
    if percent > passes:
        verdict = Verdict.WARN if asked or percent <= warns else Verdict.FAIL
    return Finding(
        NAME,
        subject,
        verdict,
        f"spread {spread:.3f} mm, plus or minus {percent:.3f} % of {mean:.1f} mm mean"
        + _as_engine(design, spread, mean),
        percent,
        passes,
        "%",
        "" if verdict is Verdict.PASS else _remedy(design),
    )


def _remedy(design: Design) -> str:
    if design.tuning.rule == "as-laid":
        return "move the outlet or its stubs, or take a family that makes them equal"
    return "give all of them the same length"


def _as_engine(design: Design, spread: float, mean: float) -> str:
    rpm = design.tuning.rpm
    if rpm is None:
        return ""
    whole = (mean + design.tuning.valve_to_face) * 1e-3
    angle = math.degrees(length_as_angle(spread * 1e-3, rpm, design.tuning.sound))
    shift = length_as_rpm(spread * 1e-3, whole, rpm)
    return f"; {angle:.3f} crank deg at {rpm:g} rpm; {abs(shift):.1f} rpm of tuned speed"
