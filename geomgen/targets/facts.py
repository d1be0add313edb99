"""What several rules need of the same inputs, and how they word it."""

from __future__ import annotations

import math

from geomgen.targets import book, gas, wave
from geomgen.targets.model import TargetInputs

BOOK = "Four-Stroke Performance Tuning (1981)"
BOOK_LIFT_MM = 1000.0 * book.BOOK_LIFT


def departs(inputs: TargetInputs, rule: str) -> float:
    """Crank angle after exhaust opening at which a rule lets the wave leave [rad]."""
    if rule == "acoustic-front":
        return 0.0
    return 0.5 * book.exhaust_angle(inputs.exhaust_opens)


def overlap_centre(inputs: TargetInputs) -> float:
    """Crank angle from exhaust opening to the middle of the overlap [rad]."""
    return wave.overlap_centre(inputs.exhaust_opens, inputs.exhaust_closes, inputs.intake_opens)


def beyond_the_runner(inputs: TargetInputs) -> float:
    """Acoustic length that is not runner: the port and the end correction [m]."""
    return inputs.valve_to_face + wave.end_correction(0.5 * inputs.bore)


def speed_of_sound(inputs: TargetInputs) -> float:
    """Speed of sound in the primaries [m/s]."""
    return gas.speed_of_sound(gas.BURNT_PETROL, inputs.gas_temperature)


def book_reach(inputs: TargetInputs) -> float:
    """The book rule's own primary length [m]."""
    return book.primary_length(inputs.exhaust_opens, inputs.rpm)


def degrees(name: str, angle: float) -> str:
    """An angle [rad] as text."""
    return f"{name} {math.degrees(angle):g} deg"


def rpm(inputs: TargetInputs) -> str:
    """The speed tuned for, as text."""
    return f"N {inputs.rpm:g} rpm (peak {'power' if inputs.use == 'race' else 'torque'})"


def volume(inputs: TargetInputs) -> str:
    """Volume of one cylinder, as text."""
    return f"V {1e6 * inputs.swept_volume:.1f} cc"
