"""Contradictions between ``engine.banks`` and the heads: left and right are what they say.

A head says three things of its bank: the word, the cylinders, and by its place the side of the
crank. Where two agree, the third is told. Two more follow from the head's own frame: its ports
stand along the crank in the bank's order, and it stands upright on its bank. A head that is put on
the other side by a turn about the vertical has its ports the wrong way along the crank; by a
mirrored place, it stands on its head or looks into the engine; by neither, it is left and right
that are called after the other end.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from geomgen.errors import KeyPath, Problem
from geomgen.geometry.frames import Frame, Vec, angle_between, cross, dot, scale, sub, unit
from geomgen.spec.contradictions import Rule, Sections, complaint
from geomgen.spec.engine import ENDS, Banks, Engine, Head
from geomgen.spec.positions import cylinders, head_frame, port_centres

_ALONG = math.radians(45.0)
"""A row of ports that leads farther from the crank's direction than that leads across it."""
_AT_CRANK = math.radians(30.0)
"""No port looks nearer to straight at the crank than that: its own cylinder is there."""
_UPRIGHT = math.radians(30.0)
"""Nearer to the vertical than that a crank has no left and right."""

_BANKS: KeyPath = ("engine", "banks")


def rows(s: Sections) -> Iterator[Problem]:
    """The banks have every cylinder of the engine once, and as many each, but for an odd one."""
    if s.engine is None or s.engine.banks is None:
        return
    said, count = s.engine.banks, s.engine.cylinders
    if s.engine.layout == "inline":
        yield complaint(
            _BANKS,
            "banks of an engine that is inline",
            "banks of a vee or flat engine",
            "take banks out, or correct layout",
        )
        return
    wanted = set(range(1, count + 1))
    for side, other in (("left", ()), ("right", said.left)):
        numbers: tuple[int, ...] = getattr(said, side)
        twice = {n for k, n in enumerate(numbers) if n in numbers[:k] or n in other}
        strange = set(numbers) - wanted
        if twice or strange:
            what = "twice" if twice else f"of an engine with {count}"
            yield complaint(
                (*_BANKS, side),
                f"cylinder {_listed(sorted(twice or strange))} {what}",
                f"cylinders of {sorted(wanted)}, each once over both banks",
                "name the cylinders of each bank from the front to the flywheel",
            )
            return
    missing = sorted(wanted - {*said.left, *said.right})
    if missing or abs(len(said.left) - len(said.right)) > 1:
        short = "left" if len(said.left) < len(said.right) else "right"
        yield complaint(
            (*_BANKS, short),
            f"no cylinder {_listed(missing)} in either bank"
            if missing
            else f"{len(said.left)} cylinders left and {len(said.right)} right",
            f"all {count} cylinders, as many in each bank, or one more",
            "name the cylinders of each bank from the front to the flywheel",
        )


def level(s: Sections) -> Iterator[Problem]:
    """A crank that stands upright has no left and right."""
    if s.engine is None or s.engine.banks is None or s.vertical is None:
        return
    way, up = s.engine.banks.to_flywheel, s.vertical
    if not _upright(way, up):
        return
    yield complaint(
        (*_BANKS, "to_flywheel"),
        f"{list(way)}, within 30 deg of the vertical, {list(up)}",
        "the way along the crank, about square to vertical",
        "give the way that the crank leads to the flywheel, and vertical as it is in that frame",
    )


def _upright(way: Vec, up: Vec) -> bool:
    between = angle_between(unit(way), unit(up))
    return min(between, math.pi - between) < _UPRIGHT


@dataclass(frozen=True)
class _Seen:
    """A head as the engine sees it.

    Attributes:
        side: that all its ports stand on; empty where they stand on both, or on neither.
        order: its cylinders from the front to the flywheel.
        along: whether its row of ports leads along the crank.
        stands: whether it is upright on its bank, and does not look at the crank.
        inwards: whether its z has a part towards the crank.
        off: of its first port, from the upright plane through the crank [mm].
    """

    side: str
    order: tuple[int, ...]
    along: bool
    stands: bool
    inwards: bool
    off: float


