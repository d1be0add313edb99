"""What stands already: pins on the layout in the lock, and tube that is tacked on the bench.

A pin means the piece that had its number when it was pinned. The lock remembers where that
piece stands, so the pin keeps its meaning when a new layout gives the piece another number:
for as long as the pins of that runner are left as they are. Once they are edited, all of
that runner's numbers are those of the layout in the lock, the newest bend table.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from geomgen.design.lock import Lock, Pinned, old_paths
from geomgen.design.standing import (
    TOUCH,
    bend_part,
    joined,
    legs,
    meets,
    place_of,
    straight_part,
)
from geomgen.errors import KeyPath, SpecError
from geomgen.errors import Problem as Complaint
from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight
from geomgen.geometry.frames import distance
from geomgen.routing.floor import floor_of
from geomgen.routing.problem import Edge, Problem, shelf_of
from geomgen.spec.bench import Bench, Pin
from geomgen.spec.header import HeaderSpec

_LENGTH_SLIP = 0.01
_END_SLIP = 1e-6
_LONGEST = 5000.0
"""No tube is longer while its length is still sought [mm]."""


@dataclass(frozen=True)
class Standing:
    """A problem in which everything that stands is kept, and the pins for its lock."""

    problem: Problem
    pins: tuple[Pinned, ...]


def with_kept(spec: HeaderSpec, problem: Problem, lock: Lock | None) -> Standing:
    """The problem with what is pinned and tacked in its edges' ``kept`` and ``slots``.

    Args:
        spec: what was said.
        problem: without anything kept.
        lock: the layout that the pins name parts of; None when there is none.

    Raises:
        SpecError: a pin names nothing, or what stands cannot be part of its runner.
    """
    if not spec.pins and not spec.bench:
        return Standing(problem, ())
    wrong: list[Complaint] = []
    edges: list[Edge] = []
    pins: list[Pinned] = []
    paths = old_paths(lock, problem) if lock is not None else ()
    for i, edge in enumerate(problem.edges):
        path = paths[i] if paths else None
        slot = lock.slots[i] if lock is not None else None
        runner = _Runner(edge, path, slot, tuple(p for p in _held(lock) if p.runner == edge.name))
        try:
            kept, own = _kept(spec, runner, problem)
        except SpecError as error:
            wrong.extend(error.problems)
            continue
        edges.append(kept)
        pins.extend(own)
    if wrong:
        raise SpecError(tuple(wrong))
    return Standing(replace(problem, edges=tuple(edges)), tuple(pins))


def kept_pieces(edge: Edge, path: Centreline) -> frozenset[int]:
    """Places in a path of the pieces that stood before it was laid out."""
    places = (place_of(path, part, _END_SLIP) for part in edge.kept)
    return frozenset(index for place in places for index in place or ())


def numbers_now(pins: Iterable[Pinned], name: str, path: Centreline) -> dict[str, str]:
    """What a runner's pinned parts are called in a layout, by what they are pinned as."""
    return {pin.part: _called(path, pin) or pin.part for pin in pins if pin.runner == name and path}


@dataclass(frozen=True)
class _Runner:
    """One runner: what is asked, and where the lock has it."""

    edge: Edge
    path: Centreline | None
    slot: int | None
    held: tuple[Pinned, ...]


def _held(lock: Lock | None) -> tuple[Pinned, ...]:
    return lock.pins if lock is not None else ()


def _kept(spec: HeaderSpec, runner: _Runner, problem: Problem) -> tuple[Edge, tuple[Pinned, ...]]:
    edge = runner.edge
    pins = [(i, p) for i, p in enumerate(spec.pins) if f"runner {p.runner}" == edge.name]
    tacked = [(i, b) for i, b in enumerate(spec.bench) if f"runner {b.runner}" == edge.name]
    whole = [i for i, pin in pins if pin.part == "whole"]
    if whole:
        return _whole(runner, ("pins", whole[0]), problem), ()
    if not pins and not tacked:
        return edge, ()
    most = _LONGEST if spec.runners.length == "shortest" else edge.length
    prefix = _prefix(edge, tacked[0]) if tacked else None
    if prefix is not None:
        where: KeyPath = ("bench", tacked[0][0], "tacked")
        _fits(edge, prefix.length, most, where, "what is tacked")
        _reaches(edge, prefix, most, problem, where)
    parts = _parts(runner, pins, prefix)
    before = () if prefix is None else (prefix,)
    kept = joined((*before, *(part.path for part in parts)), edge.start)
    if pins:
        where = ("pins", pins[-1][0])
        _fits(edge, math.fsum(part.length for part in kept), most, where, "all that stands")
    return replace(edge, kept=kept, slots=_slots(edge, kept, problem, where)), parts


