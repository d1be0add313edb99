"""Blanking plate of another plate: its outline and bolts, no windows."""

from __future__ import annotations

from typing import Literal

from geomgen.plates import Plate
from geomgen.plates._make import made_for
from geomgen.plates._outline import for_bolts
from geomgen.plates._said import Derived
from geomgen.plates.vband import mate_notes

KIND = "blanking"


class Spec(Derived):
    """A plate that closes another one."""

    kind: Literal["blanking"]
    """A plate that closes another one: its outline and bolts, and no windows."""


def plate(spec: Spec, of: Plate) -> Plate:
    """The blanking plate, drawn the same way round as the plate that it closes.

    Of a V-band ring it is a blank too, with the stock of a ring's mate.
    """
    held = "Bolted" if of.ring is None else "Clamped"
    return made_for(
        spec,
        of,
        "Blanking plate of",
        holes=for_bolts(of.holes),
        facing=0.0 if of.ring is None else of.ring.facing,
        notes=(
            f"{held} gasket face to gasket face; its lettered side looks to the tubes.",
            *mate_notes(of),
        ),
    )
