"""Studs, their clearance holes, nuts, heads and washers: the one table in the house.

Clearance holes: ISO 273 (fine, medium, coarse series). Nut across flats, and its largest
height: ISO 4032. Head of a bolt, at its highest: ISO 4014 and ISO 4017, product grade A, from
memory; its width across flats is the nut's. Washer outside diameter: ISO 7089. Figures as
reprinted in public tables;
some libraries give 14 and 15 for M12 medium and coarse, where ISO 273 has 13.5 and 14.5.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

HoleClass = Literal["fine", "medium", "coarse"]


@dataclass(frozen=True)
class Fastener:
    """One size of stud with what goes on it, or of bolt [mm]."""

    thread: str
    diameter: float
    fine: float
    medium: float
    coarse: float
    across_flats: float
    nut_height: float
    washer_od: float
    head_height: float

    def hole(self, series: HoleClass) -> float:
        """Clearance hole of ISO 273 [mm]."""
        return {"fine": self.fine, "medium": self.medium, "coarse": self.coarse}[series]

    @property
    def socket_radius(self) -> float:
        """Outside radius of a socket for the nut [mm]; common practice, no source.

        Three quarters of the width across flats: 9.75 for 13, 12 for 16, 13.5 for 18.
        """
        return 0.75 * self.across_flats


FASTENERS = {
    row.thread: row
    for row in (
        Fastener("M6", 6.0, 6.4, 6.6, 7.0, 10.0, 5.2, 12.0, 4.15),
        Fastener("M8", 8.0, 8.4, 9.0, 10.0, 13.0, 6.8, 16.0, 5.45),
        Fastener("M10", 10.0, 10.5, 11.0, 12.0, 16.0, 8.4, 20.0, 6.58),
        Fastener("M12", 12.0, 13.0, 13.5, 14.5, 18.0, 10.8, 24.0, 7.68),
    )
}
"""By thread: ``M8``."""
