"""The table of rules: rows, the tuned length, and what happens when conventions differ."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.targets import gas, wave
from geomgen.targets.model import MARKS, TargetInputs
from geomgen.targets.rules import LENGTH_RULES, targets, tuned_length

rad = math.radians
SPRINT = TargetInputs(
    swept_volume=math.pi / 4.0 * 0.086**3,
    cam_lift=0.00127,
    exhaust_opens=rad(62.0),
    exhaust_closes=rad(22.0),
    intake_opens=rad(24.0),
    intake_closes=rad(58.0),
    peak_torque_rpm=5600.0,
    peak_power_rpm=7000.0,
    use="race",
    gas_temperature=1000.15,
    valve_to_face=0.085,
    bore=0.042,
    merging=4,
    collector_bore=0.0605,
)


def by_rule(inputs: TargetInputs, length: float | None = None) -> dict[str, float]:
    return {row.rule: row.value for row in targets(inputs, length)}


def test_tuned_length_of_the_demo() -> None:
    """850 x 242 / 7000 - 3 = 26.3857 in, by hand."""
    assert tuned_length(SPRINT) == (pytest.approx(26.385714 * 25.4, abs=1e-4), "book")


def test_race_and_road() -> None:
    """Common practice, no source: race tunes for peak power, road for peak torque."""
    road = replace(SPRINT, use="road")
    assert road.rpm == 5600.0
    assert tuned_length(road)[0] == pytest.approx((850.0 * 242.0 / 5600.0 - 3.0) * 25.4, abs=1e-6)


def test_rows_are_whole() -> None:
    rows = targets(SPRINT)
    assert len({row.rule for row in rows}) == len(rows)
    assert {row.kind for row in rows} == {"length", "bore", "collector", "speed", "gas"}
    for row in rows:
        assert row.mark in MARKS
        assert row.formula
        assert row.source
        assert row.datum
        assert row.inputs
        assert math.isfinite(row.value)
        assert row.warning == ""


def test_the_named_rule_is_followed() -> None:
    rows = by_rule(SPRINT)
    for rule in LENGTH_RULES:
        assert tuned_length(replace(SPRINT, rule=rule)) == (rows[rule], rule)
    with pytest.raises(ValueError, match="no length rule"):
        tuned_length(replace(SPRINT, rule="guess"))


def test_no_length_is_said_plainly() -> None:
    with pytest.raises(ValueError, match="no length"):
        tuned_length(replace(SPRINT, peak_power_rpm=90_000.0))


@given(st.floats(rad(45.0), rad(85.0)), st.floats(rad(5.0), rad(40.0)), st.floats(4000.0, 9000.0))
def test_book_rule_is_a_reflection_at_half_of_ed(opens: float, edge: float, rpm: float) -> None:
    """850 in by degrees is L = a (ED / 2) / (12 N) with a = 518.2 m/s: near 704 K gas.

    With EVC equal to IVO the acoustic row for the pulse's body is the same reading; what
    is left between the two is the gas, the port (3 in) and the end correction.
    """
    kelvin = 704.0
    assert gas.speed_of_sound(gas.BURNT_PETROL, kelvin) == pytest.approx(518.2, rel=2e-3)
    inputs = replace(
        SPRINT,
        exhaust_opens=opens,
        exhaust_closes=edge,
        intake_opens=edge,
        peak_power_rpm=rpm,
        gas_temperature=kelvin,
        valve_to_face=3.0 * 0.0254,
    )
    rows = by_rule(inputs, 0.7)
    ends = 1000.0 * wave.end_correction(0.021)
    assert rows["acoustic-body"] + ends + 76.2 == pytest.approx(rows["book"] + 76.2, rel=2e-3)


@given(st.floats(700.0, 1200.0), st.floats(5000.0, 9000.0))
def test_the_acoustic_length_comes_back_at_overlap_centre(kelvin: float, rpm: float) -> None:
    inputs = replace(SPRINT, gas_temperature=kelvin, peak_power_rpm=rpm)
    length = by_rule(inputs)["acoustic-body"] / 1000.0
    rows = by_rule(inputs, length)
    assert rows["arrival"] == pytest.approx(0.5 * (22.0 - 24.0), abs=1e-9)
    assert rows["overlap-band-low"] < rpm < rows["overlap-band-high"]


def test_band_has_the_width_that_the_trade_expects() -> None:
    """Common practice, no source: one length works over some 1000 to 2500 rpm; order only."""
    rows = by_rule(SPRINT, by_rule(SPRINT)["acoustic-body"] / 1000.0)
    width = rows["overlap-band-high"] - rows["overlap-band-low"]
    assert 700.0 < width < 4000.0


def test_no_overlap_gives_no_band() -> None:
    rows = by_rule(replace(SPRINT, intake_opens=rad(-30.0)))
    assert "overlap-band-low" not in rows


def test_a_lift_mismatch_warns_and_converts_nothing() -> None:
    other = replace(SPRINT, cam_lift=0.0001)
    assert by_rule(other) == by_rule(SPRINT)
    for row in targets(other):
        assert bool(row.warning) == (row.lift is not None)
        if row.warning:
            assert "0.1 mm" in row.warning
            assert "1.27 mm" in row.warning


def test_longer_primary_moves_the_band_down() -> None:
    short, long = by_rule(SPRINT, 0.6), by_rule(SPRINT, 0.8)
    assert long["overlap-band-high"] < short["overlap-band-high"]
    assert long["arrival"] > short["arrival"]
