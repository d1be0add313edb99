"""Gas properties against CoolProp's equations of state and rows of a kinetics code."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.targets.gas import (
    AIR,
    BURNT_PETROL,
    COLDEST,
    HOTTEST,
    Gas,
    burnt_petrol,
    heat_capacity,
    heat_ratio,
    speed_of_sound,
)

COOLPROP = {"CO2": "CO2", "H2O": "Water", "N2": "Nitrogen", "O2": "Oxygen", "Ar": "Argon"}
temperatures = st.floats(min_value=600.0, max_value=1200.0)


def coolprop(*asked: str | float) -> float:
    """A property; the library takes seconds to load, so only who asks for one loads it."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI(*asked)


def molar_heat_from_coolprop(gas: Gas, kelvin: float) -> float:
    """Ideal-gas molar cp of the mixture, each species from CoolProp at low pressure."""
    return sum(
        share * coolprop("CP0MOLAR", "T", kelvin, "P", 1000.0, COOLPROP[species])
        for species, share in gas.fractions
    )


@pytest.mark.parametrize("species", sorted(COOLPROP))
@pytest.mark.parametrize("kelvin", [300.0, 500.0, 700.0, 900.0, 999.0, 1001.0, 1200.0, 1400.0])
def test_each_species_against_coolprop(species: str, kelvin: float) -> None:
    """0.4 % on one species at its worst temperature; the mixture is held tighter below."""
    one = Gas(species, ((species, 1.0),))
    ours = heat_capacity(one, kelvin) * one.molar_mass
    assert ours == pytest.approx(molar_heat_from_coolprop(one, kelvin), rel=4e-3)
    assert one.molar_mass == pytest.approx(
        coolprop("M", "T", 400.0, "P", 1000.0, COOLPROP[species]), rel=1e-5
    )


@given(temperatures)
def test_burnt_petrol_speed_of_sound_against_coolprop(kelvin: float) -> None:
    """Speed from CoolProp's own species heats: 0.2 %."""
    molar = molar_heat_from_coolprop(BURNT_PETROL, kelvin)
    r = 8.314462618
    expected = math.sqrt(molar / (molar - r) * r / BURNT_PETROL.molar_mass * kelvin)
    assert speed_of_sound(BURNT_PETROL, kelvin) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("kelvin", [300.0, 600.0, 900.0, 1000.0, 1200.0])
def test_air_speed_of_sound_against_coolprop(kelvin: float) -> None:
    """Air as one fluid with its own equation of state at one atmosphere: 0.2 %."""
    expected = coolprop("A", "T", kelvin, "P", 101325.0, "Air")
    assert speed_of_sound(AIR, kelvin) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("kelvin", "sound", "ratio", "heat"),
    [
        (600.0, 479.88, 1.33431, 1148.04),
        (900.0, 580.41, 1.30128, 1242.39),
        (1000.0, 609.78, 1.29267, 1270.48),
        (1100.0, 637.86, 1.28587, 1293.85),
        (1200.0, 664.68, 1.27995, 1315.12),
    ],
)
def test_burnt_petrol_rows(kelvin: float, sound: float, ratio: float, heat: float) -> None:
    """Rows computed with Cantera 3.2.0, gri30, CO2 .1341 H2O .1254 N2 .7405: 0.2 %, cp 0.5 %."""
    assert speed_of_sound(BURNT_PETROL, kelvin) == pytest.approx(sound, rel=2e-3)
    assert heat_ratio(BURNT_PETROL, kelvin) == pytest.approx(ratio, rel=2e-3)
    assert heat_capacity(BURNT_PETROL, kelvin) == pytest.approx(heat, rel=5e-3)


@pytest.mark.parametrize(
    ("kelvin", "sound", "heat"),
    [(600.0, 483.12, 1103.23), (1000.0, 614.10, 1211.64), (1200.0, 669.53, 1249.81)],
)
def test_lean_products_rows(kelvin: float, sound: float, heat: float) -> None:
    """CH1.80 at lambda 2, Cantera 3.2.0, gri30."""
    lean = burnt_petrol(1.80, 2.0)
    assert dict(lean.fractions) == pytest.approx(
        {"CO2": 0.0701, "H2O": 0.0631, "N2": 0.7651, "O2": 0.1017}, abs=5e-5
    )
    assert speed_of_sound(lean, kelvin) == pytest.approx(sound, rel=2e-3)
    assert heat_capacity(lean, kelvin) == pytest.approx(heat, rel=5e-3)


@given(st.floats(0.0, 4.0), st.floats(1.0, 5.0))
def test_fractions_sum_to_one_and_atoms_balance(ratio: float, excess: float) -> None:
    shares = dict(burnt_petrol(ratio, excess).fractions)
    assert math.fsum(shares.values()) == pytest.approx(1.0, abs=1e-12)
    assert 2.0 * shares["H2O"] == pytest.approx(ratio * shares["CO2"], abs=1e-12)
    oxygen = 2 * shares["CO2"] + shares["H2O"] + 2 * shares["O2"]
    assert oxygen == pytest.approx(2.0 * shares["N2"] * 21.0 / 79.0, rel=1e-9)


@given(temperatures, st.floats(1.0, 100.0))
def test_speed_follows_temperature(kelvin: float, more: float) -> None:
    assert speed_of_sound(BURNT_PETROL, kelvin + more) > speed_of_sound(BURNT_PETROL, kelvin)


def test_fixed_ratio_of_heats_is_too_fast() -> None:
    """Air with gamma 1.40 throughout is 2.3 % too fast at 1000 K (CoolProp)."""
    frozen = math.sqrt(1.40 * AIR.specific_constant * 1000.0)
    assert frozen / speed_of_sound(AIR, 1000.0) == pytest.approx(1.023, abs=1.5e-3)


@pytest.mark.parametrize("kelvin", [COLDEST - 1.0, HOTTEST + 1.0, math.nan])
def test_out_of_range_is_refused(kelvin: float) -> None:
    with pytest.raises(ValueError, match="gas data hold"):
        speed_of_sound(AIR, kelvin)


def test_rich_mixture_is_refused() -> None:
    with pytest.raises(ValueError, match="complete combustion"):
        burnt_petrol(1.87, 0.9)
