"""What is decided before any runner is laid out, as far as checks can judge it.

A check that needs no layout takes a ``Ground``: a ``Design`` is one, and so is the
``Groundwork`` that stands before there is a design.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from geomgen.design.attaching import first_size
from geomgen.design.engine_rows import EngineRows
from geomgen.design.fixed import Fixed
from geomgen.design.growth import HotGrowth
from geomgen.design.model import FlatPart, Limits, Port, Transition, head_flanges_of
from geomgen.design.said_flange import growth_of
from geomgen.families import Layout, TubeSize
from geomgen.spec.header import HeaderSpec

Groups = tuple[tuple[int, ...], ...]


class Joins(Protocol):
    """Who meets in a collector, and its numbers."""

    @property
    def groups(self) -> Groups:
        """Cylinders that meet at each junction, the last where all have met."""

    @property
    def facts(self) -> tuple[tuple[str, float], ...]:
        """Numbers by name with unit suffix, as far as they are known."""


class Ground(Protocol):
    """What needs no layout."""

    @property
    def firing_order(self) -> tuple[int, ...]:
        """Cylinder numbers."""

    @property
    def engine(self) -> EngineRows:
        """How its cylinders stand."""

    @property
    def collector(self) -> Joins:
        """Downstream of the runners."""

    @property
    def flats(self) -> tuple[FlatPart, ...]:
        """Plate parts, one DXF each."""

    @property
    def head_flanges(self) -> tuple[FlatPart, ...]:
        """The head flanges among them."""

    @property
    def ports(self) -> tuple[Port, ...]:
        """By cylinder."""

    @property
    def entry(self) -> TubeSize:
        """Size of tube that the runners begin in."""

    @property
    def transitions(self) -> tuple[tuple[int, Transition], ...]:
        """Cylinder and transition of every runner, in the ports' order."""

    @property
    def growth(self) -> HotGrowth:
        """How hot flange and head get."""

    @property
    def limits(self) -> Limits:
        """What checks hold the design against."""


@dataclass(frozen=True)
class Joined:
    """Who meets in a collector that no runner leads to yet; see ``Joins``."""

    groups: Groups
    facts: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Groundwork:
    """A ``Ground`` that no runner stands on yet."""

    firing_order: tuple[int, ...]
    engine: EngineRows
    collector: Joined
    flats: tuple[FlatPart, ...]
    ports: tuple[Port, ...]
    entry: TubeSize
    transitions: tuple[tuple[int, Transition], ...]
    growth: HotGrowth
    limits: Limits

    @property
    def head_flanges(self) -> tuple[FlatPart, ...]:
        """The head flanges: one a head, or one a port, in the ports' order."""
        return head_flanges_of(self.flats)


def groundwork(spec: HeaderSpec, fixed: Fixed) -> Groundwork:
    """What is decided of a spec before its runners are laid out."""
    layout = fixed.layout
    return Groundwork(
        spec.engine.firing_order,
        EngineRows.of(spec),
        Joined(groups_of(layout, fixed.asked.cylinders), layout.facts),
        flats_of(fixed),
        fixed.ports,
        first_size(spec, fixed.tube),
        tuple((p.cylinder, t) for p, t in zip(fixed.ports, fixed.transitions, strict=True)),
        growth_of(spec, fixed.limits),
        fixed.limits,
    )


def flats_of(fixed: Fixed) -> tuple[FlatPart, ...]:
    """Every plate part; a casting's flange is one with it and is none."""
    own = () if fixed.layout.casting else fixed.flanges
    return (*own, *fixed.plates.flats)


def groups_of(layout: Layout, cylinders: tuple[int, ...]) -> Groups:
    """Cylinders that meet at each junction, the last where all have met.

    Which slot of a junction a runner ends in is for the router to say; which junction is not.

    Args:
        layout: of the family.
        cylinders: in the order of their ports.
    """
    taken = dict(layout.takes)
    feeds: list[set[int]] = [set() for _ in layout.slots]
    for place, cylinder in enumerate(cylinders):
        # Where the family lays the runners, each has the slot of its own place in the row.
        own = (place,) if layout.laid is not None else range(len(layout.slots))
        for slot in taken.get(cylinder, own):
            feeds[slot].add(cylinder)
    for link in layout.links:
        gas = set(_all(feeds, link.feeds))
        for slot in link.slots:
            feeds[slot] |= gas
    rings = layout.rings or (tuple(range(len(layout.slots))),)
    if layout.laid is not None:  # nothing stands in rings there
        rings = tuple(scroll.slots for scroll in layout.scrolls)
    groups = tuple(tuple(sorted(_all(feeds, ring))) for ring in rings)
    if layout.bolted and len(groups) > 1:  # of a divided inlet they all meet in the turbine
        groups = (*groups, tuple(sorted(cylinders)))
    return groups


def _all(feeds: list[set[int]], slots: Iterable[int]) -> set[int]:
    return {cylinder for slot in slots for cylinder in feeds[slot]}
