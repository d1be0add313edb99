"""Tubes that are laid out, and what is attached to them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.design.head_model import AreaStation, LengthAccount, Transition
from geomgen.families import Fitted
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame
from geomgen.recipe.nodes import Node


@dataclass(frozen=True)
class TubeSection:
    """A stretch of a runner's tube: of one size, or an expander between two.

    Attributes:
        part: name of its part.
        path: its axis.
        outer, inner: radii at its start and its end [mm].
        moved: how far an expander stands from where the spec wants it [mm].
        within: how far it may [mm].
        must: whether it fails beyond that.
    """

    part: str
    path: Centreline
    outer: tuple[float, float]
    inner: tuple[float, float]
    moved: float = 0.0
    within: float = 0.0
    must: bool = False

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
