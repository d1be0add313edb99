"""One gate for both scrolls of a divided inlet: a branch off each, and a sheet to the seat."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from geomgen.attachments import Attached, Bar, Bore, Host, HostPipe
from geomgen.attachments import OnPipe as OnEnd
from geomgen.attachments._flanged import at_end
from geomgen.attachments._partition_meeting import Meeting, Stand, meeting
from geomgen.attachments._partition_neck import (
    STEP,
    NeckSize,
    rest_of_disc,
    sheet_outline,
)
from geomgen.attachments._partition_room import hold_clear
from geomgen.attachments._saddles import (
    CLEAR,
    Foot,
    bored,
    fitted,
    foot,
    hole,
    place,
    reach_along,
    seated,
    standing,
)
from geomgen.families import DoesNotFit, Piece, TubeSize
from geomgen.families._logging import SetOn
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.copes import points
from geomgen.geometry.frames import Frame, Plane, dot, scale, sub
from geomgen.names import Material
from geomgen.plates import Plate
from geomgen.plates._said import Process, Thickness
from geomgen.profiles.loops import Arc, Loop, area, bounding_box
from geomgen.recipe.nodes import Fuse, NamedFace, Node, Placed, Trim
from geomgen.units import Size, StrictModel, later
from geomgen.units import Span as Length

if TYPE_CHECKING:
    from geomgen.attachments.wastegate import Spec

_RIM = 360
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
class _Leg:
    """One branch: its pipe, where it stands, its saddle, and the frame of its half."""

    letter: str
    pipe: HostPipe
    foot: Foot
    on: SetOn
    half: Frame


@dataclass(frozen=True)
class _End:
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


def partitioned(spec: Spec, said: Partition, host: Host, fed: list[HostPipe]) -> Attached:
    """Both branches, the neck in two halves, the sheet between them, and the flange.

    Volumes and areas are not added up: no family that sums its own has two scrolls.

    Args:
        spec: what was said of the wastegate [mm, deg].
        said: what was said of its partition.
        host: what it holds on to.
        fed: the pipes that ``on`` names.

    Raises:
        DoesNotFit: the pipes have no such gate in common.
    """
    pipes = _pipes(spec, fed)
    branch = TubeSize(spec.od / 2.0, spec.od / 2.0 - spec.wall)
    lean = math.radians(spec.lean)
    feet = [_foot(spec, host, pipe, branch, lean) for pipe in pipes]
    stands = [
        Stand(f.host.name, f.frame.origin, f.flow, f.host.outer_radius, f.host.inner_radius)
        for f in feet
    ]
    meet = meeting((stands[0], stands[1]), lean, spec.length, spec.toward or host.up)
    seat = _seat(spec, said)
    size = NeckSize(
        branch, meet.angle, said.thickness, _gate(said, branch, seat), said.neck, said.straight
    )
    end = _end(spec, said, host, meet.gate, size)
    legs = [
        _leg(spec, host, f, meet, side, branch, size) for f, side in zip(feet, (0, 1), strict=True)
    ]
    sheet = _sheet(spec, said, host, meet.gate, size, end)
    bars = _bars(spec, legs, meet, size)
    key = ("at",) if spec.at is not None else ("length",)
    hold_clear(key, host, (pipes[0], pipes[1]), bars, (sheet, *(on.plate for on in end.plates)))
    shared = _shared(meet, size, end, seat)
    made = [_half(spec, host, leg, meet, size, end, shared) for leg in legs]
    return Attached(
        pieces=tuple(p for one in made for p in one.pieces),
        holes=tuple(h for one in made for h in one.holes),
        bores=tuple(b for one in made for b in one.bores),
        bars=bars,
        plates=end.plates,
        loose=(sheet, *end.loose),
        facts=(
            *(fact for one in made for fact in one.facts),
            *((f"{spec.name}_{key}", value) for key, value in shared),
        ),
        fitted=tuple(f for one in made for f in one.fitted),
    )


def _pipes(spec: Spec, fed: list[HostPipe]) -> list[HostPipe]:
    if len(fed) == 2 and fed[0].scroll and fed[0].scroll != fed[1].scroll:
        return fed
    raise DoesNotFit(
        ("partition",),
        f"a gate for two scrolls on {' and '.join(pipe.name for pipe in fed)}",
        "two pipes, one of each scroll",
        "name the pipes of both scrolls of a divided inlet (on: pipe), or take partition out"
        if spec.on != "pipe"
        else "take partition out: there is one scroll",
    )


def _foot(spec: Spec, host: Host, pipe: HostPipe, size: TubeSize, lean: float) -> Foot:
    """Where a branch leaves; which side it goes to comes from where it meets the other."""
    reach = reach_along(pipe, size.outer_radius, lean)
    at = place(pipe, spec.at, reach, f"{spec.name}_{pipe.scroll}", ("at",))
    return foot(pipe, at, pipe.toward or host.up, lean, host.up)


def _seat(spec: Spec, said: Partition) -> float:
    """Radius of the valve's seat [mm]."""
    own = getattr(spec.flange, "seat", None)
    if (own is None) == (said.seat is None):
        raise DoesNotFit(
            ("partition", "seat"),
            "nothing" if own is None else "seat twice",
            "the bore of the valve's seat, once",
            "add seat: 38" if own is None else "take it out: the flange says it",
        )
    return float(own or said.seat or 0.0) / 2.0


