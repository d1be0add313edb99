"""From the engine's numbers to the length of each runner."""

from __future__ import annotations

import math

from geomgen.design.model import Tuning
from geomgen.errors import Problem, SpecError
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


def target_inputs(spec: HeaderSpec, outlet_bore: float) -> TargetInputs | None:
    """The numbers that the tuning rules need, in SI; None when the spec lacks some."""
    engine = spec.engine
    if engine.cam is None or engine.peak_power_rpm is None or engine.peak_torque_rpm is None:
        return None
    cam = engine.cam
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
        merging=engine.cylinders,
        collector_bore=outlet_bore * 1e-3,
        rule=spec.runners.tuned_by,
    )


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


def _no_length(why: str) -> Problem:
    return Problem(
        ("runners", "length"),
        "'tuned'",
        "a rule that gives a length for these numbers",
        f"{why}: write a length, or another tuned_by",
    )
