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
    """What a process can hold.

    Attributes:
        to_size: least hole over thickness that is cut to size [-].
        pilot: least hole over thickness that is cut to be drilled out [-].
        stock: left on the radius of a pilot for the drill [mm].
        floor: least hole that is cut at all [mm].
    """

    to_size: float
    pilot: float
    stock: float = 1.0
    floor: float = 0.0

    @staticmethod
    def of(limit: Callable[[str], float], process: str) -> Cutter:
        """From the limits: ``Cutter.of(limits.__getitem__, "plasma")``."""
        return Cutter(
            limit(f"hole_ratio_{process}"),
            limit(f"pilot_ratio_{process}"),
            limit("pilot_stock"),
            limit("hole_floor_waterjet") if process == "waterjet" else 0.0,
        )

    def size_limit(self, thickness: float) -> float:
        """Least hole over thickness that is cut to size in a plate [-]."""
        return max(self.to_size, self.floor / thickness)

    def pilot_limit(self, thickness: float) -> float:
        """Least hole over thickness that is cut to be drilled out [-]."""
        return max(self.pilot, self.floor / thickness)

    def made(
        self, kind: HoleKind, diameter: float, thickness: float
    ) -> tuple[Literal["cut", "pilot", "mark"], float]:
        """How a hole is made, and the diameter of its pilot [mm]; 0 without one.

        A tapped or dowel hole is never cut to size: a thermal edge is too hard for a tap, and
        no cut is round enough for a dowel. The pilot is the largest that leaves its stock.

        Args:
            kind: of the hole.
            diameter: finished; a tap drill, or a slot's width [mm].
            thickness: of the plate as cut [mm].
        """
        if kind == "clearance" and diameter >= self.size_limit(thickness) * thickness - 1e-9:
            return "cut", 0.0
        pilot = diameter - 2.0 * self.stock
        if pilot > 0.0 and pilot >= self.pilot_limit(thickness) * thickness - 1e-9:
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
