"""One gate for both scrolls of a divided inlet: a branch off each, and a sheet to the seat."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from geomgen.attachments import Attached, Bar, Bore, Host, HostPipe
from geomgen.attachments._partition_end import (
    End,
    Partition,
    end_of,
    gate_of,
    hold_neck,
    seat_of,
    sheet_plate,
)
from geomgen.attachments._partition_meeting import Meeting, Stand, meeting
from geomgen.attachments._partition_neck import NeckSize, rest_of_disc
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
from geomgen.geometry.frames import Frame, Plane, scale
from geomgen.profiles.loops import area
from geomgen.recipe.nodes import Fuse, NamedFace, Node, Placed, Trim
from geomgen.units import in_degrees

if TYPE_CHECKING:
    from geomgen.attachments.wastegate import Spec

_RIM = 360
_STRIDE, _STRIDES = 10.0, 30
"""Lengths that are tried in place of one that does not serve [mm]."""


@dataclass(frozen=True)
class _Leg:
    """One branch: its pipe, where it stands, its saddle, and the frame of its half."""

    letter: str
    pipe: HostPipe
    foot: Foot
    on: SetOn
    half: Frame


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
    seat = seat_of(spec, said)
    gate = gate_of(said, branch, seat)

    def laid(length: float) -> tuple[Meeting, NeckSize, list[_Leg]]:
        met = meeting((stands[0], stands[1]), lean, length, spec.toward or host.up)
        neck = NeckSize(branch, met.angle, said.thickness, gate, said.neck, said.straight)
        return met, neck, [_leg(spec, host, stood, met, k, branch) for k, stood in enumerate(feet)]

    def lacks(length: float) -> float:
        try:
            _, neck, made = laid(length)
        except DoesNotFit:
            return math.inf
        return _lacks(made[0], neck)

    meet, size, legs = laid(spec.length)
    hold_neck(size)
    _hold_parted(spec, lacks)
    end = end_of(spec, said, host, meet.gate, size)
    sheet = sheet_plate(spec, said, host, meet.gate, size, end)
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


def _leg(spec: Spec, host: Host, stood: Foot, meet: Meeting, k: int, branch: TubeSize) -> _Leg:
    pipe = stood.host
    at = (stood.station, stood.low, stood.high)
    half = meet.gate if k == 0 else Frame(meet.gate.origin, scale(meet.gate.x, -1.0), meet.gate.z)
    own = foot(pipe, at, meet.sides[k], stood.lean, host.up)
    # Its seam is where the arcs of its mouth meet.
    own = replace(own, frame=Frame.facing(own.frame.origin, own.frame.z, half.x))
    on = seated(own, branch, f"{spec.name}_{pipe.scroll}", ("od",))
    return _Leg(pipe.scroll, pipe, own, on, half)


def _lacks(leg: _Leg, size: NeckSize) -> float:
    """How much too soon a branch meets sheet or mouth, for all of its saddle to be clear [mm]."""
    turns = np.linspace(0.0, math.tau, _RIM, endpoint=False)
    rim = points(leg.on.outer, size.branch.outer_radius, turns) - np.array(leg.half.origin)
    aside, ahead = (
        float((rim @ np.array(leg.half.x)).min()),
        float((rim @ np.array(leg.half.z)).max()),
    )
    return CLEAR + max(size.face - aside, ahead - size.mouth)


def _hold_parted(spec: Spec, lacks: Callable[[float], float]) -> None:
    """Refuse branches that meet before they have left their pipes, and say what length serves.

    Args:
        spec: what was said.
        lacks: by how much a branch of a length meets the other too soon [mm].
    """
    short = lacks(spec.length)
    if short <= 0.0:
        return
    longer = (spec.length + _STRIDE * k for k in range(1, _STRIDES + 1))
    serves = next((length for length in longer if lacks(length) <= 0.0), None)
    raise DoesNotFit(
        ("length",),
        f"{spec.length:g} mm, with which the branches of {spec.od:g} mm meet {short:.1f} mm before "
        "they have left their pipes",
        "branches that part from their pipes before they meet"
        + ("" if serves is None else f", as from {serves:.0f} mm on"),
        "make od less, or set the pipes farther apart"
        if serves is None
        else "make it longer, od less, or set the pipes farther apart",
    )


def _half(
    spec: Spec,
    host: Host,
    leg: _Leg,
    meet: Meeting,
    size: NeckSize,
    end: End,
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


def _shared(meet: Meeting, size: NeckSize, end: End, seat: float) -> tuple[tuple[str, float], ...]:
    """Numbers of the gate that both scrolls have, for report and checks."""
    half = area(rest_of_disc(seat, size.face))
    bores = [math.pi * size.branch.inner_radius**2, size.least]
    if end.seat > size.rim:
        bores.append(area(rest_of_disc(end.bore, size.face)))
    return (
        ("between_deg", 2.0 * in_degrees(meet.angle)),
        ("neck_wall_deg", in_degrees(size.slope)),
        ("sheet_mm", size.sheet),
        ("sheet_to_seat_mm", end.face - end.seat),
        ("half_area_mm2", min(bores)),
        ("half_seat_area_mm2", half),
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
