"""The closed vocabulary of solids. Metal and gas volume are both written in it.

Every node is frozen and hashable, so equal parts are built once and shared.
"""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame, Plane, Vec
from geomgen.profiles.loops import CurvedLoop, Profile


@dataclass(frozen=True)
class Tube:
    """Round tube along a centreline; ``inner_radius`` 0 makes it a solid rod [mm]."""

    centreline: Centreline
    outer_radius: float
    inner_radius: float = 0.0


@dataclass(frozen=True)
class Prism:
    """A profile in the frame's x-y plane, drawn out along +z by ``depth`` [mm]."""

    frame: Frame
    profile: Profile
    depth: float


@dataclass(frozen=True)
class Section:
    """A closed loop in the x-y plane of a frame."""

    frame: Frame
    loop: CurvedLoop


@dataclass(frozen=True)
class RuledWall:
    """Solid between flat sections, joined piece by piece with ruled faces.

    Neighbouring sections have loops of equal segment count; segment i of one is joined
    with segment i of the next by straight lines at equal parameter. A degenerate line
    (start equals end) stands for a corner. ``inner`` hollows it and has as many sections,
    in the same frames; an empty ``inner`` leaves it solid.
    """

    outer: tuple[Section, ...]
    inner: tuple[Section, ...] = ()


@dataclass(frozen=True)
class Trim:
    """``node`` with everything on the normal's side of any plane cut away."""

    node: Node
    planes: tuple[Plane, ...]


@dataclass(frozen=True)
class Cut:
    """``node`` without what any of the tools fills: a hole, a saddle."""

    node: Node
    tools: tuple[Node, ...]


@dataclass(frozen=True)
class Fuse:
    """Nodes that touch face to face, made one solid; the faces between them vanish."""

    nodes: tuple[Node, ...]


@dataclass(frozen=True)
class Placed:
    """``node`` carried from the world frame into ``frame`` (rigid motion)."""

    node: Node
    frame: Frame


Node = Tube | Prism | RuledWall | Trim | Cut | Fuse | Placed


@dataclass(frozen=True)
class NamedFace:
    """Name for the flat face of a part that passes through ``point`` square to ``normal``."""

    name: str
    point: Vec
    normal: Vec


@dataclass(frozen=True)
class Part:
    """One product: a name ``[a-z0-9_]+``, a colour (sRGB 0 to 1), one closed solid."""

    name: str
    node: Node
    colour: tuple[float, float, float]
    faces: tuple[NamedFace, ...] = ()


@dataclass(frozen=True)
class Group:
    """A named branch of the assembly tree."""

    name: str
    children: tuple[Part | Group, ...]


def parts_of(branch: Part | Group) -> tuple[Part, ...]:
    """All parts below a branch, in order."""
    if isinstance(branch, Part):
        return (branch,)
    return tuple(part for child in branch.children for part in parts_of(child))