def _gate(said: Partition, branch: TubeSize, seat: float) -> TubeSize:
    """The gate's round end."""
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


def _end(spec: Spec, said: Partition, host: Host, gate: Frame, size: NeckSize) -> _End:
    rim, bore = size.rim, size.gate.inner_radius
    if spec.flange is None:
        if said.short:
            raise _too_short(said, 0.0)
        return _End(rim, rim, size.gate.outer_radius, bore)
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
    return _End(face - said.short, face, window, through, (plate,), loose)


def _too_short(said: Partition, most: float) -> DoesNotFit:
    return DoesNotFit(
        ("partition", "short"),
        f"{said.short:g} mm",
        f"at most {most:g} mm, so that the sheet reaches the round end's rim",
        "make it less: what the sheet leaves open, both scrolls share",
    )


def _leg(
    spec: Spec, host: Host, stood: Foot, meet: Meeting, k: int, branch: TubeSize, size: NeckSize
) -> _Leg:
    pipe = stood.host
    letter = pipe.scroll
    name = f"{spec.name}_{letter}"
    at = (stood.station, stood.low, stood.high)
    half = meet.gate if k == 0 else Frame(meet.gate.origin, scale(meet.gate.x, -1.0), meet.gate.z)
    own = foot(pipe, at, meet.sides[k], stood.lean, host.up)
    # Its seam is where the arcs of its mouth meet.
    own = replace(own, frame=Frame.facing(own.frame.origin, own.frame.z, half.x))
    on = seated(own, branch, name, ("od",))
    turns = np.linspace(0.0, math.tau, _RIM, endpoint=False)
    rim = points(on.outer, branch.outer_radius, turns) - np.array(half.origin)
    aside, ahead = float((rim @ np.array(half.x)).min()), float((rim @ np.array(half.z)).max())
    if aside < size.face + CLEAR or ahead > size.mouth - CLEAR:
        lacks = max(size.face + CLEAR - aside, ahead - size.mouth + CLEAR)
        raise DoesNotFit(
            ("length",),
            f"{spec.length:g} mm, with which the branches of {spec.od:g} mm meet {lacks:.1f} mm "
            f"before they have left {pipe.name}",
            "branches that part from their pipes before they meet",
            "make length greater, od less, or set the pipes farther apart",
        )
    return _Leg(letter, pipe, own, on, half)