def _seen(head: Head, engine: Engine, said: Banks, up: Vec) -> _Seen | None:
    """A head against the crank; None while its ports have no places."""
    numbers = cylinders(head, engine.cylinders)
    centres, frame = port_centres(head, len(numbers)), head_frame(head)
    if centres is None:
        return None
    way = unit(said.to_flywheel)
    left = unit(cross(way, up) if said.seen_from == "flywheel" else cross(up, way))
    from_crank = [sub(frame.point(c), said.crank) for c in centres]
    off = [dot(p, left) for p in from_crank]
    sides = {"left" if x > 0.0 else "right" for x in off if abs(x) > 1e-6}
    stations = [dot(p, way) for p in from_crank]
    out = sub(from_crank[0], scale(way, stations[0]))
    return _Seen(
        side=next(iter(sides)) if len(sides) == 1 and min(map(abs, off)) > 1e-6 else "",
        order=tuple(n for _, n in sorted(zip(stations, numbers, strict=True))),
        along=abs(dot(unit(frame.x), way)) > math.cos(_ALONG),
        stands=_stands(frame, out),
        inwards=dot(frame.z, out) < 0.0,
        off=abs(off[0]),
    )


def _stands(frame: Frame, out: Vec) -> bool:
    """Whether y leads away from the crank, and z not straight at it.

    A head sits on the far end of its cylinders, so up its face is away from the crank, and
    between its ports and the crank is its bank.

    Args:
        frame: of the head.
        out: to its first port, square from the crank's axis [mm].
    """
    if not dot(out, out) > 0.0 or dot(frame.y, out) < 0.0:
        return False
    return angle_between(frame.z, scale(unit(out), -1.0)) > _AT_CRANK


_Fault = Literal["cylinders", "bank", "across", "place", "turned", "ends", "x", "z", "order"]


def _fault(head: Head, numbers: tuple[int, ...], said: Banks, seen: _Seen | None) -> _Fault | None:
    """What is wrong with a head, the likeliest single thing."""
    own: tuple[int, ...] = getattr(said, head.bank or "left")
    if not set(numbers) <= set(own):
        other = said.right if head.bank == "left" else said.left
        swapped = set(numbers) <= set(other) and seen is not None and seen.side != head.bank
        return "bank" if swapped else "cylinders"
    if seen is None:
        return None
    if not seen.along:
        return "across"
    ordered = seen.order == tuple(n for n in own if n in numbers)
    if seen.side != head.bank:
        if not seen.side or not seen.stands:
            return "place"
        return "ends" if ordered else "turned"
    if not seen.stands:
        return "z" if ordered and seen.inwards else "x"
    return None if ordered else "order"


def sides(s: Sections) -> Iterator[Problem]:
    """Every head has the cylinders of its bank, on its side of the crank, in their order."""
    engine, up = s.engine, s.vertical
    if engine is None or engine.banks is None or s.heads is None or up is None:
        return
    said = engine.banks
    if engine.layout == "inline" or _upright(said.to_flywheel, up) or any(rows(s)):
        return
    found: list[tuple[int, Head, _Fault, _Seen | None]] = []
    for i, head in enumerate(s.heads):
        seen = _seen(head, engine, said, up)
        numbers = cylinders(head, engine.cylinders)
        fault = _fault(head, numbers, said, seen) if head.bank is not None else None
        if head.place is None and len(s.heads) > 1 and fault not in ("cylinders", "bank"):
            continue  # that it has no place is said already
        if fault is not None:
            found.append((i, head, fault, seen))
    if all(fault == "ends" for _, _, fault, _ in found) and len(found) == len(s.heads):
        found = found[:1]  # told once
    else:  # the other head has them from the right end
        found = [(i, h, "place" if fault == "ends" else fault, x) for i, h, fault, x in found]
    if len(found) > 1 and all(fault == "turned" for _, _, fault, _ in found):
        yield complaint(
            (*_BANKS, "to_flywheel"),
            f"{list(said.to_flywheel)}, by which both heads are on the other bank's side, and "
            "their ports the other way along the crank",
            "the way from the front of the engine to the flywheel",
            "turn it round, or, if it is right, exchange the places of the two heads",
        )
        return
    yield from (_told(i, head, fault, seen, engine, said) for i, head, fault, seen in found)


