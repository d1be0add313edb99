"""What every report and sheet must say, whatever the numbers say."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One caution: what it is about, and the sentence that is printed."""

    topic: str
    text: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "geometry",
        "Geometry and estimates only: no strength, life or performance is warranted. Verify by "
        "mock-up before cutting final material; the builder answers for fit, welding and use.",
    ),
    Caution(
        "fume",
        "Welding and plasma cutting stainless or nickel alloys gives hexavalent chromium: "
        "extraction and breathing protection, for bystanders too.",
    ),
    Caution(
        "argon",
        "Argon displaces air: ventilate when purging, never in a pit or a closed space alone.",
    ),
    Caution(
        "zinc",
        "No zinc or cadmium plating in or near the weld; the fume is poisonous.",
    ),
    Caution(
        "cleaners",
        "No chlorinated cleaner on anything that will be welded: it turns into phosgene.",
    ),
    Caution(
        "grinding",
        "Thoriated electrode dust is radioactive: use lanthanated ones, or grind with extraction. "
        "Eyes, ears and skin want covering as for any hot work.",
    ),
    Caution(
        "leak test",
        "Leak test with low-pressure regulated air, plugs restrained, stand clear; never oxygen.",
    ),
    Caution(
        "carbon monoxide",
        "A leak ahead of the cabin can kill: check joints again after heat cycles.",
    ),
    Caution(
        "fire",
        "Keep fuel, brake, power-steering and oil lines at least 50 to 75 mm away or shielded; "
        "oil-soaked wrap burns, and coatings smoke on the first run.",
    ),
    Caution(
        "steering and brakes",
        "Steering and brakes come before the exhaust: check full lock, full bump and engine roll.",
    ),
    Caution(
        "law",
        "Road legality, noise and emissions equipment are a matter of local law; removing or "
        "moving a catalyst or its sensors on a road vehicle may be illegal.",
    ),
    Caution(
        "codes",
        "Defer to local codes and qualified people. Not for aircraft, marine wet exhaust or "
        "pressure equipment.",
    ),
)
"""Printed on every report, in this order. Hexavalent chromium: OSHA 29 CFR 1910.1026."""
