"""Parts of a tube that stand in space: picked by number, joined, found again in another path."""

from __future__ import annotations

from dataclasses import dataclass, replace

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, add, angle_between, distance, dot, scale, sub

TOUCH = 1e-9
"""Two parts this near one another, in mm and in rad, are one tube."""


@dataclass(frozen=True)
class Leg:
    """A straight as the bend table counts it: all straight pieces before one bend.

    Attributes:
        start: where it begins.
        length: of all its pieces [mm]; 0 where bend is welded to bend.
        pieces: their places in the path.
    """

    start: Frame
    length: float
    pieces: tuple[int, ...]


def legs(path: Centreline) -> tuple[Leg, ...]:
    """The straights of a path: one before each bend, and the last."""
    found: list[Leg] = []
    start, length, pieces = path.start, 0.0, list[int]()
    for i, (frame, piece) in enumerate(zip(path.frames[1:], path.pieces, strict=True)):
        if isinstance(piece, Straight):
            length += piece.length
            pieces.append(i)
        else:
            found.append(Leg(start, length, tuple(pieces)))
            start, length, pieces = frame, 0.0, []
    return (*found, Leg(start, length, tuple(pieces)))


def bend_part(path: Centreline, number: int) -> Centreline | None:
    """A bend of a path where it stands, by its number from 1; None when there is none."""
    numbers = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
    if not 1 <= number <= len(numbers):
        return None
    index = numbers[number - 1]
    bend = path.pieces[index]
    assert isinstance(bend, Bend)
    # Its frame carries the roll, so that the part means the same whatever came before it.
    return Centreline(path.frames[index].rolled(bend.roll), (replace(bend, roll=0.0),))


def straight_part(path: Centreline, number: int) -> Centreline | None:
    """A straight of a path where it stands, by its number from 1; None when there is none."""
    found = legs(path)
    if not 1 <= number <= len(found) or found[number - 1].length <= TOUCH:
        return None
    leg = found[number - 1]
    return Centreline(leg.start, (Straight(leg.length),))


def meets(a: Frame, b: Frame, within: float = TOUCH) -> bool:
    """Whether two frames have the same origin and direction, to within mm and rad."""
    return distance(a.origin, b.origin) <= within and angle_between(a.z, b.z) <= within


def joined(parts: tuple[Centreline, ...], start: Frame) -> tuple[Centreline, ...]:
    """The same parts, those that touch made one; what begins at ``start`` begins at it exactly."""
    found: list[Centreline] = []
    for part in parts:
        if found and meets(found[-1].end, part.start):
            found[-1] = found[-1].joined(part.based_on(found[-1].end))
        elif not found and meets(start, part.start):
            found.append(part.based_on(start))
        else:
            found.append(part)
    return tuple(found)


def with_prefix(path: Centreline, kept: tuple[Centreline, ...]) -> Centreline:
    """The same path, its first pieces to the last digit those that it is to begin with.

    A router works with corners; what comes back from them is right to 1e-9 mm, and what was
    tacked is a fact in the digits that it was written down in.
    """
    prefix = kept[0].pieces if kept and kept[0].start == path.start else ()
    if not prefix or place_of(path, kept[0]) is None:
        return path
    last = prefix[-1].length if isinstance(prefix[-1], Straight) else 0.0
    head = prefix[:-1] if last else prefix
    bends = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
    held = len(Centreline(path.start, prefix).bends)
    # The last straight of what is kept may go on in the straight that follows.
    leg = legs(path)[held].length
    straight = leg if leg > last + TOUCH else last
    rest = path.pieces[bends[held] :] if held < len(bends) else ()
    return Centreline(
        path.start, (*head, *((Straight(straight),) if straight > TOUCH else ()), *rest)
    )


def place_of(path: Centreline, part: Centreline, within: float = TOUCH) -> tuple[int, ...] | None:
    """Which pieces of a path hold a part where it stands; None when they do not.

    Args:
        path: of the whole tube.
        part: pieces of tube in space. A straight may be part of a longer one.
        within: how far each may be off [mm, rad].
    """
    found: list[int] = []
    for frame, piece in zip(part.frames, part.pieces, strict=False):
        held = (
            _bend_in(path, frame, piece, within)
            if isinstance(piece, Bend)
            else _straight_in(path, frame, piece, within)
        )
        if held is None:
            return None
        found += held
    return tuple(dict.fromkeys(found))


def _bend_in(path: Centreline, frame: Frame, bend: Bend, within: float) -> tuple[int, ...] | None:
    turned = frame.rolled(bend.roll)
    for i, (other, piece) in enumerate(zip(path.frames, path.pieces, strict=False)):
        if (
            isinstance(piece, Bend)
            and abs(piece.radius - bend.radius) <= within
            and abs(piece.angle - bend.angle) <= within
            and meets(turned, other, within)
            and angle_between(turned.x, other.rolled(piece.roll).x) <= within
        ):
            return (i,)
    return None


def _straight_in(
    path: Centreline, frame: Frame, straight: Straight, within: float
) -> tuple[int, ...] | None:
    for leg in legs(path):
        along = dot(sub(frame.origin, leg.start.origin), leg.start.z)
        foot = add(leg.start.origin, scale(leg.start.z, along))
        if (
            along >= -within
            and along + straight.length <= leg.length + within
            and distance(foot, frame.origin) <= within
            and angle_between(leg.start.z, frame.z) <= within
        ):
            return leg.pieces
    return None
