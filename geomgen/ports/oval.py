"""Oval port: a slot, two half rounds and two straight sides."""

from __future__ import annotations

from typing import Literal

from geomgen.ports._placement import PortPlacement, Size
from geomgen.profiles.loops import Loop, slot

KIND = "oval"


class Spec(PortPlacement):
    """Oval ports of one head."""

    shape: Literal["oval"]
    """Shape of the ports."""
    width: Size
    """Over all, along the row of ports."""
    height: Size
    """Over all, up the head."""


def loop(spec: Spec) -> Loop:
    """Edge of the port, counter-clockwise, centred on the port's axis [mm]."""
    return slot(spec.width, spec.height)
