"""What hangs on a manifold's pipes, whatever its family: one file a kind.

An attachment module defines ``KIND``, ``Spec`` (what the user says; its ``kind`` is
``Literal[KIND]``), ``ORDER`` (kinds are put on in this order) and ``ROUTED``, whether runners
have to know of it. Of two functions it has at least one:

- ``on_collector(spec, host) -> Attached``, before runners are routed: its envelopes are bodies for
  the router, its plates flat parts. ``Spec.on`` names a pipe of the collector.
- ``on_tubes(spec, host) -> Attached``, once runners are laid out. ``Spec.on`` names a runner.

Both raise ``DoesNotFit`` with a key below the attachment. ``steps`` alone changes the runners
themselves, and has functions of its own. Lengths in mm, angles of a ``Spec`` in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.families import AreaAt, Fitted, Layout, Piece
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Vec
from geomgen.plates import Plate
from geomgen.recipe.nodes import NamedFace, Node


@dataclass(frozen=True)
class HostPipe:
    """A round pipe that an attachment may hold on to.

    Attributes:
        name: what a spec calls it: ``outlet``, ``pipe_a``, ``runner 1``.
        part: the piece, or the part of the runner, that it is.
        path: its axis, the way the gas goes.
        outer_radius: outside [mm].
        inner_radius: of its bore [mm].
        slots: of the primaries whose gas passes all of it; empty where that depends on the place.
        scroll: whose gas it holds; empty where there is only one.
        before: length from z = 0 to the path's start, of a runner [mm].
        toward: the way to the other scroll.
        bore: its bore among the scroll's, which another bore may be joined to.
        last: whether the manifold's outlet is its end.
    """

    name: str
    part: str
    path: Centreline
    outer_radius: float
    inner_radius: float
    slots: tuple[int, ...] = ()
    scroll: str = ""
    before: float = 0.0
    toward: Vec | None = None
    bore: Node | None = None
    last: bool = False


@dataclass(frozen=True)
class Host:
    """A manifold as far as it is made.

    Attributes:
        layout: of its family, with what is attached already.
        pipes: that may be held on to.
        up: which way is up.
        material: grade of the primaries.
        edge_factor: hole centre to edge over hole diameter, of plates [-].
    """

    layout: Layout
    pipes: tuple[HostPipe, ...]
    up: Vec
    material: str
    edge_factor: float = 1.5

    def called(self, name: str) -> tuple[HostPipe, ...]:
        """The pipes of a name; those of every scroll where the name leaves its letter out."""
        exact = tuple(pipe for pipe in self.pipes if pipe.name == name)
        return exact or tuple(p for p in self.pipes if p.scroll and p.name == f"{name}_{p.scroll}")


@dataclass(frozen=True)
class Hole:
    """A hole in a pipe's part: ``tool`` is what it takes out, ``volume`` of the wall [mm3]."""

    part: str
    tool: Node
    volume: float


@dataclass(frozen=True)
class Bore:
    """A bore that is joined to a host's: its solid outside the host's, and its named end."""

    host: HostPipe
    node: Node
    face: NamedFace


@dataclass(frozen=True)
class Bar:
    """Room that a part takes, as a bar of round section [mm]."""

    name: str
    path: Centreline
    radius: float


@dataclass(frozen=True)
class Tail:
    """Pipe behind the outlet that goes on with its bore: its parts have been given already.

    Attributes:
        paths: axes of its parts, from the outlet on.
        bore: radius [mm].
    """

    paths: tuple[Centreline, ...]
    bore: float


@dataclass(frozen=True)
class OnPipe:
    """A plate on the end of a pipe, and the pipe's radius [mm]."""

    plate: Plate
    radius: float


@dataclass(frozen=True)
class Added:
    """What an attachment's parts add, in closed form; holes in the host are left out.

    Attributes:
        metal: volume [mm3]; flat parts do not count.
        gas: volume of bores [mm3].
        wall: area that the gas touches [mm2].
        outside: area that the air touches [mm2].
    """

    metal: float = 0.0
    gas: float = 0.0
    wall: float = 0.0
    outside: float = 0.0

    def __add__(self, other: Added) -> Added:
        """Both together."""
        return Added(
            self.metal + other.metal,
            self.gas + other.gas,
            self.wall + other.wall,
            self.outside + other.outside,
        )


@dataclass(frozen=True)
class Attached:
    """What an attachment comes to.

    Attributes:
        pieces: its parts; ``slot`` is not looked at.
        holes: in parts of the manifold.
        bores: that its gas has.
        bars: what runners must keep clear of.
        plates: flat parts.
        loose: flat parts that are no part of the manifold, or stand within the bars' room.
        areas: bore area behind the outlet, stations counted from there.
        facts: numbers for the report, by name with unit suffix.
        fitted: for checks.
        tail: pipe behind the outlet.
        added: what its parts come to.
    """

    pieces: tuple[Piece, ...] = ()
    holes: tuple[Hole, ...] = ()
    bores: tuple[Bore, ...] = ()
    bars: tuple[Bar, ...] = ()
    plates: tuple[OnPipe, ...] = ()
    loose: tuple[Plate, ...] = ()
    areas: tuple[AreaAt, ...] = ()
    facts: tuple[tuple[str, float], ...] = ()
    fitted: tuple[Fitted, ...] = ()
    tail: Tail | None = None
    added: Added = Added()
