"""Round port."""

from __future__ import annotations

from typing import Literal

from geomgen.ports._placement import PortPlacement, Size
from geomgen.profiles.loops import Loop, circle

KIND = "round"


class Spec(PortPlacement):
    """Round ports of one head."""

    shape: Literal["round"]
    """Shape of the ports."""
    diameter: Size
    """Bore of the port at the gasket face."""


def loop(spec: Spec) -> Loop:
    """Edge of the port, counter-clockwise, centred on the port's axis [mm]."""
    return circle((0.0, 0.0), spec.diameter / 2.0)
