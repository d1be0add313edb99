"""What stands before any tube is laid out: heads, ports, studs, transitions, lengths."""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.geometry.frames import Frame, Vec
from geomgen.profiles.loops import Loop
from geomgen.recipe.nodes import Node


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
    """A stud: root at the gasket face, along the head's normal. Or a bolt in its place.

    ``at`` is in its own head's frame; ``protrusion`` is measured from the head face [mm].
    ``head`` is the head's number, from 0. ``bolt`` is the length under the head of a bolt, which
    goes in and comes out along its axis; 0 of a stud, which stays and takes a nut [mm].
    """

    name: str
    thread: str
    at: Vec
    protrusion: float
    head: int = 0
    bolt: float = 0.0

    @property
    def called(self) -> str:
        """What findings call it: ``stud 1a``, ``bolt turbine 2``."""
        return f"{'bolt' if self.bolt else 'stud'} {self.name}"


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
class Joint:
    """A joint with what comes next, that the layout was made without: it is measured afterwards.

    Attributes:
        name: ``gate flange``.
        frame: z away from the joint, to the side that its fasteners are put in from; of a
            V-band the plane where its rings meet, z to the tube.
        seat: height of the nuts' or heads' seat over the frame's origin [mm].
        studs: studs with nuts, or bolts, in the frame; none of a V-band.
        own: names of the manifold's parts that it is, which bar nothing.
        ring: outside radius of a V-band's rings; 0 where it is bolted [mm].
        pipes: names of the pipes that end in it.
    """

    name: str
    frame: Frame
    seat: float
    studs: tuple[Stud, ...]
    own: tuple[str, ...]
    ring: float = 0.0
    pipes: tuple[str, ...] = ()


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