def _told(
    i: int, head: Head, fault: _Fault, seen: _Seen | None, engine: Engine, said: Banks
) -> Problem:
    """A head's fault in words, at the key to change."""
    bank, path = head.bank or "", ("heads", i)
    own: tuple[int, ...] = getattr(said, bank)
    numbers = list(cylinders(head, engine.cylinders))
    if fault == "cylinders":
        strange = _listed([n for n in numbers if n not in own])
        return complaint(
            (*path, "cylinders"),
            f"cylinders {numbers} on the {bank} bank, which has no {strange}",
            f"cylinders of {list(own)}, as engine.banks.{bank} has them",
            "correct the cylinders, or engine.banks",
        )
    if fault == "bank":
        other = "right" if bank == "left" else "left"
        return complaint(
            (*path, "bank"),
            f"bank: {bank}, with cylinders {numbers}, which engine.banks gives to the {other}",
            f"{other}",
            f"write bank: {other}, or correct the cylinders and the place",
        )
    assert seen is not None
    if head.place is None and fault in ("across", "place", "turned", "x", "z"):
        return complaint(
            (*_BANKS, "to_flywheel" if fault in ("across", "turned") else "crank"),
            f"a crank by which the head, at the origin, is not on the {bank} bank",
            "a point of the crank's axis, and the way along it, in the frame of this head",
            "measure them from the centre of its first port: x along the head, y up, z out of it; "
            "or give the head a place in the engine's frame",
        )
    return _misplaced(path, bank, fault, seen, said, numbers)


def _misplaced(
    path: KeyPath, bank: str, fault: _Fault, seen: _Seen, said: Banks, numbers: list[int]
) -> Problem:
    """A head that is not where or how its bank stands."""
    end, crank = ENDS[said.seen_from], "engine.banks.crank"
    where = f"{seen.off:g} mm to the {seen.side} of the crank" if seen.side else "astride the crank"
    if fault == "order":
        own: tuple[int, ...] = getattr(said, bank)
        return complaint(
            (*path, "cylinders"),
            f"{numbers}, which stand {_listed(seen.order)} from the front to the flywheel",
            f"{_listed([n for n in own if n in numbers])} from the front to the flywheel, as "
            f"engine.banks.{bank} has them",
            "name them in the order of the ports along the head; or correct the ports' places",
        )
    if fault == "ends":
        return complaint(
            (*_BANKS, "seen_from"),
            f"{said.seen_from}, by which the {bank} bank's ports are {where}",
            f"the end from which the {bank} bank is on the {bank}",
            "look from the other end, or exchange left and right throughout; and see that vertical "
            "is the way up",
        )
    key, found, allowed, remedy = {
        "across": (
            "x",
            "a row of ports that leads across the crank",
            f"x along the crank, which leads {list(said.to_flywheel)}, or the other way",
            "x points along the row of ports, to the right as one looks at the head from outside",
        ),
        "place": (
            "at",
            f"ports {where}, on a head of the {bank} bank",
            f"ports to the {bank} of the crank, seen from {end}",
            f"correct the place, or {crank}",
        ),
        "turned": (
            "",
            f"ports {where}, and the wrong way along it, on a head of the {bank} bank",
            f"ports to the {bank} of the crank, seen from {end}",
            "see that it is not the other bank's place; or turn engine.banks.to_flywheel round",
        ),
        "x": (
            "x",
            "a head that stands upside down: y, which is z cross x, leads to the crank",
            "x to the right as one looks at the head from outside, so that y is up its face",
            f"turn x round, or correct {crank}",
        ),
        "z": (
            "z",
            "a head that looks into its own bank",
            "z out of the head, the way the gas leaves",
            f"turn z round, or correct {crank}",
        ),
    }[fault]
    return complaint((*path, "place", key) if key else (*path, "place"), found, allowed, remedy)


def _listed(numbers: list[int] | tuple[int, ...]) -> str:
    return ", ".join(map(str, numbers))


RULES: tuple[Rule, ...] = (rows, level, sides)
