"""Flat parts as they are decided, and what the files are like that they are cut from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geomgen.design.lettered import Lettering
from geomgen.geometry.frames import Frame
from geomgen.plates import HoleKind, hole_loop
from geomgen.profiles.loops import Line, Loop, Point2, Profile

Process = Literal["plasma", "laser", "waterjet"]


@dataclass(frozen=True)
class Kerf:
    """How the file with kerf and lead-ins is made.

    Attributes:
        width: of the cut [mm].
        lead_in: from the edge to where it pierces; the plate's thickness and at least
            5 mm when None [mm].
        lead: along a quarter circle, or square to the edge.
        overrun: beyond the place where the path met the edge [mm].
    """

    width: float
    lead_in: float | None = None
    lead: Literal["arc", "line"] = "arc"
    overrun: float = 2.0


@dataclass(frozen=True)
class Files:
    """What the cutter's files are like.

    Attributes:
        version: of DXF.
        unit: of its coordinates.
        style: closed polylines with bulges, or joined lines and arcs.
        cut, mark, reference: names of the layers.
        with_reference: whether what is only to be looked at is in the file.
        paper: of the sheets at full size.
        kerf: of the second file; None makes none.
    """

    version: Literal["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"] = "R2000"
    unit: Literal["mm", "inch"] = "mm"
    style: Literal["polylines", "lines-arcs"] = "polylines"
    cut: str = "CUT"
    mark: str = "MARK"
    reference: str = "REFERENCE"
    with_reference: bool = False
    paper: Literal["a4", "a3", "a2", "a1", "a0", "letter", "tabloid"] = "a4"
    kerf: Kerf | None = None


PLAIN = Files()
"""What most cutters ask for."""


@dataclass(frozen=True)
class Hole:
    """One bolt hole of a flat part.

    Attributes:
        name: ``stud 1a``.
        at: centre in the part's x-y [mm].
        diameter: finished; of a tapped hole its tap drill, of a slot its width [mm].
        thread: of the stud, ``M8``; empty for a dowel.
        how: ``cut`` to size; ``pilot``, cut small and drilled; or ``mark``, a centre mark only,
            and drilled.
        cut_ratio: diameter over plate thickness as cut [-].
        cut_limit: least ratio that the process can cut [-].
        boss: radius of the washer and tool land round it [mm].
        pilot: diameter that is cut of a ``pilot`` hole [mm].
        kind: a ``tapped`` or ``dowel`` hole is never cut to size.
        slot: between the centres of a slotted hole's ends; 0 for a round one [mm].
        turn: direction of the slot [rad].
        note: what else the shop must know of it.
    """

    name: str
    at: Point2
    diameter: float
    thread: str
    how: Literal["cut", "pilot", "mark"]
    cut_ratio: float
    cut_limit: float
    boss: float
    pilot: float = 0.0
    kind: HoleKind = "clearance"
    slot: float = 0.0
    turn: float = 0.0
    note: str = ""

    @property
    def loop(self) -> Loop:
        """Edge of the finished hole."""
        return hole_loop(self.at, self.diameter, self.slot, self.turn)

    @property
    def cut_loop(self) -> Loop | None:
        """Edge as it is cut: to size, the pilot's, or none."""
        if self.how == "mark":
            return None
        size = self.pilot if self.how == "pilot" else self.diameter
        return hole_loop(self.at, size, self.slot, self.turn)

    @property
    def centres(self) -> tuple[Point2, ...]:
        """Where it is drilled: its centre, or both ends' centres of a slot [mm]."""
        if self.slot <= 0.0:
            return (self.at,)
        dx, dy = self.slot / 2.0 * math.cos(self.turn), self.slot / 2.0 * math.sin(self.turn)
        return ((self.at[0] - dx, self.at[1] - dy), (self.at[0] + dx, self.at[1] + dy))


@dataclass(frozen=True)
class FlatPart:
    """A plate part: one DXF each. Drawn as seen from the tube side, x right, y up.

    Attributes:
        profile: net cut loops: outline and windows, and those holes that are cut.
        drilled: the profile plus every hole at its finished size (the solid's profile).
        windows: the port windows' loops, by cylinder order.
        cuts: further openings: relief slots.
        holes: every bolt hole, cut or drilled.
        centre_marks: single strokes for the mark layer, of holes that are drilled.
        reference: loops that are drawn to look at only (ports, gasket line).
        cylinders: cylinder number of each window.
        window_fit: tube to window, over both sides; 0 for butt windows [mm].
        window_style: ``socket`` takes the formed tube, ``round-socket`` the round one, ``butt``
            is the port's shape.
        own_notes: what the shop must know about this part beyond its tables.
        lettering: what else goes on the mark layer.
        facing: stock to be faced off after welding, on top of ``thickness`` [mm].
        loose: no part of the manifold: it stands in no assembly.
        sheet: gasket sheet and no metal.
        window_wall: wall of the tube that goes into the windows, where no runner's does [mm].
        whole: outline before relief slots were cut into it; None where there are none.
        warnings: what the shop should be warned of.
        lean: most that a tube leans from the square in its window [rad].
    """

    name: str
    title: str
    material: str
    thickness: float
    process: Process
    quantity: int
    frame: Frame
    profile: Profile
    drilled: Profile
    windows: tuple[Loop, ...]
    holes: tuple[Hole, ...]
    centre_marks: tuple[Line, ...]
    reference: tuple[Loop, ...]
    cylinders: tuple[int, ...] = ()
    window_fit: float = 0.0
    window_style: Literal["socket", "round-socket", "butt"] = "socket"
    own_notes: tuple[str, ...] = ()
    cuts: tuple[Loop, ...] = ()
    facing: float = 0.0
    loose: bool = False
    sheet: bool = False
    window_wall: float = 0.0
    lettering: Lettering | None = None
    whole: Loop | None = None
    warnings: tuple[str, ...] = ()
    lean: float = 0.0

    @property
    def marks(self) -> tuple[Line, ...]:
        """Single strokes for the mark layer: centre marks and lettering."""
        strokes = () if self.lettering is None else self.lettering.placed[0]
        return (*self.centre_marks, *strokes)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the shop must know beyond the tables, and lettering that found no room."""
        unplaced = () if self.lettering is None else self.lettering.placed[1]
        return (*self.own_notes, *unplaced)

    @property
    def cut_thickness(self) -> float:
        """Of the plate as it is cut, before facing [mm]."""
        return self.thickness + self.facing
