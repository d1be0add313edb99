"""A tube's centreline found again from the cylinders and tori of its skin.

Nothing but surfaces is looked at: a cylinder's axis between the ends of its face is a
straight, the circle of a torus' tube centres between the ends of its face is a bend.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.gp import gp_Ax3
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

from geomgen.geometry.frames import Vec, add, angle_between, distance, dot, norm, scale, sub, unit
from geomgen.proofs._step_parts import TubePart
from geomgen.proofs._step_reading import Unreadable
from geomgen.solids.measure import faces_of, surface_kind

JOINED = 0.01
"""Ends of pieces nearer than this are one joint [mm]."""

SAME_RADIUS = 1e-4
"""Faces of one skin agree in radius to this [mm]."""


@dataclass(frozen=True)
class ReadPiece:
    """One straight (``radius`` and ``angle`` 0) or bend, with its ends and the way along.

    Attributes:
        start, end: points on the centreline [mm].
        outset, onward: directions of travel there.
        length: along the centreline [mm].
        radius: CLR [mm].
        angle: degree of bend [rad].
    """

    start: Vec
    end: Vec
    outset: Vec
    onward: Vec
    length: float
    radius: float = 0.0
    angle: float = 0.0

    def turned(self) -> ReadPiece:
        """The piece travelled the other way."""
        return ReadPiece(
            self.end,
            self.start,
            scale(self.onward, -1.0),
            scale(self.outset, -1.0),
            self.length,
            self.radius,
            self.angle,
        )


@dataclass(frozen=True)
class ReadTube:
    """A tube as its skin shows it.

    Attributes:
        pieces: in order of travel.
        kink: worst angle between one piece's end and the next one's start [rad].
        radii: of outside and bore; one only for a rod [mm].
    """

    pieces: tuple[ReadPiece, ...]
    kink: float
    radii: tuple[float, ...]

    @property
    def length(self) -> float:
        """Along the centreline [mm]."""
        return math.fsum(piece.length for piece in self.pieces)

    @property
    def joints(self) -> tuple[Vec, ...]:
        """Start, every joint, end [mm]."""
        return (self.pieces[0].start, *(piece.end for piece in self.pieces))


@dataclass(frozen=True)
class ReadHole:
    """A round hole through a tube's wall: its walls are no part of the tube's skin [mm]."""

    point: Vec
    axis: Vec
    radius: float


def read_tube(shape: TopoDS_Shape, start: Vec, holes: tuple[ReadHole, ...] = ()) -> ReadTube:
    """Centreline of a tube, from the end nearest ``start``. Bore and outside must agree.

    Args:
        shape: as read.
        start: near the end that it begins at.
        holes: through its wall; each must be there, and once.

    Raises:
        Unreadable: the skin is not that of one tube.
    """
    skins: list[tuple[float, list[ReadPiece]]] = []
    seen: set[int] = set()
    for face in faces_of(shape):
        found = _piece(face)
        if found is None:
            continue
        radius, piece = found
        own = [i for i, hole in enumerate(holes) if _walls(hole, radius, piece)]
        if own:
            seen.update(own)
            continue
        for known, pieces in skins:
            if abs(known - radius) < SAME_RADIUS:
                pieces.append(piece)
                break
        else:
            skins.append((radius, [piece]))
    if len(seen) < len(holes):
        raise Unreadable(f"{len(holes) - len(seen)} of {len(holes)} holes are not there")
    if not 1 <= len(skins) <= 2:
        raise Unreadable(f"the skin has {len(skins)} radii, a tube has two")
    skins.sort(key=lambda skin: -skin[0])
    chains = [_chained(pieces, start) for _, pieces in skins]
    tube = chains[-1]
    for other in chains[:-1]:
        if len(other) != len(tube) or any(
            distance(a.end, b.end) > JOINED for a, b in zip(other, tube, strict=True)
        ):
            raise Unreadable("bore and outside do not run along one centreline")
    kinks = [angle_between(a.onward, b.outset) for a, b in pairwise(tube)]
    return ReadTube(tuple(tube), max(kinks, default=0.0), tuple(radius for radius, _ in skins))


def read_holes(tube: TubePart) -> tuple[ReadHole, ...]:
    """The holes that the design has in a tube."""
    return tuple(
        ReadHole(
            hole.tool.centreline.start.origin, hole.tool.centreline.start.z, hole.tool.outer_radius
        )
        for hole in tube.holes
    )


def _walls(hole: ReadHole, radius: float, piece: ReadPiece) -> bool:
    """Whether a cylinder is a hole's own."""
    away = sub(piece.start, hole.point)
    off = norm(sub(away, scale(hole.axis, dot(away, hole.axis))))
    along = abs(dot(piece.outset, hole.axis))
    near = abs(radius - hole.radius) < SAME_RADIUS and off < JOINED
    return near and piece.radius == 0.0 and along > 1.0 - 1e-9


def _piece(face: TopoDS_Face) -> tuple[float, ReadPiece] | None:
    kind = surface_kind(face)
    surface = BRepAdaptor_Surface(face)
    if kind == "cylinder":
        cylinder = surface.Cylinder()
        origin, _, _, z = _system(cylinder.Position())
        a, b = surface.FirstVParameter(), surface.LastVParameter()
        start, end = add(origin, scale(z, a)), add(origin, scale(z, b))
        return float(cylinder.Radius()), ReadPiece(start, end, z, z, abs(b - a))
    if kind == "torus":
        torus = surface.Torus()
        return float(torus.MinorRadius()), _bend(surface, float(torus.MajorRadius()))
    if kind != "plane":
        raise Unreadable(f"a tube has no {kind} face")
    return None


def _bend(surface: BRepAdaptor_Surface, radius: float) -> ReadPiece:
    origin, x, y, _ = _system(surface.Torus().Position())
    a, b = surface.FirstUParameter(), surface.LastUParameter()

    def at(u: float) -> tuple[Vec, Vec]:
        c, s = math.cos(u), math.sin(u)
        out = add(scale(x, c), scale(y, s))
        return add(origin, scale(out, radius)), add(scale(x, -s), scale(y, c))

    (start, outset), (end, onward) = at(a), at(b)
    return ReadPiece(start, end, outset, onward, radius * (b - a), radius, b - a)


def _system(position: gp_Ax3) -> tuple[Vec, Vec, Vec, Vec]:
    o = position.Location()
    axes = (position.XDirection(), position.YDirection(), position.Direction())
    x, y, z = (unit((d.X(), d.Y(), d.Z())) for d in axes)
    return (o.X(), o.Y(), o.Z()), x, y, z


def _chained(pieces: list[ReadPiece], start: Vec) -> list[ReadPiece]:
    """The pieces end to end, from the one with an end nearest ``start``."""
    left = [way for piece in pieces for way in (piece, piece.turned())]
    chain = [min(left, key=lambda piece: distance(piece.start, start))]
    while True:
        # Both ways of a piece stand at 2k and 2k + 1; a piece is used one way only.
        k = left.index(chain[-1]) // 2 * 2
        del left[k : k + 2]
        if not left:
            return chain
        following = min(left, key=lambda piece: distance(piece.start, chain[-1].end))
        gap = distance(following.start, chain[-1].end)
        if gap > JOINED:
            raise Unreadable(f"the centreline is broken: a gap of {gap:.4g} mm")
        chain.append(following)
