"""Rows that say what given sizes do: gas speed, reflection, rpm band, arrival."""

from __future__ import annotations

import math

from geomgen.targets import book, facts, wave
from geomgen.targets.model import Target, TargetInputs


def effect_rows(inputs: TargetInputs, length: float) -> tuple[Target, ...]:
    """What the primary does when it is ``length`` [m] from port face to first join."""
    return (
        _sound(inputs),
        _gas_speed(inputs),
        _reflection(inputs),
        *_band(inputs, length),
        _arrival(inputs, length),
    )


def _sound(inputs: TargetInputs) -> Target:
    return Target(
        rule="speed-of-sound",
        kind="gas",
        value=facts.speed_of_sound(inputs),
        unit="m/s",
        datum="mean in the primaries",
        formula="a = sqrt(gamma(T) R T), burnt petrol at lambda 1, frozen",
        inputs=(f"T {inputs.gas_temperature:.1f} K",),
        lift=None,
        source="NASA polynomials, checked against CoolProp",
        mark="M",
    )


def _gas_speed(inputs: TargetInputs) -> Target:
    return Target(
        rule="gas-speed-as-built",
        kind="gas",
        value=book.mean_speed(inputs.swept_volume, inputs.rpm, inputs.bore),
        unit="m/s",
        datum="primary bore as specified",
        formula="v = V N / (30 A)",
        inputs=(facts.volume(inputs), facts.rpm(inputs), f"ID {1000.0 * inputs.bore:g} mm"),
        lift=None,
        source="continuity; the rules above aim at 75 to 100 m/s",
        mark="P",
    )


def _reflection(inputs: TargetInputs) -> Target:
    area = inputs.bore**2
    onward = wave.merge_onward(inputs.merging, area, inputs.collector_bore**2)
    return Target(
        rule="merge-reflection",
        kind="gas",
        value=wave.reflection(area, onward),
        unit="-",
        datum="pressure wave in one primary at the first join",
        formula="R = (S1 - S2) / (S1 + S2), S2 = (N - 1) S1 + Sc",
        inputs=(
            f"N {inputs.merging}",
            f"ID {1000.0 * inputs.bore:g} mm",
            f"collector ID {1000.0 * inputs.collector_bore:g} mm",
        ),
        lift=None,
        source="plane-wave area change, acoustics textbooks",
        mark="M",
        note="negative: a pressure pulse comes back as a rarefaction",
    )


def _band(inputs: TargetInputs, length: float) -> tuple[Target, ...]:
    opens = math.pi + inputs.exhaust_opens - inputs.intake_opens
    closes = math.pi + inputs.exhaust_opens + inputs.exhaust_closes
    reach = length + facts.beyond_the_runner(inputs)
    band = wave.rpm_band(
        reach, facts.speed_of_sound(inputs), opens, closes, facts.departs(inputs, "acoustic-body")
    )
    if band is None:
        return ()
    return tuple(
        Target(
            rule=f"overlap-band-{end}",
            kind="speed",
            value=value,
            unit="rpm",
            datum="body of the pulse back at the valve during overlap",
            formula="N = angle a / (2 L), angle from (180 + EVO) / 2 to " + event,
            inputs=(
                f"L {1000.0 * reach:.1f} mm from the valve, end correction in",
                f"a {facts.speed_of_sound(inputs):.1f} m/s",
            ),
            lift=facts.BOOK_LIFT_MM,
            source="acoustic round trip",
            mark="M",
            note=meaning,
        )
        for end, value, event, meaning in (
            ("low", band[0], "intake opening", "slower, it meets a closed intake valve"),
            ("high", band[1], "exhaust closing", "faster, it meets a closed exhaust valve"),
        )
    )


def _arrival(inputs: TargetInputs, length: float) -> Target:
    back = wave.arrival(
        length + facts.beyond_the_runner(inputs),
        inputs.rpm,
        facts.speed_of_sound(inputs),
        facts.departs(inputs, "acoustic-body"),
    )
    return Target(
        rule="arrival",
        kind="speed",
        value=math.degrees(back - math.pi - inputs.exhaust_opens),
        unit="deg",
        datum="crank angle after TDC of overlap, body of the pulse back at the valve",
        formula="(180 + EVO) / 2 + 12 N L / a - (180 + EVO)",
        inputs=(f"length {1000.0 * length:.1f} mm from the face", facts.rpm(inputs)),
        lift=facts.BOOK_LIFT_MM,
        source="acoustic round trip",
        mark="M",
        note=(
            f"overlap is open from {-math.degrees(inputs.intake_opens):g} "
            f"to {math.degrees(inputs.exhaust_closes):g} deg"
        ),
    )
