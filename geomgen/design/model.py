"""The frozen Design: everything that has been decided, in the head frame, mm and radians."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geomgen.design.engine_rows import UNKNOWN
from geomgen.design.engine_rows import EngineRows as EngineRows
from geomgen.design.flat_model import PLAIN as PLAIN
from geomgen.design.flat_model import Files as Files
from geomgen.design.flat_model import FlatPart as FlatPart
from geomgen.design.flat_model import Hole as Hole
from geomgen.design.flat_model import Kerf as Kerf
from geomgen.design.flat_model import Process as Process
from geomgen.design.growth import BY_DEFAULT, HotGrowth
from geomgen.design.head_model import AreaStation as AreaStation
from geomgen.design.head_model import BoltedFlange as BoltedFlange
from geomgen.design.head_model import HeadPlace as HeadPlace
from geomgen.design.head_model import Joint as Joint
from geomgen.design.head_model import LengthAccount as LengthAccount
from geomgen.design.head_model import Port as Port
from geomgen.design.head_model import Stud as Stud
from geomgen.design.head_model import Transition as Transition
from geomgen.design.tube_model import AttachedPart as AttachedPart
from geomgen.design.tube_model import Attachment as Attachment
from geomgen.design.tube_model import Runner as Runner
from geomgen.design.tube_model import Secondary as Secondary
from geomgen.design.tube_model import TubeSection as TubeSection
from geomgen.families import TubeSize
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame, Vec
from geomgen.recipe.nodes import Group, Part
from geomgen.routing.problem import Problem
from geomgen.spec.tools import Open, Ring, Socket
from geomgen.targets.model import TargetInputs


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
class Collector:
    """What the family laid out downstream of the runners.

    Attributes:
        family: its name.
        frame: its own frame at the entry face.
        cylinders: cylinder at each slot that a runner ends in, in order round its junction.
        groups: cylinders that meet at each junction, the last where all have met.
        in_order: whether those neighbours follow the firing order.
        envelopes: name, path, radius of its parts.
        areas: bore area from slot to outlet.
        outlet: frame at the far end.
        facts: further numbers, by name with unit suffix.
        casting: grade where all metal is one casting, with the head flange; else empty.
        in_line: whether the slots stand in a row, not round the collector.
    """

    family: str
    frame: Frame
    cylinders: tuple[int, ...]
    groups: tuple[tuple[int, ...], ...]
    in_order: bool
    envelopes: tuple[tuple[str, Centreline, float], ...]
    areas: tuple[AreaStation, ...]
    outlet: Frame
    facts: tuple[tuple[str, float], ...]
    casting: str = ""
    in_line: bool = False


@dataclass(frozen=True)
class CommonLength:
    """The smallest common length of all runners, z = 0 to the stated end [mm].

    Attributes:
        found: a layout of this length was found and proven clear.
        bound: no layout is shorter; of lengths between the two nothing is known.
    """

    found: float
    bound: float


@dataclass(frozen=True)
class Tuning:
    """What the lengths were chosen by, and what turns a length into crank angle.

    Attributes:
        rule: ``book`` or another tuning rule's name, ``spec`` when a number was given, or
            ``shortest``.
        rpm: the speed tuned for; None when the spec names none.
        sound: speed of sound in the primaries [m/s].
        inputs: of the tuning rules; None when the spec gives no cam timing.
        length_to: where the length ends.
        valve_to_face: length of the port in the head [mm].
    """

    rule: str
    rpm: float | None
    sound: float
    inputs: TargetInputs | None
    length_to: str
    valve_to_face: float


@dataclass(frozen=True)
class Stock:
    """One line of the shelf, for one size of tube [mm, rad].

    Attributes:
        label: as it is asked for.
        clr: centreline radius.
        most: largest angle of one bend.
        angles: the only angles that can be had; empty when any up to ``most`` can.
        legs: straight tube before and after the bend as it is bought.
        made: ``cut`` from a stock bend and welded, or ``bent`` in the tube itself.
        used: whether the router was told of it.
        od: of the tube that it is for; 0 for any.
    """

    label: str
    clr: float
    most: float
    angles: tuple[float, ...] = ()
    legs: tuple[float, float] = (0.0, 0.0)
    made: Literal["cut", "bent"] = "cut"
    used: bool = True
    od: float = 0.0


@dataclass(frozen=True)
class Waiver:
    """A check that may fail; ``subject`` None means every subject."""

    check: str
    subject: str | None
    reason: str


@dataclass(frozen=True)
class Design:
    """One manifold, decided.

    Attributes:
        name, revision, title: as said.
        firing_order: cylinder numbers.
        vertical: the way up, in the head frame.
        flats: plate parts, one DXF each.
        ports, studs, runners: by cylinder.
        collector: downstream of the runners.
        assembly: every part as cut, nested and named.
        gases: the gas volumes, one part a scroll, with named ends.
        problem: what the router was asked; checks prove its answer again.
        score: of the layout, see ``routing.score``.
        obstacles: name and kind of each obstacle of the spec.
        tolerance: what a runner may be off as built [mm].
        tuning: where the lengths come from.
        stock: the shelf.
        limits: what checks hold the design against.
        waivers: checks that may fail.
        shortest: common length found and its bound, when ``shortest`` was asked for.
        tools: for the studs' nuts, as the spec lists them, best liked first.
        unseen: name and file of obstacles whose solids were not measured: nothing was kept
            clear of them, and no check has seen them.
        heads: where they stand.
        secondaries: tubes between junctions.
        files: what the cutter's files are like.
        growth: how hot flange and head get.
        bolted: flanges that are bolted to something other than a head.
        hung: names of obstacles that hang on the manifold and come off with it, or before it.
        attachments: what is attached to the pipes.
        engine: how its cylinders stand, and what its banks are called.
        mated: joints with what comes next, which the layout was made without.
    """

    name: str
    revision: str
    title: str
    firing_order: tuple[int, ...]
    vertical: Vec
    flats: tuple[FlatPart, ...]
    ports: tuple[Port, ...]
    studs: tuple[Stud, ...]
    runners: tuple[Runner, ...]
    collector: Collector
    assembly: Group
    gases: tuple[Part, ...]
    problem: Problem
    score: float
    obstacles: tuple[tuple[str, str], ...]
    tolerance: float
    tuning: Tuning
    stock: tuple[Stock, ...]
    limits: Limits
    waivers: tuple[Waiver, ...]
    shortest: CommonLength | None = None
    tools: tuple[Socket | Ring | Open, ...] = ()
    unseen: tuple[tuple[str, str], ...] = ()
    heads: tuple[HeadPlace, ...] = ()
    secondaries: tuple[Secondary, ...] = ()
    files: Files = PLAIN
    growth: HotGrowth = BY_DEFAULT
    bolted: tuple[BoltedFlange, ...] = ()
    hung: tuple[str, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    engine: EngineRows = UNKNOWN
    mated: tuple[Joint, ...] = ()

    @property
    def tubes(self) -> tuple[Runner | Secondary, ...]:
        """Every tube that was laid out, in the order of the problem's edges."""
        return (*self.runners, *self.secondaries)

    def bank_of(self, tube: Runner | Secondary) -> str:
        """Bank that a tube's gas comes from, ``left``; empty where there is none, or it is both."""
        fed = (tube.cylinder,) if isinstance(tube, Runner) else tube.cylinders
        banks = {head.name for head in self.heads if set(head.cylinders) & set(fed)}
        return next(iter(banks)) if len(banks) == 1 else ""

    def stock_of(self, tube: Runner | Secondary) -> tuple[Stock, ...]:
        """The lines of the shelf that are of a tube's size, a stepped one's at the collector."""
        return self.stock_for(tube.outer_radius)

    def stock_for(self, outer_radius: float) -> tuple[Stock, ...]:
        """The lines of the shelf that are of a size [mm]."""
        size = 2.0 * outer_radius
        return tuple(s for s in self.stock if not s.od or abs(s.od - size) < 1e-6)

    @property
    def head_flanges(self) -> tuple[FlatPart, ...]:
        """The head flanges: one a head, or one a port, in the ports' order."""
        return head_flanges_of(self.flats)

    @property
    def entry(self) -> TubeSize:
        """Size of tube that the runners begin in."""
        return TubeSize(self.runners[0].entry_outer, self.runners[0].entry_inner)

    @property
    def transitions(self) -> tuple[tuple[int, Transition], ...]:
        """Cylinder and transition of every runner, in the ports' order."""
        return tuple((runner.cylinder, runner.transition) for runner in self.runners)

    @property
    def part_name(self) -> str:
        """The name in the letters that every CAD reader keeps."""
        return self.name.replace("-", "_")


def head_flanges_of(flats: tuple[FlatPart, ...]) -> tuple[FlatPart, ...]:
    """The head flanges among plate parts, in their order."""
    return tuple(flat for flat in flats if flat.name.startswith("head_flange"))
