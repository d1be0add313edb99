"""From the engine's numbers to the length of each runner."""

from __future__ import annotations

import math

from geomgen.design.model import Tuning
from geomgen.errors import Problem, SpecError
from geomgen.registry import home
from geomgen.spec.header import HeaderSpec
from geomgen.targets.model import TargetInputs

ABSOLUTE_ZERO = -273.15
UNDECIDED = 1000.0
"""Stands for the common length while the shortest is not found yet; it has no meaning [mm]."""


def tuning(spec: HeaderSpec, outlet_bore: float) -> tuple[Tuning, tuple[float, ...]]:
    """Where the lengths come from, and each cylinder's length from z = 0 [mm].

    Args:
        spec: what was said.
        outlet_bore: of the collector [mm].

    Raises:
        SpecError: tuning is asked for and a number for it is missing.
    """
    from geomgen.targets.gas import burnt_petrol, speed_of_sound
    from geomgen.targets.rules import tuned_length

    engine, runners = spec.engine, spec.runners
    inputs = target_inputs(spec, outlet_bore)
    kelvin = engine.gas_temperature - ABSOLUTE_ZERO
    sound = speed_of_sound(burnt_petrol(), kelvin)
    rule = "spec"
    if runners.length == "tuned":
        if inputs is None:
            raise SpecError((_missing(spec),))
        try:
            length, rule = tuned_length(inputs)
        except ValueError as error:
            raise SpecError((_no_length(str(error)),)) from None
        family = home(spec.collector)
        if hasattr(family, "first_length"):
            if rule != "book":
                raise SpecError((_book_only(runners.tuned_by, family.KIND),))
            length = family.first_length()
        lengths = (length,) * engine.cylinders
    elif isinstance(runners.length, str):
        rule, lengths = runners.length, (UNDECIDED,) * engine.cylinders
    else:
        said = runners.length
        lengths = said if isinstance(said, tuple) else (float(said),) * engine.cylinders
        if runners.length_from == "valve":
            lengths = tuple(length - engine.valve_to_face for length in lengths)
    rpm = engine.peak_power_rpm if engine.use == "race" else engine.peak_torque_rpm
    return (
        Tuning(rule, rpm, sound, inputs, runners.length_to, engine.valve_to_face),
        lengths,
    )


def book_length(spec: HeaderSpec) -> float | None:
    """What the book gives for a 4-1 primary from z = 0 [mm]; None when a number is missing."""
    from geomgen.targets.book import primary_length

    engine = spec.engine
    rpm = engine.peak_power_rpm if engine.use == "race" else engine.peak_torque_rpm
    if engine.cam is None or rpm is None:
        return None
    return 1000.0 * primary_length(math.radians(engine.cam.exhaust_opens), rpm)


def target_inputs(spec: HeaderSpec, outlet_bore: float) -> TargetInputs | None:
    """The numbers that the tuning rules need, in SI; None when the spec lacks some."""
    engine = spec.engine
    if engine.cam is None or engine.peak_power_rpm is None or engine.peak_torque_rpm is None:
        return None
    cam = engine.cam
    merging, behind = _first_join(spec, outlet_bore)
    return TargetInputs(
        swept_volume=engine.swept_volume * 1e-6,
        cam_lift=cam.lift * 1e-3,
        exhaust_opens=math.radians(cam.exhaust_opens),
        exhaust_closes=math.radians(cam.exhaust_closes),
        intake_opens=math.radians(cam.intake_opens),
        intake_closes=math.radians(cam.intake_closes),
        peak_torque_rpm=engine.peak_torque_rpm,
        peak_power_rpm=engine.peak_power_rpm,
        use=engine.use,
        gas_temperature=engine.gas_temperature - ABSOLUTE_ZERO,
        valve_to_face=engine.valve_to_face * 1e-3,
        bore=spec.runners.tube.bore * 1e-3,
        merging=merging,
        collector_bore=behind * 1e-3,
        rule=spec.runners.tuned_by,
    )


def _first_join(spec: HeaderSpec, outlet_bore: float) -> tuple[int, float]:
    """How many tubes meet at the first join, and the bore behind it [mm]."""
    family = home(spec.collector)
    if hasattr(family, "first_join"):
        met: tuple[int, float] = family.first_join(spec.collector)
        return met
    named = [len(head.cylinders or ()) for head in spec.heads]
    return (sum(named) if all(named) else spec.engine.cylinders), outlet_bore


def _missing(spec: HeaderSpec) -> Problem:
    wanted = [
        key
        for key in ("cam", "peak_power_rpm", "peak_torque_rpm")
        if getattr(spec.engine, key) is None
    ]
    return Problem(
        ("runners", "length"),
        f"'tuned', but engine has no {' and no '.join(wanted)}",
        "tuned when the engine's cam and both speeds are given, or a length",
        "give them, or write a length",
    )


def _book_only(rule: str, family: str) -> Problem:
    return Problem(
        ("runners", "tuned_by"),
        f"{rule}, for a {family}",
        "book: it alone parts a length between primaries and secondaries",
        "write tuned_by: book, or a length for each",
    )


def _no_length(why: str) -> Problem:
    return Problem(
        ("runners", "length"),
        "'tuned'",
        "a rule that gives a length for these numbers",
        f"{why}: write a length, or another tuned_by",
    )
