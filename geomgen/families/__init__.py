"""Families of manifold, one file each: what a spec may say of it and what it lays out.

A family module defines ``KIND``, ``Spec`` (what the user says), and
``lay_out(spec, asked) -> Layout``: the slots that the router must reach and everything
downstream of them. A family whose junctions may stand where they like also defines
``junctions(spec, asked)``; it is laid out again for every choice of their poses. One whose
primaries have a tuned length of their own defines ``first_length()`` [mm], and one that does not
bring all tubes together at once ``first_join(spec)``: how many meet first and the bore behind
that [mm]. One that lays the primaries itself says ``LAYS_RUNNERS = True``. It works in mm and
takes angles of its Spec in degrees; it knows nothing of files or kernels.
"""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.families._mounted import Bolted, Branch, Kept
from geomgen.families._mounted import Fitted as Fitted
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame, Vec
from geomgen.plates import Plate
from geomgen.recipe.nodes import NamedFace, Node


@dataclass(frozen=True)
class TubeSize:
    """Round tube by its radii [mm]."""

    outer_radius: float
    inner_radius: float


@dataclass(frozen=True)
class Start:
    """Where one primary leaves its transition.

    Attributes:
        cylinder: its number.
        exit: pose of the transition's round end; z is the way the gas goes.
    """

    cylinder: int
    exit: Frame


@dataclass(frozen=True)
class Asked:
    """What a family is laid out for.

    Attributes:
        tube: of the primaries.
        starts: the primaries, in their order along the heads.
        firing_order: of the whole engine, cylinder numbers.
        up: direction that roll 0 is counted from, in the manifold's frame.
        material: grade of the primaries' tube.
        poses: of the junctions that may stand where they like, in their order; empty where
            the family has none, or before they are chosen.
        book_length: what the book's length rule gives for a 4-1 primary from z = 0 [mm]; None
            where the spec lacks a number for it.
        counted: end that lengths are counted to.
    """

    tube: TubeSize
    starts: tuple[Start, ...]
    firing_order: tuple[int, ...]
    up: Vec
    material: str = "304"
    poses: tuple[Frame, ...] = ()
    book_length: float | None = None
    counted: str = "first-join"

    @property
    def count(self) -> int:
        """Number of primaries."""
        return len(self.starts)

    @property
    def cylinders(self) -> tuple[int, ...]:
        """Their numbers, in their order along the heads."""
        return tuple(start.cylinder for start in self.starts)


@dataclass(frozen=True)
class Piece:
    """One solid of a collector, before it has its final name.

    Attributes:
        name: ``stub``, ``cone``, ``outlet``.
        slot: the slot it belongs to; None when it serves all.
        node: its solid.
        material: grade; that of the primaries when left out.
    """

    name: str
    slot: int | None
    node: Node
    material: str = ""


@dataclass(frozen=True)
class Envelope:
    """A collector's part as a bar of round section, for clearances [mm].

    Attributes:
        name: of the part.
        slot: that it continues; None when it serves all.
        path: its axis, the way the gas goes.
        radius: outside.
        link: number of the link that starts from it, or None.
        takes: slots of the tubes that run into it, whose last straights need not keep clear.
        free: length before their slots over which they need not keep clear, where the family
            lays them and has seen to it that they do [mm].
        around: whether it lies round the end of its slot's own tube: held against obstacles, but
            not against tubes, which stand apart there by the array.
    """

    name: str
    slot: int | None
    path: Centreline
    radius: float
    link: int | None = None
    takes: tuple[int, ...] = ()
    free: float = 0.0
    around: bool = False


@dataclass(frozen=True)
class AreaAt:
    """Bore area at a distance from the slot along one gas path [mm, mm2]."""

    station: float
    area: float
    what: str


@dataclass(frozen=True)
class Link:
    """A tube between two junctions that the router lays out too: a secondary.

    Attributes:
        name: what it is called, ``secondary 1``.
        start: pose that it leaves its junction by.
        slots: that it may end in.
        tube: its size.
        material: grade.
        length: wanted from the first join of the tubes that feed it to the first join, or
            whatever end the primaries are counted to, behind its slot.
        before: part of that length in the junction, before ``start``.
        feeds: slots of the tubes that feed it.
    """

    name: str
    start: Frame
    slots: tuple[int, ...]
    tube: TubeSize
    material: str
    length: float
    before: float
    feeds: tuple[int, ...]


