"""Rows that size the primary's bore and the collector."""

from __future__ import annotations

import math

from geomgen.targets import book, facts
from geomgen.targets.model import Target, TargetInputs

COLLECTOR_RATIO = (1.7, 1.9)
"""Collector outlet bore over primary bore of a 4-1 [-]. Common practice, no source."""

THROAT_RATIO = (1.3, 1.5)
"""Throat of a merge collector over primary bore [-]. Common practice, no source."""

FAST_GAS = 100.0
"""Mean gas speed taken as the upper end of what a primary is sized for [m/s]. Practice."""


def size_rows(inputs: TargetInputs) -> tuple[Target, ...]:
    """Bore and collector, one row a rule."""
    return (
        _book_bore(inputs),
        _velocity_bore(inputs),
        _fast_bore(inputs),
        _collector(inputs),
        _throat(inputs),
        _tail(inputs),
    )


def _book_bore(inputs: TargetInputs) -> Target:
    length = facts.book_reach(inputs)
    return Target(
        rule="book-bore",
        kind="bore",
        value=1000.0 * book.primary_bore(inputs.swept_volume, length),
        unit="mm",
        datum="primary ID",
        formula="ID = 2.1 sqrt(cc / (25 (P + 3))), in inches",
        inputs=(facts.volume(inputs), f"P {1000.0 * length:.1f} mm"),
        lift=facts.BOOK_LIFT_MM,
        source=facts.BOOK,
        mark="M",
        note="P is the book rule's own length, not the one built",
    )


def _velocity_bore(inputs: TargetInputs) -> Target:
    area = book.velocity_area(inputs.swept_volume, inputs.peak_torque_rpm)
    return Target(
        rule="velocity",
        kind="bore",
        value=1000.0 * math.sqrt(4.0 * area / math.pi),
        unit="mm",
        datum="primary ID",
        formula="A = N V / 88 200, in inches",
        inputs=(facts.volume(inputs), f"N {inputs.peak_torque_rpm:g} rpm (peak torque)"),
        lift=None,
        source="magazine technical article; 245 ft/s (74.7 m/s) over one stroke",
        mark="S2",
    )


def _fast_bore(inputs: TargetInputs) -> Target:
    return Target(
        rule="mean-gas-speed",
        kind="bore",
        value=1000.0 * book.bore_for_speed(inputs.swept_volume, inputs.peak_power_rpm, FAST_GAS),
        unit="mm",
        datum="primary ID",
        formula="ID = sqrt(4 V N / (30 pi v))",
        inputs=(
            facts.volume(inputs),
            f"N {inputs.peak_power_rpm:g} rpm (peak power)",
            f"v {FAST_GAS:g} m/s",
        ),
        lift=None,
        source="continuity; the speed is common practice",
        mark="P",
        note="least bore: a mean speed above this chokes the top end",
    )


def _collector(inputs: TargetInputs) -> Target:
    low, high = COLLECTOR_RATIO
    bore = 1000.0 * inputs.bore
    return Target(
        rule="collector-ratio",
        kind="collector",
        value=0.5 * (low + high) * bore,
        unit="mm",
        datum="collector outlet ID",
        formula=f"{low:g} to {high:g} times the primary ID",
        inputs=(f"primary ID {bore:g} mm",),
        lift=None,
        source="common practice for a 4-1",
        mark="P",
        note=f"from {low * bore:.1f} to {high * bore:.1f} mm",
    )


def _throat(inputs: TargetInputs) -> Target:
    low, high = THROAT_RATIO
    bore = 1000.0 * inputs.bore
    return Target(
        rule="throat-ratio",
        kind="collector",
        value=0.5 * (low + high) * bore,
        unit="mm",
        datum="merge throat ID",
        formula=f"{low:g} to {high:g} times the primary ID, then a diffuser",
        inputs=(f"primary ID {bore:g} mm",),
        lift=None,
        source="common practice for a merge with a throat",
        mark="P",
        note=f"from {low * bore:.1f} to {high * bore:.1f} mm",
    )


def _tail(inputs: TargetInputs) -> Target:
    length = facts.book_reach(inputs)
    return Target(
        rule="book-tail",
        kind="collector",
        value=1000.0 * book.tail_bore(inputs.swept_volume, length),
        unit="mm",
        datum="tail pipe ID",
        formula="ID = 2 sqrt(2 cc / (25 (P + 3))), in inches",
        inputs=(facts.volume(inputs), f"P {1000.0 * length:.1f} mm"),
        lift=facts.BOOK_LIFT_MM,
        source=facts.BOOK,
        mark="M",
    )
