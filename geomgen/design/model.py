"""The frozen Design: everything that has been decided, in the head frame, mm and radians."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geomgen.design.flat_model import PLAIN as PLAIN
from geomgen.design.flat_model import Files as Files
from geomgen.design.flat_model import FlatPart as FlatPart
from geomgen.design.flat_model import Hole as Hole
from geomgen.design.flat_model import Kerf as Kerf
from geomgen.design.flat_model import Process as Process
from geomgen.design.growth import BY_DEFAULT, HotGrowth
from geomgen.families import Fitted
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame, Vec
from geomgen.profiles.loops import Loop
from geomgen.recipe.nodes import Group, Node, Part
from geomgen.routing.problem import Problem
from geomgen.spec.tools import Open, Ring, Socket
from geomgen.targets.model import TargetInputs


@dataclass(frozen=True)
class HeadPlace:
    """A head where it stands in the manifold's frame.

    Attributes:
        name: ``left`` or ``right``; empty where there is only one.
        frame: of its gasket face: z = 0 is the flange's gasket face, z out of the head.
        cylinders: of its ports, in their order along it.
        seat: height of the nuts' seat, the flange's tube side, over that face [mm].
    """

    name: str
    frame: Frame
    cylinders: tuple[int, ...]
    seat: float


@dataclass(frozen=True)
class Port:
    """A port of the head: ``frame`` at z = 0 of the flange's gasket face, z outward."""

    cylinder: int
    frame: Frame
    loop: Loop
    shape: str
    facts: tuple[tuple[str, float], ...] = ()
    """How well an outline from a file is known, by name with its unit."""


@dataclass(frozen=True)
class Stud:
    """A stud: root at the gasket face, along the head's normal.

    ``at`` is in its own head's frame; ``protrusion`` is measured from the head face [mm].
    ``head`` is the head's number, from 0.
    """

    name: str
    thread: str
    at: Vec
    protrusion: float
    head: int = 0


@dataclass(frozen=True)
class BoltedFlange:
    """A flange of the manifold that is bolted to something other than a head.

    Attributes:
        name: ``turbine flange``.
        frame: of its gasket face, z to the tube side.
        seat: height of the nuts' seat over that face [mm].
        studs: in its own frame.
    """

    name: str
    frame: Frame
    seat: float
    studs: tuple[Stud, ...]


@dataclass(frozen=True)
class AreaStation:
    """Bore area at a distance along one gas path [mm, mm2]."""

    station: float
    area: float
    what: str


@dataclass(frozen=True)
class LengthAccount:
    """What each part contributes to a tube's length, up to the stated end [mm].

    A primary's begins at z = 0, a secondary's at the first join of the tubes that feed it;
    ``junction`` is the part of that in the junction.
    """

    plate: float
    transition: float
    tube: float
    stub: float
    junction: float = 0.0

    @property
    def total(self) -> float:
        """Sum [mm]."""
        return self.plate + self.transition + self.tube + self.stub + self.junction


@dataclass(frozen=True)
class Transition:
    """Formed end and port-to-round transition of one runner.

    Attributes:
        entry: port frame at z = 0.
        plate: along the port's axis, where the formed end stops and the blend begins: the plate's
            thickness, and more where the port leans [mm].
        set_back: from z = 0 to the tube's end, square to the face [mm].
        length: of the blend along the port's axis [mm].
        along: of the blend along the centres of its sections [mm].
        exit: frame of the round end.
        wall_angle: steepest wall against the port's axis [rad].
        bore: matched loops of the bore at port and round end, in the port's x-y.
        half_width: farthest the outside reaches from the port's axis [mm].
        areas: bore area at stations from z = 0 to the round end.
        metal: its solid.
        gas: its bore, from z = 0.
        face: square to the gasket face, out of the head, where the port leans; None where its
            axis is that.
        chosen: whether the length was chosen by us (``auto``), not said.
    """

    entry: Frame
    plate: float
    set_back: float
    length: float
    along: float
    exit: Frame
    wall_angle: float
    bore: tuple[Loop, Loop]
    half_width: float
    areas: tuple[AreaStation, ...]
    metal: Node
    gas: Node
    face: Vec | None = None
    chosen: bool = False


@dataclass(frozen=True)
class TubeSection:
    """A stretch of a runner's tube: of one size, or an expander between two.

    Attributes:
        part: name of its part.
        path: its axis.
        outer, inner: radii at its start and its end [mm].
        moved: how far an expander stands from where the spec wants it [mm].
    """

    part: str
    path: Centreline
    outer: tuple[float, float]
    inner: tuple[float, float]
    moved: float = 0.0

    @property
    def is_step(self) -> bool:
        """Whether it is an expander."""
        return self.outer[0] != self.outer[1] or self.inner[0] != self.inner[1]


