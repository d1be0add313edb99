"""The path of a torch: loops moved into the scrap by half the kerf, with lead-ins.

Every path has its scrap on the left: openings run counter-clockwise, outlines clockwise, so a
torch whose better bevel is on its right puts it on the part (common practice, no source; it
depends on the swirl). It pierces in the scrap, runs into the edge, goes once round and a
little on.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from geomgen.profiles.crossings import point_at, stretch
from geomgen.profiles.distances import inside, point_to_loop, segment_to_segment
from geomgen.profiles.loops import (
    Arc,
    Line,
    Loop,
    Point2,
    Segment,
    area,
    backwards,
    heading,
    perimeter,
)
from geomgen.profiles.union import erode

Lead = Literal["arc", "line"]

CORNER = 10.0
"""Arcs of an opening that are tighter than this [mm] are its corners, where no path begins."""

_SHARES = tuple(k / 20.0 for k in range(20, 1, -1))
_SLACK = 1e-6


@dataclass(frozen=True)
class TorchPath:
    """One open path round a loop [mm].

    Attributes:
        lead: from the pierce point to the edge; empty where there was no room for any.
        round: the whole way round, beginning and ending where the lead met the edge.
        overrun: the way on over the beginning.
        pierce: from the pierce point to the nearest edge of the finished part.
    """

    lead: Loop
    round: Loop
    overrun: Loop
    pierce: float

    @property
    def pieces(self) -> Loop:
        """All of it."""
        return (*self.lead, *self.round, *self.overrun)


def moved(loop: Loop, kerf: float, opening: bool) -> Loop | None:
    """A loop moved into its scrap by half the kerf, with the scrap on its left, exact.

    Args:
        loop: outline or opening, either way round.
        kerf: width of the cut [mm].
        opening: whether the scrap is inside.

    Returns:
        None where the cut has no room: an opening narrower than the kerf, or one that the
        kerf would leave in pieces.
    """
    around = loop if area(loop) > 0.0 else backwards(loop)
    loops = erode((around if opening else backwards(around),), kerf / 2.0)
    return loops[0] if len(loops) == 1 else None


def torch_path(
    loop: Loop, kerf: float, opening: bool, wanted: float, lead: Lead, overrun: float
) -> TorchPath | None:
    """The path that cuts a loop to its net size; None where the kerf has no room.

    It begins where the pierce point gets ``wanted`` away from every edge, or as near to that
    as there is room: on the longest straight, else on the longest arc, never in a corner.

    Args:
        loop: outline or opening.
        kerf: width of the cut [mm].
        opening: whether the scrap is inside.
        wanted: from pierce point to edge [mm].
        lead: along a quarter circle if there is room, or square to the edge.
        overrun: beyond the place where the path met the edge [mm].
    """
    path = moved(loop, kerf, opening)
    if path is None:
        return None
    starts = sorted(_starts(path, opening), key=lambda s: (isinstance(s.piece, Arc), -s.length))
    kinds: tuple[Lead, ...] = ("arc", "line") if lead == "arc" else ("line",)
    for share in _SHARES:
        for kind in kinds:
            for start in starts:
                run = _lead(start, kind, share * wanted - kerf / 2.0)
                if run and (pierce := _pierce(run[0], loop, kerf, opening)) is not None:
                    return _from(path, start, run, pierce, overrun)
    return _from(path, starts[0], (), 0.0, overrun)


@dataclass(frozen=True)
class _Start:
    """A place where a path may begin: fraction of its k-th piece."""

    k: int
    piece: Segment
    fraction: float

    @property
    def length(self) -> float:
        return round(self.piece.length, 6)


def _starts(path: Loop, opening: bool) -> Iterator[_Start]:
    """Places away from corners, middles of pieces first; if there is nothing else, any."""
    tight = [isinstance(p, Arc) and opening and p.radius < CORNER for p in path]
    free = [k for k in range(len(path)) if not tight[k]] or list(range(len(path)))
    for fraction in (0.5, 0.3, 0.7):
        for k in free:
            yield _Start(k, path[k], fraction)


def _lead(start: _Start, kind: Lead, reach: float) -> Loop:
    """A lead whose pierce point stands ``reach`` beside the path, on its left."""
    if reach <= _SLACK:
        return ()
    at = point_at(start.piece, start.fraction)
    way = heading(start.piece, start.fraction)
    left = (-math.sin(way), math.cos(way))
    beside = (at[0] + reach * left[0], at[1] + reach * left[1])
    if kind == "line":
        return (Line(beside, at),)
    return (Arc(beside, reach, way - math.pi, math.pi / 2.0),)


def _pierce(lead: Segment, net: Loop, kerf: float, opening: bool) -> float | None:
    """Room about the pierce point [mm]; None where the lead would cut into the part."""
    start: Point2 = lead.start
    if inside(start, net) is not opening:
        return None
    if any(segment_to_segment(lead, piece) < kerf / 2.0 - _SLACK for piece in net):
        return None
    room = point_to_loop(start, net)
    across = lead.length if isinstance(lead, Line) else lead.radius
    return room if room >= across + kerf / 2.0 - _SLACK else None


def _from(path: Loop, start: _Start, lead: Loop, pierce: float, overrun: float) -> TorchPath:
    """The path begun at a place."""
    after, before = path[start.k + 1 :], path[: start.k]
    first = stretch(start.piece, start.fraction, 1.0)
    last = stretch(start.piece, 0.0, start.fraction)
    whole = (first, *after, *before, last)
    return TorchPath(lead, whole, _beginning(whole, min(overrun, perimeter(path) / 2)), pierce)


def _beginning(whole: Loop, length: float) -> Loop:
    """The first stretch of a path."""
    pieces: list[Segment] = []
    for piece in whole:
        if length <= _SLACK:
            break
        pieces.append(stretch(piece, 0.0, min(1.0, length / piece.length)))
        length -= piece.length
    return tuple(pieces)
