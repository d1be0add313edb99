"""How holes are made the way a plate is cut, and what its files are like."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from geomgen.design.flat_model import Files, Kerf
from geomgen.plates import HoleKind
from geomgen.spec.files import Files as FilesSpec


@dataclass(frozen=True)
class Cutter:
    """What a process can hold in one plate.

    Attributes:
        to_size: least hole over thickness that is cut to size [-].
        pilot: least hole over thickness that is cut to be drilled out [-].
        stock: left on the radius of a pilot for the drill [mm].
    """

    to_size: float
    pilot: float
    stock: float

    @staticmethod
    def of(limit: Callable[[str], float], process: str, thickness: float) -> Cutter:
        """From the limits, for a plate of this thickness as cut [mm].

        Args:
            limit: gives a limit by its name.
            process: how the plate is cut.
            thickness: as cut [mm].
        """
        floor = limit("hole_floor_waterjet") / thickness if process == "waterjet" else 0.0
        return Cutter(
            max(limit(f"hole_ratio_{process}"), floor),
            max(limit(f"pilot_ratio_{process}"), floor),
            limit("pilot_stock"),
        )


def made(
    kind: HoleKind, diameter: float, thickness: float, cutter: Cutter
) -> tuple[Literal["cut", "pilot", "mark"], float]:
    """How a hole is made, and the diameter of its pilot [mm]; 0 without one.

    A tapped or dowel hole is never cut to size: a thermal edge is too hard for a tap, and no
    cut is round enough for a dowel. The pilot is the largest that leaves its stock.
    """
    if kind == "clearance" and diameter >= cutter.to_size * thickness - 1e-9:
        return "cut", 0.0
    pilot = diameter - 2.0 * cutter.stock
    if pilot > 0.0 and pilot >= cutter.pilot * thickness - 1e-9:
        return "pilot", pilot
    return "mark", 0.0


def files_of(said: FilesSpec) -> Files:
    """The settings of the files, as the spec has them."""
    kerf = said.kerf
    return Files(
        version=said.version,
        unit=said.unit,
        style=said.style,
        cut=said.layers.cut,
        mark=said.layers.mark,
        reference=said.layers.reference,
        with_reference=said.reference,
        paper=said.paper,
        kerf=None if kerf is None else Kerf(kerf.width, kerf.lead_in, kerf.lead, kerf.overrun),
    )
