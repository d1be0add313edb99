"""Every rule, side by side: ``targets`` answers with one row a rule."""

from __future__ import annotations

import math
from dataclasses import replace

from geomgen.targets import book, facts, wave
from geomgen.targets.effects import effect_rows
from geomgen.targets.model import Target, TargetInputs
from geomgen.targets.sizes import size_rows

LENGTH_RULES = ("book", "acoustic-body", "acoustic-front")
"""Rules that ``length: tuned`` may follow; the first is the default."""

FACE_TO_JOIN = "port face (z = 0) to first join"
"""Datum of every length here."""


def targets(inputs: TargetInputs, length: float | None = None) -> tuple[Target, ...]:
    """One row a rule, in a fixed order.

    Args:
        inputs: what the rules need.
        length: primary as built, port face to first join [m], for the rows that say what
            a length does; None takes the tuned length.
    """
    built = tuned_length(inputs)[0] / 1000.0 if length is None else length
    rows = (
        *(_length_row(inputs, rule) for rule in LENGTH_RULES),
        *size_rows(inputs),
        *effect_rows(inputs, built),
    )
    return tuple(_judged(row, inputs) for row in rows)


def tuned_length(inputs: TargetInputs) -> tuple[float, str]:
    """Primary length [mm], port face to first join, and the name of the rule that gave it.

    Raises:
        ValueError: the rule is not known, or gives no length for these numbers.
    """
    if inputs.rule not in LENGTH_RULES:
        raise ValueError(f"no length rule {inputs.rule!r}; known: {', '.join(LENGTH_RULES)}")
    value = _length_row(inputs, inputs.rule).value
    if not value > 0.0:
        raise ValueError(
            f"the {inputs.rule} rule gives {value:.1f} mm at {inputs.rpm:g} rpm, which is no length"
        )
    return value, inputs.rule


def _length_row(inputs: TargetInputs, rule: str) -> Target:
    if rule == "book":
        return _book_length(inputs)
    return _acoustic(inputs, rule)


def _book_length(inputs: TargetInputs) -> Target:
    return Target(
        rule="book",
        kind="length",
        value=1000.0 * book.primary_length(inputs.exhaust_opens, inputs.rpm),
        unit="mm",
        datum=FACE_TO_JOIN,
        formula="P = 850 (180 + EVO) / N - 3, in inches",
        inputs=(facts.degrees("EVO", inputs.exhaust_opens), facts.rpm(inputs)),
        lift=facts.BOOK_LIFT_MM,
        source=f"{facts.BOOK}, quoted in several public texts",
        mark="S2",
        note="the 3 in stand for the port; as physics, a reflection back at half of ED",
    )


def _acoustic(inputs: TargetInputs, rule: str) -> Target:
    leaves, what = {
        "acoustic-body": ("(180 + EVO) / 2", "the body of the pulse leaves half of ED after EVO"),
        "acoustic-front": ("0", "the first front leaves at EVO"),
    }[rule]
    angle = facts.overlap_centre(inputs) - facts.departs(inputs, rule)
    sound = facts.speed_of_sound(inputs)
    acoustic = wave.round_trip_length(angle, inputs.rpm, sound)
    note = f"{what} and its reflection is back at the middle of overlap"
    if rule == "acoustic-body":
        note += "; equals the book rule's reading when EVC = IVO"
    return Target(
        rule=rule,
        kind="length",
        value=1000.0 * (acoustic - facts.beyond_the_runner(inputs)),
        unit="mm",
        datum=FACE_TO_JOIN,
        formula=f"L = a t / 2 - port - 0.6133 r, t from {leaves} to EVO + 180 + (EVC - IVO) / 2",
        inputs=(
            f"a {sound:.1f} m/s",
            f"angle {math.degrees(angle):.1f} deg",
            facts.rpm(inputs),
            f"port {1000.0 * inputs.valve_to_face:g} mm",
            f"r {500.0 * inputs.bore:g} mm",
        ),
        lift=facts.BOOK_LIFT_MM,
        source="acoustic round trip; end correction of Levine and Schwinger (1948)",
        mark="M",
        note=note,
    )


def _judged(row: Target, inputs: TargetInputs) -> Target:
    if row.lift is None or abs(row.lift - 1000.0 * inputs.cam_lift) < 0.01:
        return row
    return replace(
        row,
        warning=(
            f"cam timing is given at {1000.0 * inputs.cam_lift:.3g} mm lift, but this rule takes "
            f"it at {row.lift:.3g} mm; not converted: enter the timing at {row.lift:.3g} mm"
        ),
    )