@dataclass(frozen=True)
class Scroll:
    """One gas volume: what it is fed by, and where it leaves.

    Attributes:
        name: empty where there is only one.
        slots: of the primaries whose gas it holds.
        gas: bores, meeting face to face with the runners' bores.
        outlets: named ends.
        links: numbers of the links whose gas it holds.
    """

    name: str
    slots: tuple[int, ...]
    gas: tuple[Node, ...]
    outlets: tuple[NamedFace, ...]
    links: tuple[int, ...] = ()


@dataclass(frozen=True)
class Amounts:
    """What a family's own pieces and bores come to, in closed form.

    Attributes:
        metal: volume by grade [mm3].
        gas: volume of the bores [mm3].
        wall: area that the gas touches [mm2].
        outside: area that the air touches, without the rims of open ends [mm2].
    """

    metal: tuple[tuple[str, float], ...]
    gas: float
    wall: float
    outside: float


@dataclass(frozen=True)
class Casting:
    """All metal of a manifold as one casting, its head flange too.

    Attributes:
        grade: of the iron or steel.
        density: [kg/m3]; None for that of the grade.
    """

    grade: str
    density: float | None = None


Ends = tuple[tuple[str, float], ...]
"""Length from a slot to ``entry``, ``first-join`` and ``throat`` [mm]."""


@dataclass(frozen=True)
class Layout:
    """Everything downstream of the runners.

    Attributes:
        frame: the collector's own frame at its entry face.
        slots: entry poses, in order round each ring; z is the way the gas goes.
        ends: of every slot, the length to each end that lengths may be counted to.
        pieces: the metal.
        scrolls: bores of the same, one gas volume each.
        envelopes: what runners must keep clear of.
        areas: bore area from slot to outlet along one gas path; after a join the whole bore
            there, whose gas the tubes share.
        outlet: frame at the far end.
        facts: further numbers for the report, by name with unit suffix.
        rings: slots of each junction, in order round it; without any, all are of one.
        takes: slots that a primary may take, by cylinder; any, where it is not named.
        links: tubes between junctions.
        laid: the primaries themselves, in their order, where the family lays them out and
            nothing is left for the router.
        plates: flat parts that belong to it.
        bolted: flanges among them that are bolted to something other than a head.
        kept: what hangs on the manifold and its pipes keep clear of.
        branches: round pipes behind the merges, that a branch may be taken from.
        amounts: of its pieces and bores; None where there is no closed form.
        casting: set where all metal is one casting.
        in_line: whether the slots stand in a row, not round the collector.
        inside: how far a primary's end is inside the collector: its last straight is that long
            at least [mm].
        fitted: what is attached to its pipes.
    """

    frame: Frame
    slots: tuple[Frame, ...]
    ends: tuple[Ends, ...]
    pieces: tuple[Piece, ...]
    scrolls: tuple[Scroll, ...]
    envelopes: tuple[Envelope, ...]
    areas: tuple[AreaAt, ...]
    outlet: Frame
    facts: tuple[tuple[str, float], ...]
    rings: tuple[tuple[int, ...], ...] = ()
    takes: tuple[tuple[int, tuple[int, ...]], ...] = ()
    links: tuple[Link, ...] = ()
    laid: tuple[Centreline, ...] | None = None
    plates: tuple[Plate, ...] = ()
    bolted: tuple[Bolted, ...] = ()
    kept: tuple[Kept, ...] = ()
    branches: tuple[Branch, ...] = ()
    amounts: Amounts | None = None
    casting: Casting | None = None
    in_line: bool = False
    inside: float = 0.0
    fitted: tuple[Fitted, ...] = ()


class DoesNotFit(Exception):
    """A family cannot be laid out with these numbers; ``key`` says which one to change."""

    def __init__(self, key: tuple[str | int, ...], found: str, allowed: str, remedy: str) -> None:
        super().__init__(f"{'.'.join(map(str, key))}: found {found}; allowed: {allowed}; {remedy}")
        self.key, self.found, self.allowed, self.remedy = key, found, allowed, remedy
