"""Linear acoustics of a primary: round trips, reflection where areas change, overlap.

Plane waves of small amplitude in still gas of one temperature. Real blow-down pulses are
strong and the gas moves and cools; these are estimates of place and sign, not of power.
"""

from __future__ import annotations

import math

OPEN_END = 0.6133
"""End correction of an unflanged thin pipe over its radius [-]."""


def seconds(angle: float, rpm: float) -> float:
    """Time that the crank takes for ``angle`` [rad] at ``rpm`` [s].

    >>> round(1e6 * seconds(math.radians(1.0), 6500.0), 3)
    25.641
    """
    return angle / (2.0 * math.pi * rpm / 60.0)


def crank_angle(time: float, rpm: float) -> float:
    """Crank angle turned in ``time`` [s] at ``rpm`` [rad]."""
    return time * 2.0 * math.pi * rpm / 60.0


def round_trip_length(angle: float, rpm: float, sound: float) -> float:
    """Length whose there-and-back takes ``angle`` of the crank, ``L = a t / 2`` [m].

    Args:
        angle: crank angle from the wave's leaving to its wanted return [rad].
        rpm: engine speed [rpm].
        sound: speed of sound [m/s].

    Source: kinematics; in degrees this is ``L = a theta / (12 N)``.

    >>> round(round_trip_length(math.radians(120.0), 7000.0, 580.41), 6)
    0.829157
    """
    return 0.5 * sound * seconds(angle, rpm)


def round_trip_angle(length: float, rpm: float, sound: float) -> float:
    """Crank angle that a wave takes along ``length`` [m] and back [rad]."""
    return crank_angle(2.0 * length / sound, rpm)


def end_correction(radius: float) -> float:
    """What an open end adds to a pipe's acoustic length, ``0.6133 r`` [m].

    Args:
        radius: of the bore [m].

    Source: Levine and Schwinger, Phys. Rev. 73 (1948), from memory; their integral
    evaluated anew gives 0.6127. Valid for wavelengths far above the bore.

    >>> round(1000.0 * end_correction(0.0209), 2)
    12.82
    """
    return OPEN_END * radius


def reflection(area: float, onward: float) -> float:
    """Pressure reflection where a pipe of ``area`` meets ``onward`` area, [-].

    ``R = (S1 - S2) / (S1 + S2)``: 0 for no change, towards -1 into open space (a pressure
    pulse comes back as a rarefaction), +1 at a closed end.

    Args:
        area: bore area of the pipe that the wave comes along [m2].
        onward: sum of the areas that it finds [m2].

    Source: plane-wave area change, any acoustics textbook (from memory). Mean flow and
    temperature step left out.

    >>> round(reflection(40.0**2, 50.0**2), 6)
    -0.219512
    """
    return (area - onward) / (area + onward)


def merge_onward(pipes: int, area: float, collector: float) -> float:
    """Area that a wave from one of ``pipes`` finds at the merge, ``(N-1) S1 + Sc`` [m2].

    >>> round(reflection(42.0**2, merge_onward(4, 42.0**2, 60.0**2)), 6)
    -0.668919
    """
    return (pipes - 1) * area + collector


def overlap(intake_opens: float, exhaust_closes: float) -> float:
    """Valve overlap: intake opening before TDC plus exhaust closing after it [rad]."""
    return intake_opens + exhaust_closes


def overlap_centre(exhaust_opens: float, exhaust_closes: float, intake_opens: float) -> float:
    """Crank angle from exhaust opening to the middle of the overlap [rad].

    ``EVO + 180 + (EVC - IVO) / 2`` in degrees.

    >>> f = math.radians
    >>> round(math.degrees(overlap_centre(f(62), f(22), f(24))), 6)
    241.0
    """
    return exhaust_opens + math.pi + 0.5 * (exhaust_closes - intake_opens)


def rpm_band(
    length: float, sound: float, opens: float, closes: float, departs: float
) -> tuple[float, float] | None:
    """Engine speeds at which a wave comes back while the overlap window is open [rpm].

    Args:
        length: acoustic length from the valve to the reflecting end [m].
        sound: speed of sound [m/s].
        opens: start of overlap, crank angle after exhaust opening [rad].
        closes: end of overlap, crank angle after exhaust opening [rad].
        departs: when the wave leaves the valve, after exhaust opening [rad].

    Returns:
        Lowest and highest speed; None when there is no overlap, or none after the
        wave has left.

    Source: kinematics.
    """
    first = max(opens, departs)
    if not closes > first:
        return None
    once = round_trip_angle(length, 1.0, sound)
    return ((first - departs) / once, (closes - departs) / once)


def arrival(length: float, rpm: float, sound: float, departs: float) -> float:
    """Crank angle after exhaust opening at which the reflection is back [rad].

    Args:
        length: acoustic length from the valve to the reflecting end [m].
        rpm: engine speed [rpm].
        sound: speed of sound [m/s].
        departs: when the wave leaves the valve, after exhaust opening [rad].
    """
    return departs + round_trip_angle(length, rpm, sound)


def length_as_angle(difference: float, rpm: float, sound: float) -> float:
    """Crank angle by which a difference in length delays a pulse's arrival [rad].

    One way: the shift of arrival at the collector. The reflection shifts by twice it.

    >>> round(math.degrees(length_as_angle(0.010, 7000.0, 586.0)), 1)
    0.7
    """
    return crank_angle(difference / sound, rpm)


def length_as_rpm(difference: float, length: float, rpm: float) -> float:
    """Shift of the tuned speed by a difference in length, ``N dL / L`` [rpm].

    Args:
        difference: in length [m].
        length: from the valve to the reflecting end [m].
        rpm: that the length is tuned for [rpm].

    Source: differential of the round trip, magnitude only.

    >>> round(length_as_rpm(0.010, 0.840, 6500.0))
    77
    """
    return rpm * difference / length