def _half(
    spec: Spec,
    host: Host,
    leg: _Leg,
    meet: Meeting,
    size: NeckSize,
    end: _End,
    shared: tuple[tuple[str, float], ...],
) -> Attached:
    name, branch, material = f"{spec.name}_{leg.letter}", size.branch, spec.material
    # Past the meeting, so that both planes cut all of it.
    long = (Straight(meet.along + 2.0 * branch.outer_radius / math.sin(meet.angle)),)
    tube = standing(leg.foot, long, branch.outer_radius, branch.inner_radius)
    planes = (
        Plane(leg.half.point((size.face, 0.0, 0.0)), scale(leg.half.x, -1.0)),
        Plane(leg.half.point((0.0, 0.0, size.mouth)), leg.half.z),
    )
    bores: tuple[Node, ...] = (
        Trim(bored(leg.foot, long, branch.inner_radius), planes),
        *(Placed(node, leg.half) for node in size.bore(end.seat, end.bore)),
    )
    middle = leg.half.point((0.5 * (size.face + size.gate.inner_radius), 0.0, end.seat))
    face = NamedFace(f"WG_{leg.letter}".upper(), middle, leg.half.z)
    own = (
        (f"{name}_lean_deg", spec.lean),
        (f"{name}_bore_mm", 2.0 * branch.inner_radius),
        (f"{name}_area_ratio", (branch.inner_radius / leg.pipe.inner_radius) ** 2),
        (f"{name}_length_mm", _axis(leg, meet, size).length),
    )
    room = (_axis(leg, meet, size), branch.outer_radius)
    return Attached(
        pieces=(
            Piece(name, None, Trim(tube, planes), material or host.material),
            Piece(
                f"{spec.name}_neck_{leg.letter}",
                None,
                Placed(size.metal, leg.half),
                material or host.material,
            ),
        ),
        holes=(hole(leg.foot, leg.on),),
        bores=(Bore(leg.pipe, Fuse(bores), face),),
        facts=own,
        fitted=(
            fitted(
                "wastegate",
                name,
                leg.foot,
                (*own, *shared),
                room,
                face.name,
                leg.pipe.scroll,
            ),
        ),
    )


def _axis(leg: _Leg, meet: Meeting, size: NeckSize) -> Centreline:
    """A branch's axis from its pipe's outside to its mouth."""
    way = meet.along - leg.foot.through - size.reach / math.sin(meet.angle)
    return Centreline(leg.foot.frame.moved(leg.foot.through), (Straight(way),))


def _shared(meet: Meeting, size: NeckSize, end: _End, seat: float) -> tuple[tuple[str, float], ...]:
    """Numbers of the gate that both scrolls have, for report and checks."""
    half = area(rest_of_disc(seat, size.face))
    bores = [math.pi * size.branch.inner_radius**2, size.least]
    if end.seat > size.rim:
        bores.append(area(rest_of_disc(end.bore, size.face)))
    return (
        ("between_deg", 2.0 * math.degrees(meet.angle)),
        ("neck_wall_deg", math.degrees(size.slope)),
        ("sheet_mm", size.sheet),
        ("sheet_to_seat_mm", end.face - end.seat),
        ("half_area_mm2", min(bores)),
        ("half_seat_area_mm2", half),
    )


def _sheet(
    spec: Spec, said: Partition, host: Host, gate: Frame, size: NeckSize, end: _End
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
        outer=_lowered(outer, middle),
        notes=(_NOTE,),
        process=said.process or "",
        face="SEAT",
    )


def _lowered(loop: Loop, by: float) -> Loop:
    return tuple(
        replace(piece, centre=(piece.centre[0], piece.centre[1] - by))
        if isinstance(piece, Arc)
        else replace(
            piece,
            start=(piece.start[0], piece.start[1] - by),
            end=(piece.end[0], piece.end[1] - by),
        )
        for piece in loop
    )


def _bars(spec: Spec, legs: list[_Leg], meet: Meeting, size: NeckSize) -> tuple[Bar, ...]:
    """Room of branches and neck, the sheet's nose among it."""
    branches = tuple(
        Bar(f"{spec.name}_{leg.letter}", _axis(leg, meet, size), size.branch.outer_radius)
        for leg in legs
    )
    neck = tuple(
        Bar(f"{spec.name}_neck", Centreline(meet.gate.moved(z), (Straight(end - z),)), radius)
        for z, end, radius in size.rooms
    )
    return (*branches, *neck)
