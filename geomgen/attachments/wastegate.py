"""The branch to an external wastegate: a tube set on a pipe that every runner feeds."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geomgen.attachments import Added, Attached, Bar, Bore, Host, HostPipe
from geomgen.attachments import OnPipe as OnEnd
from geomgen.attachments._flanged import at_end
from geomgen.attachments._partition import partitioned
from geomgen.attachments._partition_end import Partition
from geomgen.attachments._saddles import (
    Foot,
    bored,
    branch_adds,
    fitted,
    foot,
    hole,
    place,
    reach_along,
    seated,
    standing_piece,
)
from geomgen.attachments._said import Lean, OnPipe, Size
from geomgen.families import DoesNotFit, TubeSize
from geomgen.families._pipes import TurnBend, bend_toward
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.frames import scale
from geomgen.names import Material
from geomgen.plates import Plate, vband, wastegate
from geomgen.plates._said import contradiction
from geomgen.recipe.nodes import NamedFace
from geomgen.units import Span, later

KIND = "wastegate"
ORDER = 20
ROUTED = True

_LAND = 5.0
"""Least tube between saddle and bend or flange: room for the weld [mm]."""


class Spec(OnPipe):
    """The branch to an external wastegate."""

    kind: Literal["wastegate"]
    """The branch to an external wastegate: a tube with a saddle on a pipe behind the merge, its
    bore open into the pipe's. On a divided inlet ``on: pipe`` makes one for each scroll, named by
    its letter, each on the side away from the other; with a ``partition``, one for both."""
    od: Size
    """Outside diameter of the branch."""
    wall: Size
    """Its wall."""
    material: Material | None = later()
    """Its grade; that of the runners without it."""
    lean: Lean = 40.0
    """From the way the gas goes to the branch: below 90 it leans with the flow."""
    length: Size = 50.0
    """Straight from the pipe's outside, along the branch's axis, to its bend or its flange."""
    bend: TurnBend | None = later()
    """Turns it to the gate."""
    tail: Span = 0.0
    """Straight behind the bend."""
    flange: Annotated[wastegate.Spec | vband.Spec, Field(discriminator="kind")] | None = later()
    """What it ends in: ``kind: wastegate``, or ``kind: vband``. Plain without it."""
    partition: Partition | None = later()
    """One gate for both scrolls of a divided inlet, in place of one each: a branch off the pipe
    of each, alike and leaning alike, that come together in a neck with a sheet between them down
    to the seat. ``length`` is then from a pipe's outside to where both axes meet: the longer, the
    less the angle between them. ``toward`` says on which side of the pipes the gate stands."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if 2.0 * self.wall >= self.od:
            raise contradiction(
                f"a wall of {self.wall:g} in an OD of {self.od:g}",
                "a wall of less than half the OD",
                "give the wall, not the bore",
            )
        if self.tail and self.bend is None:
            raise contradiction(
                "a tail without a bend", "a tail behind a bend", "make length greater instead"
            )
        if self.partition is not None and self.bend is not None:
            raise contradiction(
                "a bend in a gate with a partition",
                "a straight one: its sheet is flat",
                "take bend out, and turn the gate by lean, length and toward",
            )
        return self


def on_collector(spec: Spec, host: Host) -> Attached:
    """One branch, or one for each scroll.

    Args:
        spec: what was said [mm, deg].
        host: what it holds on to.

    Raises:
        DoesNotFit: nothing that every runner feeds has that name, or the saddle does not fit.
    """
    pipes = host.called(spec.on)
    fed = [pipe for pipe in pipes if pipe.slots]
    if not fed:
        good = sorted(pipe.name for pipe in host.pipes if pipe.slots)
        raise DoesNotFit(
            ("on",),
            spec.on,
            f"a pipe that every runner of its scroll feeds: {', '.join(good) or 'there is none'}",
            "name one of them" if good else "choose a family with a pipe behind its merge",
        )
    if spec.partition is not None:
        return partitioned(spec, spec.partition, host, fed)
    made = [_branch(spec, host, pipe, len(fed) > 1) for pipe in fed]
    return Attached(
        pieces=tuple(p for one in made for p in one.pieces),
        holes=tuple(h for one in made for h in one.holes),
        bores=tuple(b for one in made for b in one.bores),
        bars=tuple(b for one in made for b in one.bars),
        plates=tuple(p for one in made for p in one.plates),
        loose=tuple(p for one in made for p in one.loose),
        added=sum((one.added for one in made), Added()),
        facts=tuple(f for one in made for f in one.facts),
        fitted=tuple(f for one in made for f in one.fitted),
    )


