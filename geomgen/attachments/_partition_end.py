"""What a gate with a partition ends in: its round end, the flange with the seat, and the sheet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geomgen.attachments import Host
from geomgen.attachments import OnPipe as OnEnd
from geomgen.attachments._flanged import at_end
from geomgen.attachments._partition_neck import STEP, NeckSize, sheet_outline
from geomgen.families import DoesNotFit, TubeSize
from geomgen.geometry.frames import Frame, dot, sub
from geomgen.names import Material
from geomgen.plates import Plate
from geomgen.plates._said import Process, Thickness
from geomgen.profiles.loops import bounding_box, placed
from geomgen.units import Size, StrictModel, in_degrees, later
from geomgen.units import Span as Length

if TYPE_CHECKING:
    from geomgen.attachments.wastegate import Spec

_STEEPEST = math.radians(40.0)
"""Most that a neck's wall leans from its axis [rad]; common practice, no source."""

_LEAST = 1.0
"""Shortest round end that is made [mm]."""

_NOTE = (
    "Stands between the two halves of the neck and over the mouths of both branches: weld all "
    "round them, gas-tight. Its end at the seat stays as cut."
)


class Partition(StrictModel):
    """One gate for both scrolls: its end, and the sheet that parts it down to the seat."""

    thickness: Thickness
    """Of the sheet."""
    od: Size | None = later()
    """Outside diameter of the gate's round end, which the flange goes on; without it, its bore
    is the seat's."""
    wall: Size | None = later()
    """Its wall; that of the branches without it."""
    neck: Size = 50.0
    """Along the gate's axis, from the branches' mouths to the round end."""
    straight: Length = 15.0
    """The round end, up to its rim."""
    seat: Size | None = later()
    """Bore of the valve's seat, where the flange does not say it."""
    short: Length = 0.0
    """How far the sheet stays behind the flange's face, so that the valve shuts."""
    material: Material | None = later()
    """Grade of the sheet; that of the branches without it."""
    process: Process | None = later()
    """How the sheet is cut; as the head flange without it."""


@dataclass(frozen=True)
class End:
    """What the gate ends in.

    Attributes:
        seat: station where the sheet and both gas volumes end [mm].
        face: station of the flange's face, or the rim's without one [mm].
        opening: radius of the flange's window, that the sheet goes through [mm].
        bore: of the gas between rim and seat: a socket's step is closed by a flush bead [mm].
        plates: the flange.
        loose: its mate.
    """

    seat: float
    face: float
    opening: float
    bore: float
    plates: tuple[OnEnd, ...] = ()
    loose: tuple[Plate, ...] = ()


def seat_of(spec: Spec, said: Partition) -> float:
    """Radius of the valve's seat [mm].

    Raises:
        DoesNotFit: nobody says it, or both attachment and flange do.
    """
    own = getattr(spec.flange, "seat", None)
    if (own is None) == (said.seat is None):
        raise DoesNotFit(
            ("partition", "seat"),
            "nothing" if own is None else "seat twice",
            "the bore of the valve's seat, once",
            "add seat: 38" if own is None else "take it out: the flange says it",
        )
    return float(own or said.seat or 0.0) / 2.0


def gate_of(said: Partition, branch: TubeSize, seat: float) -> TubeSize:
    """The gate's round end.

    Raises:
        DoesNotFit: it is narrower than a branch, or the sheet fills a branch.
    """
    if said.thickness > branch.inner_radius:
        raise DoesNotFit(
            ("partition", "thickness"),
            f"{said.thickness:g} mm between branches of {2.0 * branch.inner_radius:g} mm bore",
            f"at most half the bore, {branch.inner_radius:g} mm",
            "take thinner sheet: 2 to 4 mm is usual",
        )
    wall = said.wall or branch.outer_radius - branch.inner_radius
    outer = seat + wall if said.od is None else said.od / 2.0
    least = max(branch.outer_radius, wall + said.thickness)
    if outer < least - 1e-9:
        raise DoesNotFit(
            ("partition", "od") if said.od is not None else ("od",),
            f"a round end of {2.0 * outer:g} mm OD with {wall:g} mm of wall",
            f"at least {2.0 * least:g} mm OD: as wide as a branch, with room beside the sheet",
            "make it wider, the branches narrower, or the sheet thinner",
        )
    return TubeSize(outer, outer - wall)


