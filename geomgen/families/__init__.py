"""Families of manifold, one file each: what a spec may say of it and what it lays out.

A family module defines ``KIND``, ``Spec`` (what the user says), and
``lay_out(spec, tube, count, limits) -> Layout``: the slots that the router must reach
and everything downstream of them. It works in mm and takes angles of its Spec in degrees
through the numbers that ``design`` hands it; it knows nothing of files or kernels.
"""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame
from geomgen.plates import Plate
from geomgen.recipe.nodes import NamedFace, Node


@dataclass(frozen=True)
class TubeSize:
    """Round tube by its radii [mm]."""

    outer_radius: float
    inner_radius: float


@dataclass(frozen=True)
class Piece:
    """One solid of a collector, before it has its final name.

    Attributes:
        name: ``stub``, ``cone``, ``outlet``.
        slot: the slot it belongs to; None when it serves all.
        node: its solid.
    """

    name: str
    slot: int | None
    node: Node


@dataclass(frozen=True)
class Envelope:
    """A collector's part as a bar of round section, for clearances [mm]."""

    name: str
    slot: int | None
    path: Centreline
    radius: float


@dataclass(frozen=True)
class AreaAt:
    """Bore area at a distance from the slot along one gas path [mm, mm2]."""

    station: float
    area: float
    what: str


@dataclass(frozen=True)
class Layout:
    """Everything downstream of the runners.

    Attributes:
        frame: the collector's own frame at its entry face.
        slots: entry poses in order round the collector; z is the way the gas goes.
        stub: length from a slot to ``entry``, ``first-join`` and ``throat`` [mm].
        pieces: the metal.
        gas: bores of the same, meeting face to face with the runners' bores.
        envelopes: what runners must keep clear of.
        areas: bore area from slot to outlet, all tubes together after the first join
            counted as the share of one collector.
        outlet: frame at the far end.
        outlet_face: the gas volume's named end.
        facts: further numbers for the report, by name with unit suffix.
        centre_gap: slot centres' distance from the collector's axis [mm].
        plates: flat parts that belong to the family: the turbine's inlet flange.
    """

    frame: Frame
    slots: tuple[Frame, ...]
    stub: tuple[tuple[str, float], ...]
    pieces: tuple[Piece, ...]
    gas: tuple[Node, ...]
    envelopes: tuple[Envelope, ...]
    areas: tuple[AreaAt, ...]
    outlet: Frame
    outlet_face: NamedFace
    facts: tuple[tuple[str, float], ...]
    plates: tuple[Plate, ...] = ()


class DoesNotFit(Exception):
    """A family cannot be laid out with these numbers; ``key`` says which one to change."""

    def __init__(self, key: tuple[str, ...], found: str, allowed: str, remedy: str) -> None:
        super().__init__(f"{'.'.join(key)}: found {found}; allowed: {allowed}; {remedy}")
        self.key, self.found, self.allowed, self.remedy = key, found, allowed, remedy
