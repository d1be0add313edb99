"""Burnt petrol gas and air as ideal gases whose heat capacity follows temperature.

A fixed ratio of specific heats of 1.40 makes air 2.3 % too fast at 1000 K; burnt gas is
slower again. Composition is frozen: no dissociation, which matters above about 1800 K.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

GAS_CONSTANT = 8.314462618
"""Molar gas constant, exact in the SI of 2019 [J/mol/K]."""

COLDEST = 250.0
HOTTEST = 2000.0
"""Temperatures between which the polynomials are used here [K]."""

_MIDDLE = 1000.0
_Polynomial = tuple[float, float, float, float, float]

# NASA seven-coefficient fits, cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4, below and above
# 1000 K, as in the GRI-Mech 3.0 thermodynamic table. Written down from memory; the tests
# hold each species against the reference equations of state in CoolProp.
_SPECIES: dict[str, tuple[float, _Polynomial, _Polynomial]] = {
    "CO2": (
        44.0095e-3,
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13),
        (3.85746029, 4.41437026e-3, -2.21481404e-6, 5.23490188e-10, -4.72084164e-14),
    ),
    "H2O": (
        18.01528e-3,
        (4.19864056, -2.03643410e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12),
        (3.03399249, 2.17691804e-3, -1.64072518e-7, -9.70419870e-11, 1.68200992e-14),
    ),
    "N2": (
        28.0134e-3,
        (3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12),
        (2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15),
    ),
    "O2": (
        31.9988e-3,
        (3.78245636, -2.99673416e-3, 9.84730201e-6, -9.68129509e-9, 3.24372837e-12),
        (3.28253784, 1.48308754e-3, -7.57966669e-7, 2.09470555e-10, -2.16717794e-14),
    ),
    "Ar": (39.948e-3, (2.5, 0.0, 0.0, 0.0, 0.0), (2.5, 0.0, 0.0, 0.0, 0.0)),
}


@dataclass(frozen=True)
class Gas:
    """A mixture: name and mole fractions by species, which sum to 1 [-]."""

    name: str
    fractions: tuple[tuple[str, float], ...]

    @property
    def molar_mass(self) -> float:
        """Mean molar mass [kg/mol]."""
        return math.fsum(share * _SPECIES[species][0] for species, share in self.fractions)

    @property
    def specific_constant(self) -> float:
        """Specific gas constant [J/kg/K]."""
        return GAS_CONSTANT / self.molar_mass


AIR = Gas("dry air", (("N2", 0.7809), ("O2", 0.2095), ("Ar", 0.0096)))
"""Dry air as N2, O2 and Ar, the rest rounded into argon."""


def burnt_petrol(hydrogen_per_carbon: float = 1.87, excess_air: float = 1.0) -> Gas:
    """Products of complete combustion of a petrol CHy in dry air.

    ``CHy + z (1 + y/4) (O2 + 79/21 N2) -> CO2 + y/2 H2O + ...``; nothing dissociates.

    Args:
        hydrogen_per_carbon: y, about 1.87 for petrol [-].
        excess_air: z, air over stoichiometric air; 1 or more [-].

    Source: reaction balance.

    >>> [(s, round(x, 4)) for s, x in burnt_petrol().fractions]
    [('CO2', 0.1341), ('H2O', 0.1254), ('N2', 0.7405), ('O2', 0.0)]
    """
    if not (excess_air >= 1.0 and hydrogen_per_carbon >= 0.0):
        raise ValueError("complete combustion needs air in excess of 1 and y of 0 or more")
    oxygen = 1.0 + hydrogen_per_carbon / 4.0
    moles = (
        ("CO2", 1.0),
        ("H2O", hydrogen_per_carbon / 2.0),
        ("N2", excess_air * oxygen * 79.0 / 21.0),
        ("O2", (excess_air - 1.0) * oxygen),
    )
    total = math.fsum(amount for _, amount in moles)
    return Gas("burnt petrol", tuple((species, amount / total) for species, amount in moles))


BURNT_PETROL = burnt_petrol()
"""Stoichiometric products of petrol CH1.87."""


def heat_capacity(gas: Gas, temperature: float) -> float:
    """Specific heat at constant pressure [J/kg/K].

    Args:
        gas: the mixture.
        temperature: of the gas, ``COLDEST`` to ``HOTTEST`` [K].

    Source: NASA polynomials (see ``_SPECIES``); 0.25 % against CoolProp per species to
    1200 K, 0.2 % for the mixture.

    >>> round(heat_capacity(BURNT_PETROL, 900.0))
    1242
    """
    return _molar_heat(gas, temperature) / gas.molar_mass


def heat_ratio(gas: Gas, temperature: float) -> float:
    """Ratio of specific heats, ``cp / (cp - R)`` [-].

    >>> round(heat_ratio(BURNT_PETROL, 1000.0), 3)
    1.293
    """
    molar = _molar_heat(gas, temperature)
    return molar / (molar - GAS_CONSTANT)


def speed_of_sound(gas: Gas, temperature: float) -> float:
    """Speed of sound of an ideal gas, ``sqrt(gamma R T)`` [m/s].

    Args:
        gas: the mixture.
        temperature: of the gas, ``COLDEST`` to ``HOTTEST`` [K].

    Source: textbook gas dynamics.

    >>> round(speed_of_sound(BURNT_PETROL, 1000.0), 1)
    609.8
    """
    return math.sqrt(heat_ratio(gas, temperature) * gas.specific_constant * temperature)


def _molar_heat(gas: Gas, temperature: float) -> float:
    if not COLDEST <= temperature <= HOTTEST:
        raise ValueError(f"gas data hold from {COLDEST:g} to {HOTTEST:g} K, not {temperature:g} K")
    total = 0.0
    for species, share in gas.fractions:
        _, cold, hot = _SPECIES[species]
        a = cold if temperature <= _MIDDLE else hot
        total += share * math.fsum(c * temperature**power for power, c in enumerate(a))
    return GAS_CONSTANT * total