def _slots(
    edge: Edge, kept: tuple[Centreline, ...], problem: Problem, where: KeyPath
) -> tuple[int, ...] | None:
    """A part that ends in a slot leaves no other."""
    for k, slot in enumerate(problem.slots):
        if meets(kept[-1].end, slot, _END_SLIP):
            _may_take(edge, k, where)
            return (k,)
    return edge.slots


def _may_take(edge: Edge, slot: int, where: KeyPath) -> None:
    if edge.slots is not None and slot not in edge.slots:
        raise _refused(
            where,
            f"{edge.name}, which ends in slot {slot}",
            f"a runner in the slot that the spec gives it: {', '.join(map(str, edge.slots))}",
            "change runners.slots, or take the pin out",
        )


# Whole runners


def _whole(runner: _Runner, where: KeyPath, problem: Problem) -> Edge:
    edge, path, slot = runner.edge, runner.path, runner.slot
    if path is None or slot is None:
        raise _no_layout(edge.name, where)
    if not meets(path.start, edge.start, _END_SLIP):
        off = distance(path.start.origin, edge.start.origin)
        raise _refused(
            where,
            f"{edge.name}, whose port or transition now ends {off:.2f} mm from where it began",
            "a whole runner whose ends are where they were",
            "put the port back, or pin the bends that are to stay instead",
        )
    target = problem.slots[slot]
    if not meets(path.end, target, _END_SLIP):
        off = distance(path.end.origin, target.origin)
        raise _refused(
            where,
            f"{edge.name}, whose slot is now {off:.2f} mm from where it ends",
            "a whole runner whose ends are where they were",
            "put the collector back, or pin the bends that are to stay instead",
        )
    if abs(path.length - edge.length) > _LENGTH_SLIP:
        raise _refused(
            where,
            f"{edge.name}, which is {path.length - edge.length:+.2f} mm off the length asked now",
            "a whole runner of the length that is asked",
            "give that runner its own length in runners.length, or take the pin out",
        )
    _may_take(edge, slot, where)
    return replace(edge, kept=(Centreline(edge.start, path.pieces),), slots=(slot,))


# Bends and straights


def _parts(
    runner: _Runner, pins: list[tuple[int, Pin]], prefix: Centreline | None
) -> tuple[Pinned, ...]:
    """Parts that are pinned, where they stand, in order along the tube."""
    if not pins:
        return ()
    name, path = runner.edge.name, runner.path
    if path is None:
        raise _no_layout(name, ("pins", pins[0][0]))
    asked = {pin.part for _, pin in pins}
    if asked == {pin.part for pin in runner.held}:
        found = list(runner.held)
    else:
        _unambiguous(runner, pins)
        found = [Pinned(name, pin.part, _numbered(path, pin, i)) for i, pin in pins]
    ordered = sorted(found, key=lambda part: _station(path, part.path))
    for part in ordered:
        if prefix is not None and _station(path, part.path) < prefix.length - TOUCH:
            (where,) = (i for i, pin in pins if pin.part == part.part)
            raise _refused(
                ("pins", where),
                f"{part.part} of {name}, within the {prefix.length:.1f} mm that are tacked",
                "a pin beyond what is tacked",
                "take the pin out: what is tacked stands as it is",
            )
    return tuple(ordered)


def _numbered(path: Centreline, pin: Pin, index: int) -> Centreline:
    if pin.bend is not None:
        found = bend_part(path, pin.bend)
        has = f"bends 1 to {len(path.bends)}" if path.bends else "no bend"
    else:
        found = straight_part(path, pin.straight or 0)
        there = [str(i) for i, leg in enumerate(legs(path), 1) if leg.length > TOUCH]
        has = f"straights {', '.join(there)}"
    if found is None:
        raise _refused(
            ("pins", index),
            f"{pin.part} of runner {pin.runner}",
            f"a part of that runner in the lock, which has {has}",
            "count as the bend table does: a straight has the number of the bend behind it",
        )
    return found