def _branch(spec: Spec, host: Host, pipe: HostPipe, several: bool) -> Attached:
    letter = f"_{pipe.scroll}" if several else ""
    name = f"{spec.name}{letter}"
    size = TubeSize(spec.od / 2.0, spec.od / 2.0 - spec.wall)
    lean = math.radians(spec.lean)
    reach = reach_along(pipe, size.outer_radius, lean)
    stood = foot(
        pipe, place(pipe, spec.at, reach, name, ("at",)), _side(spec, host, pipe), lean, host.up
    )
    on = seated(stood, size, name, ("od",))
    pieces = _pieces(spec, stood, size, on.depth - stood.through)
    path = Centreline(stood.frame, pieces)
    face = NamedFace(f"WG{letter}".upper(), path.end.origin, path.end.z)
    outside = Centreline(stood.frame.moved(stood.through), (Straight(spec.length), *pieces[1:]))
    plates: tuple[OnEnd, ...] = ()
    loose: tuple[Plate, ...] = ()
    if spec.flange is not None:
        said = spec.flange.model_copy(update={"name": f"{spec.flange.name}{letter}"})
        plate, loose = at_end(said, path.end, spec.od, 2.0 * size.inner_radius, host, ("flange",))
        plates = (plate,)
    facts = (
        (f"{name}_lean_deg", spec.lean),
        (f"{name}_bore_mm", 2.0 * size.inner_radius),
        (f"{name}_area_ratio", (size.inner_radius / pipe.inner_radius) ** 2),
        (f"{name}_length_mm", outside.length),
    )
    room = (outside, size.outer_radius)
    return Attached(
        pieces=(standing_piece(name, stood, pieces, size, spec.material or host.material),),
        holes=(hole(stood, on),),
        added=branch_adds(on, path.length),
        bores=(Bore(pipe, bored(stood, pieces, size.inner_radius), face),),
        bars=(Bar(name, outside, size.outer_radius),),
        plates=plates,
        loose=loose,
        facts=facts,
        fitted=(fitted(KIND, name, stood, facts, room, face.name, pipe.scroll, reach[1]),),
    )


def _side(spec: Spec, host: Host, pipe: HostPipe) -> tuple[float, float, float]:
    if spec.toward is not None:
        return spec.toward
    return host.up if pipe.toward is None else scale(pipe.toward, -1.0)


def _pieces(spec: Spec, stood: Foot, size: TubeSize, low: float) -> tuple[PathPiece, ...]:
    """From the host's axis on.

    Args:
        spec: what was said.
        stood: where it leaves.
        size: of the branch.
        low: how far above the host's outside, along the axis, the saddle reaches [mm].
    """
    if spec.length < low + _LAND:
        raise DoesNotFit(
            ("length",),
            f"{spec.length:g} mm, of which the saddle takes {low:.1f} mm",
            f"at least {low + _LAND:.1f} mm",
            "make it longer",
        )
    first = Straight(stood.through + spec.length)
    if spec.bend is None:
        return (first,)
    bend = bend_toward(
        stood.frame.moved(first.length),
        spec.bend.clr,
        spec.bend.toward,
        size.outer_radius,
        ("bend",),
    )
    turn: tuple[PathPiece, ...] = () if bend is None else (bend,)
    return (first, *turn, Straight(spec.tail)) if spec.tail else (first, *turn)
