"""What the tuning rules are told and what each of them answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["length", "bore", "collector", "speed", "gas"]
Mark = Literal["S2", "M", "P"]
"""How far a source is to be trusted.

S2: seen second hand, in text that quotes the source. M: from memory of the source.
P: common practice, no source.
"""

MARKS: dict[Mark, str] = {
    "S2": "second hand",
    "M": "from memory",
    "P": "common practice, no source",
}


@dataclass(frozen=True)
class TargetInputs:
    """Everything that the rules need, in SI; engine speeds in rpm.

    Attributes:
        swept_volume: of one cylinder [m3].
        cam_lift: lift at which the four events were read [m].
        exhaust_opens: before bottom dead centre [rad].
        exhaust_closes: after top dead centre [rad].
        intake_opens: before top dead centre [rad].
        intake_closes: after bottom dead centre [rad].
        peak_torque_rpm: wanted speed of peak torque [rpm].
        peak_power_rpm: wanted speed of peak power [rpm].
        use: ``race`` tunes for peak power, ``road`` for peak torque.
        gas_temperature: mean in the primaries [K].
        valve_to_face: length of the port in the head [m].
        bore: inside diameter of the primaries [m].
        merging: number of primaries that meet at the first join.
        collector_bore: inside diameter of the collector's outlet [m].
        rule: name of the length rule that ``tuned`` follows; one of ``LENGTH_RULES``.
    """

    swept_volume: float
    cam_lift: float
    exhaust_opens: float
    exhaust_closes: float
    intake_opens: float
    intake_closes: float
    peak_torque_rpm: float
    peak_power_rpm: float
    use: Literal["race", "road"]
    gas_temperature: float
    valve_to_face: float
    bore: float
    merging: int
    collector_bore: float
    rule: str = "book"

    @property
    def rpm(self) -> float:
        """Speed that the use tunes for [rpm]."""
        return self.peak_power_rpm if self.use == "race" else self.peak_torque_rpm


@dataclass(frozen=True)
class Target:
    """The answer of one rule, ready to print beside the others.

    Attributes:
        rule: name, unique among the rows.
        kind: what is sized: ``length``, ``bore`` or ``collector``; ``speed`` and ``gas``
            say what the sizes do.
        value: in ``unit``.
        unit: ``mm``, ``rpm``, ``m/s``, ``deg`` or ``-``.
        datum: from where to where a length counts; what a diameter is measured over.
        formula: as text.
        inputs: the numbers that went in, as text.
        lift: lift that the rule's constants were made for [mm]; None when no cam event
            enters.
        source: where the rule comes from.
        mark: how far to trust the source.
        note: what else to know.
        warning: why this row does not fit the spec; empty when it does.
    """

    rule: str
    kind: Kind
    value: float
    unit: str
    datum: str
    formula: str
    inputs: tuple[str, ...]
    lift: float | None
    source: str
    mark: Mark
    note: str = ""
    warning: str = ""