@dataclass(frozen=True)
class AttachedPart:
    """A part that stands on a runner, by the runner's name."""

    name: str
    node: Node
    runner: str


@dataclass(frozen=True)
class Attachment:
    """Something attached to the manifold's pipes, for checks and reports.

    Attributes:
        fitted: as it came out.
        cylinders: whose gas passes it; empty where nobody can say.
        of_scroll: cylinders of the gas volume that it touches.
    """

    fitted: Fitted
    cylinders: tuple[int, ...]
    of_scroll: tuple[int, ...] = ()


@dataclass(frozen=True)
class Runner:
    """One runner: from the round end of its transition to its slot at the collector.

    Attributes:
        path: transition's exit to the collector's entry face.
        target: wanted length from z = 0 to the stated end [mm].
        account: the parts that make up the length.
        to_ends: length from z = 0 to ``entry``, ``first-join`` and ``throat`` [mm].
        slot: index of the collector slot.
        outer_radius, inner_radius: of its tube; where it is stepped, at the collector.
        sections: tubes and expanders of a stepped one; empty where its tube is one.
        holes: in its tube, by name of the part: what is taken out.
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
    sections: tuple[TubeSection, ...] = ()
    holes: tuple[tuple[str, Node], ...] = ()

    @property
    def name(self) -> str:
        """``runner 1``, by its cylinder."""
        return f"runner {self.cylinder}"

    @property
    def part(self) -> str:
        """Name of its bent tube's part; of a stepped one, of the longest."""
        return max(self.tubes, key=lambda section: section.path.length).part

    @property
    def tubes(self) -> tuple[TubeSection, ...]:
        """Its tube, or tubes and expanders, in order."""
        whole = TubeSection(
            f"tube_{self.cylinder}", self.path, (self.outer_radius,) * 2, (self.inner_radius,) * 2
        )
        return self.sections or (whole,)

    @property
    def tube_parts(self) -> tuple[str, ...]:
        """Names of their parts."""
        return tuple(section.part for section in self.tubes)

    @property
    def entry_outer(self) -> float:
        """Outside radius where it leaves its transition [mm]."""
        return self.tubes[0].outer[0]

    @property
    def entry_inner(self) -> float:
        """Radius of the bore there [mm]."""
        return self.tubes[0].inner[0]

    def size_at(self, station: float) -> tuple[float, float]:
        """Outside and bore radius at a distance along its path; the wider one of a step [mm]."""
        at = 0.0
        for section in self.tubes:
            at += section.path.length
            if station < at - 1e-9:
                return section.outer[1], section.inner[1]
        return self.outer_radius, self.inner_radius

    @property
    def tube_gas(self) -> float:
        """Volume of its tube's bore [mm3]; of expanders as frustums."""
        return math.fsum(
            math.pi / 3.0 * (a * a + a * b + b * b) * section.path.length
            for section in self.tubes
            for a, b in (section.inner,)
        )

    @property
    def areas(self) -> tuple[AreaStation, ...]:
        """Bore area from z = 0 to its slot; beyond the transition only where it is stepped."""
        at = self.account.plate + self.account.transition
        rows = list(self.transition.areas)
        for section in self.sections:
            if section.is_step:
                rows.append(AreaStation(at, math.pi * section.inner[0] ** 2, "step"))
            at += section.path.length
            if section.is_step:
                rows.append(AreaStation(at, math.pi * section.inner[1] ** 2, "behind step"))
        return tuple(rows)

    @property
    def entry(self) -> Frame:
        """What its tube is welded to at its start."""
        return self.transition.exit


@dataclass(frozen=True)
class Secondary:
    """A tube from one junction to another, laid out as runners are.

    Attributes:
        name: ``secondary 1``.
        cylinders: whose gas it carries.
        slot: index of the slot that it ends in.
        entry: frame of the junction's round end, where it starts.
        path, target, account, to_ends: as of a runner; lengths count from the first join
            of the tubes that feed it.
    """

    name: str
    cylinders: tuple[int, ...]
    slot: int
    outer_radius: float
    inner_radius: float
    material: str
    entry: Frame
    path: Centreline
    target: float
    account: LengthAccount
    to_ends: tuple[tuple[str, float], ...]

    @property
    def part(self) -> str:
        """Name of its part."""
        return self.name.replace(" ", "_")

    def size_at(self, station: float) -> tuple[float, float]:  # noqa: ARG002 - one size
        """Outside and bore radius [mm]."""
        return self.outer_radius, self.inner_radius


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
        return tuple(flat for flat in self.flats if flat.name.startswith("head_flange"))

    @property
    def part_name(self) -> str:
        """The name in the letters that every CAD reader keeps."""
        return self.name.replace("-", "_")
