"""The frozen Design: everything that has been decided, in the head frame, mm and radians."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame, Vec
from geomgen.profiles.loops import Line, Loop, Point2, Profile
from geomgen.recipe.nodes import Group, Part

Process = Literal["plasma", "laser", "waterjet"]


@dataclass(frozen=True)
class Hole:
    """One bolt hole of a flat part.

    Attributes:
        name: ``stud 1a``.
        at: centre in the part's x-y [mm].
        diameter: finished [mm].
        thread: of the stud, ``M8``.
        how: ``cut`` to size, or ``mark`` (centre mark only) and drilled.
        cut_ratio: diameter over plate thickness [-].
        cut_limit: least ratio that the process can cut [-].
        boss: radius of the washer and tool land round it [mm].
    """

    name: str
    at: Point2
    diameter: float
    thread: str
    how: Literal["cut", "mark"]
    cut_ratio: float
    cut_limit: float
    boss: float


@dataclass(frozen=True)
class FlatPart:
    """A plate part: one DXF each. Drawn as seen from the tube side, x right, y up.

    Attributes:
        profile: net cut loops: outline and windows, and those holes that are cut.
        drilled: the profile plus every hole at its finished size (the solid's profile).
        windows: the port windows' loops, by cylinder order.
        holes: every bolt hole, cut or drilled.
        marks: single strokes for the mark layer: centre marks and lettering.
        reference: loops that are drawn to look at only (ports, gasket line).
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
    marks: tuple[Line, ...]
    reference: tuple[Loop, ...]


@dataclass(frozen=True)
class Port:
    """A port of the head: ``frame`` at z = 0 of the flange's gasket face, z outward."""

    cylinder: int
    frame: Frame
    loop: Loop
    shape: str


@dataclass(frozen=True)
class Stud:
    """A stud: root at the gasket face, along the head's normal.

    ``protrusion`` is measured from the head face [mm].
    """

    name: str
    thread: str
    at: Vec
    protrusion: float


@dataclass(frozen=True)
class AreaStation:
    """Bore area at a distance along one gas path [mm, mm2]."""

    station: float
    area: float
    what: str


@dataclass(frozen=True)
class LengthAccount:
    """What each part contributes to a runner's length, z = 0 to the stated end [mm]."""

    plate: float
    transition: float
    tube: float
    stub: float

    @property
    def total(self) -> float:
        """Sum [mm]."""
        return self.plate + self.transition + self.tube + self.stub


@dataclass(frozen=True)
class Transition:
    """Formed end and port-to-round transition of one runner.

    Attributes:
        entry: port frame at z = 0.
        plate: plate thickness, where the formed end stops and the blend begins [mm].
        set_back: from z = 0 to the tube's end [mm].
        length: of the blend along the port's axis [mm].
        exit: frame of the round end.
        wall_angle: steepest wall against the port's axis [rad].
        areas: bore area at stations from z = 0 to the round end.
    """

    entry: Frame
    plate: float
    set_back: float
    length: float
    exit: Frame
    wall_angle: float
    areas: tuple[AreaStation, ...]


@dataclass(frozen=True)
class Runner:
    """One runner: from the round end of its transition to its slot at the collector.

    Attributes:
        path: transition's exit to the collector's entry face.
        target: wanted length from z = 0 to the stated end [mm].
        account: the parts that make up the length.
        to_ends: length from z = 0 to ``entry``, ``first-join`` and ``throat`` [mm].
        slot: index of the collector slot.
    """

    cylinder: int
    slot: int
    outer_radius: float
    inner_radius: float
    material: str
    path: Centreline
    transition: Transition
    target: float
    account: LengthAccount
    to_ends: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Limits:
    """What checks hold the design against; the spec may set each one [mm, deg where said]."""

    values: tuple[tuple[str, float], ...]

    def __getitem__(self, name: str) -> float:
        for key, value in self.values:
            if key == name:
                return value
        raise KeyError(name)


@dataclass(frozen=True)
class Design:
    """One manifold, decided. Grows with the families; see ``design/resolve.py``."""

    name: str
    revision: str
    title: str
    flats: tuple[FlatPart, ...]
    ports: tuple[Port, ...]
    studs: tuple[Stud, ...]
    runners: tuple[Runner, ...]
    assembly: Group
    gas: Part
    limits: Limits
    notes: tuple[str, ...] = field(default=())
