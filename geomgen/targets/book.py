"""The rules of thumb in circulation for primary length, bore and collector size.

They work in inches, degrees and cc of one cylinder inside; SI at the door. They are
estimates: the builder's own number always wins.
"""

from __future__ import annotations

import math

INCH = 0.0254
"""One inch [m], exact."""

PORT = 3.0 * INCH
"""Port length that the book's length rule takes for granted [m]."""

FIRST_PRIMARY = 15.0 * INCH
"""Primary of a 4-2-1 by the book, whatever the engine [m]. Several public texts."""

BOOK_LIFT = 0.050 * INCH
"""Lift at which cam events enter these rules [m]. Common practice, no source."""

VELOCITY_CONSTANT = 88_200.0
"""Of the velocity rule, in rpm and inches."""


def exhaust_angle(exhaust_opens: float) -> float:
    """ED, exhaust opening to top dead centre: ``180 + EVO`` [rad].

    Args:
        exhaust_opens: before bottom dead centre [rad].
    """
    return math.pi + exhaust_opens


def primary_length(exhaust_opens: float, rpm: float) -> float:
    """Primary from the port face by the classic rule, ``P = 850 ED / N - 3`` in [m].

    The 3 in stand for the port; ``P + 3`` counts from the valve. Read as physics it is a
    reflection that comes back about half of ED after opening, at 518 m/s.

    Args:
        exhaust_opens: before bottom dead centre [rad].
        rpm: engine speed to tune for [rpm].

    Valid: four-stroke, 4-1 primaries or the total of a 4-2-1.
    Source: *Four-Stroke Performance Tuning* (1981), as quoted in several public texts;
    the book itself was not opened.

    >>> round(1000.0 * primary_length(math.radians(70.0), 6500.0), 2)
    754.18
    """
    degrees = math.degrees(exhaust_angle(exhaust_opens))
    return 850.0 * degrees / rpm * INCH - PORT


def primary_bore(volume: float, length: float) -> float:
    """Primary bore by the same book, ``ID = 2.1 sqrt(cc / (25 (P + 3)))`` in [m].

    Args:
        volume: swept by one cylinder [m3].
        length: P, primary from the port face [m].

    Source: the same book, from memory.

    >>> round(1000.0 * primary_bore(500e-6, 0.754185), 2)
    41.72
    """
    return 2.1 * math.sqrt(_cc_an_inch(volume, length)) * INCH


def secondary_bore(bore: float) -> float:
    """Secondary of a 4-2-1 by the same book, ``0.93 sqrt(2 ID^2)`` [m].

    >>> round(1000.0 * secondary_bore(0.04172), 2)
    54.87
    """
    return 0.93 * math.sqrt(2.0) * bore


def secondary_length(primary: float) -> float:
    """Secondary of a 4-2-1 by the same book, ``P2 = P - P1`` with P1 = 15 in [m].

    Args:
        primary: P, what the rule gives for a 4-1 [m].

    Source: P1 of several public texts; the difference from memory.

    >>> round(1000.0 * secondary_length(0.754185), 2)
    373.19
    """
    return primary - FIRST_PRIMARY


def tail_bore(volume: float, length: float) -> float:
    """Tail pipe after the collector, ``ID = 2 sqrt(2 cc / (25 (P + 3)))`` in [m].

    Args:
        volume: swept by one cylinder [m3].
        length: P, primary from the port face [m].

    Source: the same book, from memory.

    >>> round(1000.0 * tail_bore(500e-6, 0.754185), 2)
    56.19
    """
    return 2.0 * math.sqrt(2.0 * _cc_an_inch(volume, length)) * INCH


def velocity_area(volume: float, rpm: float) -> float:
    """Primary area by the velocity rule, ``A = N V / 88 200`` in2 [m2].

    Args:
        volume: swept by one cylinder [m3].
        rpm: of peak torque [rpm].

    Source: magazine technical article, second hand, which speaks of 240 to 260 ft/s;
    the constant is exactly 245 ft/s over one stroke.

    >>> round(1e6 * velocity_area(500e-6, 5500.0))
    1228
    """
    return rpm * (volume / INCH**3) / VELOCITY_CONSTANT * INCH**2


def bore_for_speed(volume: float, rpm: float, speed: float) -> float:
    """Bore in which the piston drives gas at a mean ``speed``, ``A v = V N / 30`` [m].

    Args:
        volume: swept by one cylinder [m3].
        rpm: engine speed [rpm].
        speed: mean over one stroke, gas taken as incompressible [m/s].

    Source: continuity.

    >>> round(1000.0 * bore_for_speed(500e-6, 6500.0, 75.0), 3)
    42.885
    """
    return math.sqrt(4.0 * volume * rpm / (30.0 * math.pi * speed))


def mean_speed(volume: float, rpm: float, bore: float) -> float:
    """Mean gas speed that the piston drives in a ``bore``, ``v = V N / (30 A)`` [m/s].

    >>> round(mean_speed(500e-6, 6500.0, 0.042885), 2)
    75.0
    """
    return 4.0 * volume * rpm / (30.0 * math.pi * bore**2)


def _cc_an_inch(volume: float, length: float) -> float:
    if not length + PORT > 0.0:
        raise ValueError("the rule needs a length of more than minus 3 inches")
    return volume * 1e6 / (25.0 * (length / INCH + 3.0))