def _unambiguous(runner: _Runner, pins: list[tuple[int, Pin]]) -> None:
    """Refuse an old number beside new ones, when the piece has another number by now."""
    path = runner.path
    asked = {pin.part: i for i, pin in pins}
    for held in runner.held:
        now = _called(path, held) if path is not None else None
        if now is not None and now != held.part and held.part in asked and now not in asked:
            raise _refused(
                ("pins", asked[held.part]),
                f"{held.part} of {held.runner}, which was pinned as {held.part} and is {now} "
                "in the layout now",
                "the numbers of the newest bend table, once a runner's pins are edited",
                f"write {now.replace(' ', ': ')} for it; to pin what is {held.part} now instead, "
                "take the old pin out, solve, then pin",
            )


def _called(path: Centreline, pin: Pinned) -> str | None:
    """What a pinned part is called in a path: ``bend 2``."""
    place = place_of(path, pin.path, _END_SLIP)
    if place is None:
        return None
    if isinstance(pin.path.pieces[0], Bend):
        bends = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
        return f"bend {bends.index(place[0]) + 1}"
    number = next(i for i, leg in enumerate(legs(path), 1) if place[0] in leg.pieces)
    return f"straight {number}"


def _station(path: Centreline, part: Centreline) -> float:
    """Where a part begins along a path [mm]."""
    place = place_of(path, part, _END_SLIP) or (0,)
    before = math.fsum(piece.length for piece in path.pieces[: place[0]])
    if isinstance(part.pieces[0], Straight):
        return before + distance(path.frames[place[0]].origin, part.start.origin)
    return before


# The bench


def _prefix(edge: Edge, tacked: tuple[int, Bench]) -> Centreline:
    """What is tacked, from the runner's start; straights in a row are one."""
    pieces: list[Piece] = []
    for said in tacked[1].tacked:
        last = pieces[-1] if pieces else None
        if said.bend is not None:
            angle, clock = math.radians(said.angle or 0.0), math.radians(said.clock or 0.0)
            pieces.append(Bend(said.bend, angle, clock))
        elif isinstance(last, Straight):
            pieces[-1] = Straight(last.length + (said.straight or 0.0))
        else:
            pieces.append(Straight(said.straight or 0.0))
    return Centreline(edge.start, tuple(pieces))


def _fits(edge: Edge, length: float, most: float, where: KeyPath, what: str) -> None:
    if length > most + _LENGTH_SLIP:
        raise _refused(
            where,
            f"{length:.1f} mm of {edge.name}",
            f"at most {most:.1f} mm, the whole tube from transition to collector",
            f"{what} is longer than the runner: measure again, or ask for a longer runner",
        )


def _reaches(edge: Edge, prefix: Centreline, most: float, problem: Problem, where: KeyPath) -> None:
    """Refuse what is tacked when no tube of the length that is left gets to any slot."""
    left = most - prefix.length
    least = min(radius.clr for radius in shelf_of(problem, edge).radii)
    slots = problem.slots if edge.slots is None else [problem.slots[k] for k in edge.slots]
    floor = min(floor_of(prefix.end, slot, least) for slot in slots)
    if floor > left + _LENGTH_SLIP:
        raise _refused(
            where,
            f"{prefix.length:.1f} mm of {edge.name}, which leave {left:.1f} mm of tube",
            f"so much tacked that {floor:.1f} mm are left: no tube gets to the collector in less",
            "cut the last pieces again, or ask for a longer runner",
        )


# Complaints


def _no_layout(name: str, where: KeyPath) -> SpecError:
    return _refused(
        where,
        f"a pin on {name}, and no lock beside the spec that says where it stands",
        "pins on a layout that has been solved and kept",
        "take the pins out, run geomgen route, then pin what is to stay",
    )


def _refused(where: KeyPath, found: str, allowed: str, remedy: str) -> SpecError:
    return SpecError((Complaint(where, found, allowed, remedy),))
