"""Kinds of bend source, one file each: ``KIND``, ``Spec`` and ``offer(spec) -> Offer``."""

from __future__ import annotations

from collections.abc import Iterable

from geomgen.registry import plugins
from geomgen.shelf._offer import BendSpec, Offer, has

__all__ = ["BendSpec", "Offer", "has", "offers"]


def offers(bends: Iterable[BendSpec], od: float | None = None) -> tuple[Offer, ...]:
    """What can be had from the lines of a shelf, in their order.

    Args:
        bends: lines of the shelf.
        od: leave out lines that are for a tube of another outside diameter [mm].
    """
    kinds = plugins("geomgen.shelf", "KIND")
    lines: list[Offer] = [kinds[bend.kind].offer(bend) for bend in bends]
    return tuple(
        line for line in lines if od is None or line.od is None or abs(line.od - od) <= 1e-6
    )
