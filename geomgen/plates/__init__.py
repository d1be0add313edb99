"""Plate parts that are cut flat, before it is decided how: one file a kind.

A plate module defines ``KIND``, ``Spec`` (what the user says) and ``plate``. Kinds that stand by
themselves have ``plate(spec, frame, pipe, edge_factor) -> Plate``; kinds that are made for another
plate have ``plate(spec, of) -> Plate`` and a key ``of``. Both raise ``NoPlate`` for numbers that
leave no plate. A family may call the same functions: its ``Spec`` holds a plate's ``Spec``, and
it hands the frame in.

A plate is drawn as seen from the tube side, x right, y up, at its finished size;
``design.flats`` decides which holes are cut, and adds marks and lettering.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geomgen.geometry.frames import Frame
from geomgen.profiles.loops import Loop, Point2, circle, placed, slot

HoleKind = Literal["clearance", "tapped", "dowel"]


@dataclass(frozen=True)
class PlateHole:
    """A round or slotted hole that a plate wants [mm].

    Attributes:
        name: ``stud 1a``.
        at: centre in the plate's x-y.
        diameter: finished; of a tapped hole its tap drill, of a slot its width.
        thread: of the fastener, ``M8``; empty for a dowel.
        boss: radius of the washer and tool land round it.
        kind: a tapped or dowel hole is never cut to size.
        slot: between the centres of a slotted hole's ends; 0 for a round one.
        turn: direction of the slot [rad].
        note: what else the shop must know of it: ``with washer``, ``ream H7``.
    """

    name: str
    at: Point2
    diameter: float
    thread: str
    boss: float
    kind: HoleKind = "clearance"
    slot: float = 0.0
    turn: float = 0.0
    note: str = ""


def hole_loop(at: Point2, diameter: float, length: float = 0.0, turn: float = 0.0) -> Loop:
    """Edge of a hole: a circle, or a slot with ``length`` between its ends' centres [mm]."""
    if length <= 0.0:
        return circle(at, diameter / 2.0)
    return placed(slot(diameter + length, diameter), at, math.remainder(turn, math.tau))


@dataclass(frozen=True)
class Pipe:
    """The round tube that ends in a plate [mm]."""

    od: float
    bore: float


@dataclass(frozen=True)
class Label:
    """Lettering wanted near a place of the plate: a cylinder number, a bank, a part name."""

    text: str
    near: Point2


@dataclass(frozen=True)
class Ring:
    """What a ring that a V-band clamp holds is turned with, for what closes it [mm].

    Attributes:
        facing: stock to be faced off, without what a spigot is turned from.
        spigot: diameter and height of the spigot that centres the joint, if it has one.
    """

    facing: float = 0.0
    spigot: tuple[float, float] | None = None


@dataclass(frozen=True)
class Plate:
    """A plate part at its finished size [mm].

    Attributes:
        name: of the part, ``[a-z0-9_]+``.
        title: in words.
        frame: z = 0 is the face away from the tube (the gasket face), z to the tube side.
        thickness: finished.
        material: grade.
        outer: outline, counter-clockwise.
        windows: openings that gas goes through.
        holes: bolt and dowel holes.
        cuts: further openings: relief slots.
        reference: loops that are drawn to look at only: ports, gasket lines.
        cylinders: cylinder number of each window.
        labels: lettering wanted beside part name and ``UP``.
        window_fit: tube to window, over both sides; 0 for butt windows.
        window_style: ``socket`` takes the formed tube, ``round-socket`` the round one,
            ``butt`` is the opening's own shape.
        window_wall: wall of the tube that goes into the windows, where no runner's does.
        facing: stock to be faced off after welding, on top of ``thickness``.
        quantity: how many.
        notes: what the shop must know beyond the tables.
        process: ``plasma``, ``laser`` or ``waterjet``; empty for that of the head flange.
        loose: no part of the manifold: it stands in no assembly.
        sheet: gasket sheet and no metal, which tears and seals by rules of its own.
        ring: set where a V-band clamp holds it, and no bolts.
        whole: outline before relief slots were cut into it, for what seals on it; ``outer`` where
            there are none.
        warnings: what the shop should be warned of.
        lean: most that a tube leans from the square in its window [rad].
        face: lettered on the side that it is seen from.
    """

    name: str
    title: str
    frame: Frame
    thickness: float
    material: str
    outer: Loop
    windows: tuple[Loop, ...] = ()
    holes: tuple[PlateHole, ...] = ()
    cuts: tuple[Loop, ...] = ()
    reference: tuple[Loop, ...] = ()
    cylinders: tuple[int, ...] = ()
    labels: tuple[Label, ...] = ()
    window_fit: float = 0.0
    window_style: Literal["socket", "round-socket", "butt"] = "butt"
    facing: float = 0.0
    quantity: int = 1
    notes: tuple[str, ...] = ()
    process: Literal["", "plasma", "laser", "waterjet"] = ""
    loose: bool = False
    sheet: bool = False
    window_wall: float = 0.0
    ring: Ring | None = None
    whole: Loop | None = None
    warnings: tuple[str, ...] = ()
    lean: float = 0.0
    face: str = "TUBE SIDE"


class NoPlate(Exception):
    """A plate cannot be made with these numbers; ``key`` says which one to change."""

    def __init__(self, key: tuple[str | int, ...], found: str, allowed: str, remedy: str) -> None:
        path = ".".join(str(part) for part in key)
        super().__init__(f"{path}: found {found}; allowed: {allowed}; {remedy}")
        self.key, self.found, self.allowed, self.remedy = key, found, allowed, remedy
