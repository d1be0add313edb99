"""Where the formed end of a tube begins and stops in a plate, square to its port or leaning."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.geometry.frames import Frame, Plane, angle_between, scale

STRAIGHT = 1e-9
"""A port that leans by less stands square to the face [rad]."""


@dataclass(frozen=True)
class FormedEnd:
    """The part of a tube that stands in the plate, along the port's axis [mm].

    Attributes:
        lean: of the port's axis from the square to the face [rad].
        gas: where the gas begins; behind the face when the port leans.
        metal: where the tube begins; the same.
        end: where the formed end stops and the blend to round begins.
        gas_planes: what the gas is cut off on: the gasket face.
        metal_planes: what the tube's end is cut off on.
    """

    lean: float
    gas: float
    metal: float
    end: float
    gas_planes: tuple[Plane, ...] = ()
    metal_planes: tuple[Plane, ...] = ()


def formed_end(
    port: Frame, face: Frame, plate: float, set_back: float, reach: float, bead: float
) -> FormedEnd:
    """The formed end of one tube.

    The end of a leaning tube is cut in line with the gasket face, so that its set-back,
    measured square to the face, is the same all round and the inside bead has the same room
    everywhere. The formed shape goes on until all of it has left the plate's tube side by
    the room for a bead: ``(plate + reach sin lean) / cos lean + bead`` along the axis.

    Args:
        port: at the gasket face, z along the port's axis.
        face: of the plate: z = 0 is the gasket face, z to the tube side.
        plate: thickness, finished [mm].
        set_back: from the gasket face to the tube's end, square to the face [mm].
        reach: farthest the tube's outside stands from the port's axis [mm].
        bead: room for the outside bead on the tight side of a leaning tube [mm].
    """
    lean = angle_between(port.z, face.z)
    if lean < STRAIGHT:
        return FormedEnd(0.0, 0.0, set_back, plate)
    aside = reach * math.tan(lean)
    behind = -aside - 1.0
    towards = scale(face.z, -1.0)
    return FormedEnd(
        lean=lean,
        gas=behind,
        metal=set_back / math.cos(lean) + behind,
        end=plate / math.cos(lean) + aside + bead,
        gas_planes=(Plane(face.origin, towards),),
        metal_planes=(Plane(face.moved(set_back).origin, towards),),
    )