def hold_neck(size: NeckSize) -> None:
    """Refuse walls that are steep, and a round end that is hardly there.

    Raises:
        DoesNotFit: the neck is too short for what its walls have to lead to.
    """
    if 0.0 < size.straight < _LEAST:
        raise DoesNotFit(
            ("partition", "straight"),
            f"{size.straight:g} mm",
            f"0, or at least {_LEAST:g} mm",
            "10 to 20 mm is usual",
        )
    if size.slope > _STEEPEST:
        least = size.length * math.tan(size.slope) / math.tan(_STEEPEST)
        raise DoesNotFit(
            ("partition", "neck"),
            f"{size.length:g} mm, with walls {in_degrees(size.slope):.0f} deg from its axis",
            f"at least {least:.1f} mm: {in_degrees(_STEEPEST):.0f} deg or less",
            "make it longer",
        )


def end_of(spec: Spec, said: Partition, host: Host, gate: Frame, size: NeckSize) -> End:
    """The flange where the gate stands, and how far sheet and gas go into it.

    Args:
        spec: what was said of the wastegate [mm, deg].
        said: what was said of its partition.
        host: the manifold.
        gate: frame where the branches' axes meet, z on to the seat.
        size: of the neck.

    Raises:
        DoesNotFit: the flange does not go on it, or the sheet not through the flange.
    """
    rim, bore = size.rim, size.gate.inner_radius
    if spec.flange is None:
        if said.short:
            raise _too_short(said, 0.0)
        return End(rim, rim, size.gate.outer_radius, bore)
    plate, loose = at_end(
        spec.flange,
        gate.moved(rim),
        2.0 * size.gate.outer_radius,
        2.0 * bore,
        host,
        ("flange",),
    )
    face = dot(sub(plate.plate.frame.origin, gate.origin), gate.z)
    window = bounding_box(plate.plate.windows[0]).width / 2.0
    if said.short > face - rim + 1e-9:
        raise _too_short(said, face - rim)
    if window < bore - 1e-9:
        raise DoesNotFit(
            ("partition", "od"),
            f"a bore of {2.0 * bore:g} mm that steps in to a window of {2.0 * window:g} mm",
            "a bore no wider than the flange's window: the sheet is as wide as both",
            f"take od out, or make it {2.0 * (window + size.gate.outer_radius - bore):g}",
        )
    # In a socket the neck's walls begin outside the plate; on a window the sheet steps in.
    inside = rim - (face - plate.plate.thickness)
    needed = STEP if window < size.gate.outer_radius else inside
    if said.straight < needed - 1e-9:
        raise DoesNotFit(
            ("partition", "straight"),
            f"{said.straight:g} mm",
            f"at least {needed:g} mm: "
            + ("what goes into the flange" if needed == inside else "there the sheet steps in"),
            "make it longer",
        )
    through = window if plate.plate.window_style == "butt" else bore
    return End(face - said.short, face, window, through, (plate,), loose)


def _too_short(said: Partition, most: float) -> DoesNotFit:
    return DoesNotFit(
        ("partition", "short"),
        f"{said.short:g} mm",
        f"at most {most:g} mm, so that the sheet reaches the round end's rim",
        "make it less: what the sheet leaves open, both scrolls share",
    )


def sheet_plate(
    spec: Spec, said: Partition, host: Host, gate: Frame, size: NeckSize, end: End
) -> Plate:
    """The sheet as a flat part, seen from the first scroll's side, the seat up."""
    outer = sheet_outline(size, end.seat, end.opening)
    box = bounding_box(outer)
    middle = 0.5 * (box.bottom + box.top)
    frame = Frame(gate.point((-size.face, 0.0, middle)), gate.y, gate.x)
    name = f"{spec.name}_partition"
    return Plate(
        name=name,
        title=f"Partition of {spec.name.replace('_', ' ')}, to the valve's seat",
        frame=frame,
        thickness=said.thickness,
        material=said.material or spec.material or host.material,
        outer=placed(outer, (0.0, -middle), 0.0),
        notes=(_NOTE,),
        process=said.process or "",
        face="SEAT",
    )
