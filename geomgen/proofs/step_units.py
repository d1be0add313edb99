"""Every written STEP says that it is AP214 and in millimetres.

What: the schema in the header, and every length unit in the data, read as text.
Why: a file in the wrong unit is cut 25.4 or 1000 times wrong, or sent back.
Limit: no other unit anywhere.
Source: ISO 10303-21 clear text; schema string of ISO 10303-214 (AUTOMOTIVE_DESIGN,
``{ 1 0 10303 214 1 1 1 1 }``); SI_UNIT of ISO 10303-41.
"""

from __future__ import annotations

from collections.abc import Mapping

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.exports.step import assembly_path, gas_path, occurrences
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import Unreadable, text_of, unreadable

NAME = "step-units"

SCHEMA = "AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }"
MILLIMETRE = "SI_UNIT(.MILLI.,.METRE.)"


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """One finding for every STEP file that the design should have."""
    paths = (
        assembly_path(design),
        *sorted(occurrences(design)),
        *(gas_path(design, gas) for gas in design.gases),
    )
    return tuple(_prove(files, path) for path in paths)


def _prove(files: Mapping[str, bytes], path: str) -> Finding:
    if path not in files:
        return unreadable(NAME, path, Unreadable(f"{path} was not written"))
    try:
        exchange = text_of(files[path])
    except Unreadable as error:
        return unreadable(NAME, path, Unreadable(f"{path}: {error}"))
    texts = (text for body in exchange.entities.values() for text in body.texts)
    units = [text for text in texts if "LENGTH_UNIT()" in text]
    odd = [body for body in units if MILLIMETRE not in body or "CONVERSION_BASED" in body]
    if exchange.schema != SCHEMA:
        return finding(NAME, path, False, f"the schema is {exchange.schema!r}, not AP214")
    if odd or not units:
        return finding(NAME, path, False, f"a length unit is {odd[0] if odd else 'missing'}")
    return finding(NAME, path, True, f"AP214, {len(units)} contexts, all in millimetres")
