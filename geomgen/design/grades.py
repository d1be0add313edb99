"""Densities of the grades that manifolds are made of.

EN 10088-1 for stainless steels and public data sheets for the rest, as quoted in public
tables; cast irons and aluminium from memory. Two per cent is what tables differ by.
"""

from __future__ import annotations

_DENSITY: tuple[tuple[float, tuple[str, ...]], ...] = (
    (7900.0, ("304", "304l", "1.4301", "1.4307")),
    (7920.0, ("321", "1.4541")),
    (8000.0, ("316", "316l", "1.4401", "1.4404")),
    (7720.0, ("409", "1.4512")),
    (7870.0, ("mild", "mild steel", "1010", "1018", "s235", "s235jr", "s275", "s355")),
    (8440.0, ("625", "2.4856")),
    (4510.0, ("gr 2 ti", "ti gr 2", "ti grade 2", "3.7035")),
    (7100.0, ("iron", "en-gjs-400-15", "en-gjs-400-18", "en-gjs-500-7", "5.3106", "5.3105")),
    (7000.0, ("simo", "en-gjs-simo40-6", "en-gjs-simo50-6", "simo 4-0.5", "simo 5-1")),
)


def density(grade: str) -> float | None:
    """Density of a grade [kg/m3]; None for one that the table does not know."""
    wanted = grade.lower()
    return next((value for value, names in _DENSITY if wanted in names), None)
