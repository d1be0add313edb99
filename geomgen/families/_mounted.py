"""What a family adds to a manifold beside pipes: bolted flanges, what hangs on it, branches."""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.fields import Field
from geomgen.geometry.frames import Frame, Vec
from geomgen.profiles.loops import Loop


@dataclass(frozen=True)
class Bolt:
    """A stud, or a bolt with its nut on the tube side; or a bolt with its head there.

    Attributes:
        name: ``turbine 1``.
        thread: ``M10``.
        at: its root in the flange's frame, on the face of what it stands in [mm].
        protrusion: how far it stands out of that face [mm].
        length: under the head of a bolt that is screwed in from the tube side; 0 where a nut
            goes on [mm].
    """

    name: str
    thread: str
    at: Vec
    protrusion: float
    length: float = 0.0


@dataclass(frozen=True)
class Bolted:
    """A flange of the manifold that is bolted to something other than a head.

    Attributes:
        name: what it is called, ``turbine flange``.
        frame: z = 0 is its gasket face, z to the tube side.
        outline: its edge, in that frame.
        seat: height of the nuts' seat [mm].
        bolts: in their order.
        far: bolts that are screwed into the flange itself from its other side, in its frame
            turned half round about y.
        far_seat: height of their heads' seat there, over the gasket face [mm].
        welded: names of envelopes of what is welded on it within its edge, as a clamp's band goes.
    """

    name: str
    frame: Frame
    outline: Loop
    seat: float
    bolts: tuple[Bolt, ...]
    far: tuple[Bolt, ...] = ()
    far_seat: float = 0.0
    welded: tuple[str, ...] = ()


@dataclass(frozen=True)
class Kept:
    """Something that hangs on the manifold, that its pipes keep clear of.

    It comes off with the manifold, or before it, and so bars no way off the studs.

    Attributes:
        name: what it is called in every report.
        kind: of obstacle, which decides the gap: ``block``, ``line``, ...
        field: its solid, in the manifold's frame.
        gap: its own [mm]; that of its kind when None.
    """

    name: str
    kind: str
    field: Field
    gap: float | None = None


@dataclass(frozen=True)
class Branch:
    """A round pipe that a branch may be taken from, behind the merge of all that feed it.

    A wastegate's branch leaves it anywhere along ``path``: every runner of its scroll has
    passed into it there, and none of another scroll.

    Attributes:
        name: of the piece that it stands on, ``pipe``.
        scroll: whose gas it holds; empty where there is only one.
        path: axis of the pipe, the way the gas goes.
        outer_radius: of the pipe [mm].
        inner_radius: of its bore [mm].
        slots: of the primaries that feed it.
        toward: the way to the other scroll, which a branch leaves away from; None where
            there is only one.
    """

    name: str
    scroll: str
    path: Centreline
    outer_radius: float
    inner_radius: float
    slots: tuple[int, ...]
    toward: Vec | None = None


@dataclass(frozen=True)
class Fitted:
    """Something that is attached to the manifold's pipes, as it came out: for checks and reports.

    Attributes:
        kind: of attachment, ``wastegate``.
        name: what it is called.
        host: pipe that it stands on, ``outlet`` or ``runner 1``.
        slots: of the primaries whose gas passes it; empty where nobody can say.
        at: where its axis leaves the host's axis [mm].
        axis: the way from there.
        flow: the way the gas goes there.
        use: what for, ``oxygen``.
        scroll: whose gas it touches; empty where there is only one.
        facts: its numbers, by name with unit suffix.
        room: axis and radius of the room that it wants outside the host [mm].
        ahead: how far its foot reaches along the host from ``at``, with the gas [mm].
    """

    kind: str
    name: str
    host: str
    slots: tuple[int, ...]
    at: Vec
    axis: Vec
    flow: Vec
    use: str = ""
    scroll: str = ""
    facts: tuple[tuple[str, float], ...] = ()
    room: tuple[Centreline, float] | None = None
    ahead: float = 0.0
