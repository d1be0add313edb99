"""4-2-1: tubes in pairs, each pair's tube on to a last merge. Also 6-3-1, 8-4-1, and 6-2-1.

The pairs, of a 6-2-1 the threes, follow from the firing order: the widest gap inside each. Each
has a merge of its own that may stand where the tubes reach it; a secondary leads from there to
the last merge. A primary's length ends at its first merge, a secondary's runs from that merge's
first join to the first join of the last.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field

from geomgen.families import (
    Asked,
    DoesNotFit,
    Envelope,
    Layout,
    Link,
    Piece,
    Scroll,
    Start,
    TubeSize,
)
from geomgen.families._merging import Merged, MergeSize, merge
from geomgen.families._paired import (
    FirstMerge,
    Secondary,
    Whole,
    areas,
    facts,
    middle_of,
    on_parabola,
)
from geomgen.families.merge import Outlet, outlet_path
from geomgen.geometry.frames import Frame, Vec, add, dot, norm, scale, sub, unit
from geomgen.recipe.nodes import NamedFace, Tube
from geomgen.routing.junctions import Junction
from geomgen.targets.book import FIRST_PRIMARY, secondary_length
from geomgen.targets.grouping import best_groups
from geomgen.units import (
    Angle,
    Direction,
    Point,
    Quantity,
    Size,
    Span,
    StrictModel,
)

KIND = "4-2-1"

_ROOM, _LEAN = 80.0, 25.0
"""Room of a junction, either way [mm], and lean of its axis [deg], where the spec says none."""

_MOST_ROOM, _MOST_LEAN = 200.0, 50.0
"""The same where nothing is found in those."""

_WORDS = {2: "pair", 3: "three"}
"""What tubes that go together are called, by how many there are."""

_SLACK = 1.12
"""Length of a secondary over the way between its ends, for a junction's middle."""


class Spec(StrictModel):
    """Tubes in pairs or threes, each into a secondary, the secondaries into one outlet."""

    family: Literal["4-2-1", "6-3-1", "8-4-1", "6-2-1"]
    """Primaries in pairs, of a 6-2-1 in threes; a secondary a pair, one outlet. The first number
    is of primaries, the second of secondaries."""
    at: Point
    """Axis of the last merge at its entry face."""
    direction: Direction
    """The way the gas goes along that axis."""
    roll: Angle = 0.0
    """Clocking of the secondaries about that axis, clockwise looking the way the gas goes; at 0
    two of them lie side by side, level."""
    pairs: tuple[Annotated[tuple[Whole, ...], Field(min_length=2, max_length=3)], ...] | None = None
    """Cylinders that go together, ``[[1, 4], [2, 3]]``, of a 6-2-1 ``[[1, 2, 3], [4, 5, 6]]``;
    those with the widest gap between their firings without it."""
    merges: tuple[FirstMerge, ...] | None = None
    """The pairs' merges, in the order of the pairs: where they may stand. Anywhere between
    ports and last merge without it."""
    secondary: Secondary
    """The tubes between the merges."""
    merge_angle: Annotated[float, Field(gt=0, lt=60), Quantity("angle")] = 10.0
    """From a tube's axis to its merge's axis; the included angle is twice that."""
    entry_gap: Span = 2.0
    """Between neighbouring tubes at the merges' entry faces."""
    throat: Size | None = None
    """Diameter of a circle with the bore area wanted at the last merge's trim plane; the
    outlet's bore when not given. A pair's merge has the secondary's bore there."""
    outlet: Outlet
    """The pipe behind the last merge."""


def _numbers(spec: Spec) -> tuple[int, int]:
    """How many primaries and secondaries there are."""
    primaries, secondaries, _ = map(int, spec.family.split("-"))
    return primaries, secondaries


def _each(spec: Spec) -> int:
    """How many primaries a first merge takes."""
    primaries, secondaries = _numbers(spec)
    return primaries // secondaries


def pairs_of(spec: Spec, asked: Asked) -> tuple[tuple[int, ...], ...]:
    """Cylinders that go together, as said or by the firing order.

    Raises:
        DoesNotFit: they are not all the cylinders, each once.
    """
    wanted, count = _numbers(spec)
    each = _each(spec)
    if asked.count != wanted:
        raise DoesNotFit(
            ("collector", "family"),
            f"{spec.family} for {asked.count} cylinders",
            f"{wanted} cylinders, which are the heads'",
            "choose another family, or correct the heads' cylinders",
        )
    if spec.pairs is None:
        return best_groups(asked.firing_order, (each,) * count, asked.cylinders)
    everyone = sorted(c for pair in spec.pairs for c in pair)
    if everyone != sorted(asked.cylinders) or any(len(pair) != each for pair in spec.pairs):
        raise DoesNotFit(
            ("collector", "pairs"),
            str([list(pair) for pair in spec.pairs]),
            f"each of cylinders {sorted(asked.cylinders)} once, {each} that go together",
            "correct the pairs, or take them out: they then follow from the firing order",
        )
    return spec.pairs


def junctions(spec: Spec, asked: Asked) -> tuple[Junction, ...]:
    """The pairs' merges as far as they are free; none when all are fixed."""
    found = []
    middles = _middles(spec, asked)
    for k, (said, middle) in enumerate(zip(_said(spec), middles, strict=True)):
        room = (_ROOM,) * 3 if said.room is None else said.room
        fixed = not any(room)
        lean = (0.0 if fixed else _LEAN) if said.lean is None else said.lean
        turn = 0.0 if fixed or said.roll is not None else math.pi
        wider = (
            (_MOST_ROOM,) * 3 if said.room is None else room,
            math.radians(_MOST_LEAN if said.lean is None and not fixed else lean),
        )
        one = Junction(f"merge {k + 1}", middle, room, math.radians(lean), turn)
        found.append(one if wider == (one.room, one.lean) else replace(one, wider=wider))
    free = any(any(j.room) or j.lean or j.turn for j in found)
    return tuple(found) if free else ()


def lay_out(spec: Spec, asked: Asked) -> Layout:
    """Lay out merges, links and outlet.

    Args:
        spec: what was said [mm, deg].
        asked: what it is laid out for; without poses its junctions are in their middles.

    Raises:
        DoesNotFit: the numbers leave no closed merges.
    """
    pairs = pairs_of(spec, asked)
    length = _length(spec, asked)
    last, tube = _last(spec, asked, len(pairs)), _tube(spec)
    poses = asked.poses or _middles(spec, asked)
    each = _each(spec)
    firsts = tuple(merge(pose, _first_size(spec), asked.tube, each) for pose in poses)
    own = [tuple(range(each * k, each * (k + 1))) for k in range(len(pairs))]
    behind = tuple(range(asked.count, asked.count + len(pairs)))
    material = spec.secondary.material or asked.material
    outlet = outlet_path(spec.outlet, last.exit)
    size = _outlet_size(spec)
    end = outlet.end
    return Layout(
        frame=last.home,
        slots=(*(slot for first in firsts for slot in first.slots), *last.slots),
        ends=(*(first.ends for first in firsts for _ in range(each)), *(last.ends,) * len(pairs)),
        pieces=(
            *(piece for k, first in enumerate(firsts) for piece in _pieces(first, k, own[k])),
            *_renamed(last.pieces(behind[0]), "last_"),
            Piece("outlet", None, Tube(outlet, size.outer_radius, size.inner_radius)),
        ),
        scrolls=(
            Scroll(
                "",
                tuple(range(behind[0])),
                (
                    *(bore for first in firsts for bore in first.gas),
                    *last.gas,
                    Tube(outlet, size.inner_radius),
                ),
                (NamedFace("OUTLET", end.origin, end.z),),
                tuple(range(len(pairs))),
            ),
        ),
        envelopes=(
            *(one for k, first in enumerate(firsts) for one in _first_envelopes(first, k, own[k])),
            *(_behind(one, behind) for one in last.envelopes),
            Envelope("outlet", None, outlet, size.outer_radius, takes=behind),
        ),
        areas=areas(firsts[0], last, length, outlet.length, _WORDS[each]),
        outlet=end,
        facts=(
            *((f"{_WORDS[each]}_{name}", value) for name, value in firsts[0].facts),
            *facts(firsts[0], last, tube, length, outlet, size),
        ),
        rings=(*own, behind),
        takes=tuple((c, own[k]) for k, pair in enumerate(pairs) for c in sorted(pair)),
        links=tuple(
            Link(
                f"secondary {k + 1}",
                first.exit,
                behind,
                tube,
                material,
                length,
                first.behind_join(),
                own[k],
            )
            for k, first in enumerate(firsts)
        ),
    )


def _pieces(first: Merged, k: int, own: tuple[int, ...]) -> Iterator[Piece]:
    return iter(first.pieces(own[0], f"{_WORDS[len(own)]}_cone_{k + 1}"))


def _renamed(pieces: tuple[Piece, ...], prefix: str) -> tuple[Piece, ...]:
    return tuple(replace(piece, name=f"{prefix}{piece.name}") for piece in pieces)


def _first_envelopes(first: Merged, k: int, own: tuple[int, ...]) -> Iterator[Envelope]:
    """Of a first merge, which takes tubes and sends a link on."""
    for one in first.envelopes:
        name = one.name if one.slot is not None else f"{one.name} {k + 1}"
        slot = None if one.slot is None else own[one.slot]
        yield replace(one, name=name, slot=slot, link=k, takes=own)


def _behind(one: Envelope, slots: tuple[int, ...]) -> Envelope:
    if one.slot is not None:
        return replace(one, name=f"last {one.name}", slot=slots[one.slot])
    return replace(one, name=f"last {one.name}", takes=slots)


def _tube(spec: Spec) -> TubeSize:
    said = spec.secondary
    if 2.0 * said.wall >= said.od:
        raise DoesNotFit(
            ("collector", "secondary", "wall"),
            f"{said.wall:g} mm on {said.od:g} mm",
            "less than half the outside diameter",
            "correct one of the two",
        )
    return TubeSize(said.od / 2.0, said.od / 2.0 - said.wall)


def _outlet_size(spec: Spec) -> TubeSize:
    return TubeSize(spec.outlet.od / 2.0, spec.outlet.od / 2.0 - spec.outlet.wall)


def _first_size(spec: Spec) -> MergeSize:
    return MergeSize(
        math.radians(spec.merge_angle),
        spec.entry_gap,
        _tube(spec),
        outlet_key=("secondary", "od"),
    )


def _last(spec: Spec, asked: Asked, count: int) -> Merged:
    home = Frame.facing(spec.at, spec.direction, asked.up)
    size = MergeSize(
        math.radians(spec.merge_angle), spec.entry_gap, _outlet_size(spec), spec.throat
    )
    return merge(home.rolled(math.radians(spec.roll) + math.pi / count), size, _tube(spec), count)


def _length(spec: Spec, asked: Asked) -> float:
    """Of the secondaries [mm]."""
    said = spec.secondary.length
    if said != "tuned":
        return float(said)
    if asked.book_length is None:
        raise DoesNotFit(
            ("collector", "secondary", "length"),
            "'tuned', but the engine has no cam timing or no speed to tune for",
            "tuned when cam, peak_torque_rpm and peak_power_rpm are given, or a length",
            "give them, or write a length",
        )
    length = 1000.0 * secondary_length(asked.book_length / 1000.0)
    if length <= 0.0:
        raise DoesNotFit(
            ("collector", "secondary", "length"),
            f"'tuned', where the book gives {asked.book_length:.0f} mm in all",
            f"more than the {1000.0 * FIRST_PRIMARY:.0f} mm of its primaries",
            "write a length",
        )
    return length


def first_join(spec: Spec) -> tuple[int, float]:
    """How many tubes meet first, and the bore behind that [mm]."""
    return _each(spec), 2.0 * _tube(spec).inner_radius


def first_length() -> float:
    """Of the primaries, when they are tuned by the book [mm]."""
    return 1000.0 * FIRST_PRIMARY


def _said(spec: Spec) -> tuple[FirstMerge, ...]:
    count = _numbers(spec)[1]
    if spec.merges is None:
        return (FirstMerge(),) * count
    if len(spec.merges) != count:
        raise DoesNotFit(
            ("collector", "merges"),
            f"{len(spec.merges)} for {count} pairs",
            f"one a pair, {count}",
            "give one for each pair, {} where nothing is to be said",
        )
    return spec.merges


def _middles(spec: Spec, asked: Asked) -> tuple[Frame, ...]:
    """Where the pairs' merges stand when nothing chose: by the spec, or from their neighbours."""
    pairs = pairs_of(spec, asked)
    last = _last(spec, asked, len(pairs))
    found = []
    for k, (pair, said) in enumerate(zip(pairs, _said(spec), strict=True)):
        starts = tuple(start for start in asked.starts if start.cylinder in pair)
        at, way = _between(spec, asked, starts, last, k)
        frame = Frame.facing(said.at or at, unit(said.direction or way), asked.up)
        found.append(frame.rolled(math.radians(said.roll or 0.0) + math.pi / len(pair)))
    return tuple(found)


def _between(
    spec: Spec, asked: Asked, starts: tuple[Start, ...], last: Merged, k: int
) -> tuple[Vec, Vec]:
    """A point on the way from a pair's ports to the last merge, and the way there.

    The way is a parabola that leaves along the ports and arrives along the last merge; the
    point is as far back along it as the secondary is long. Pairs stand apart as their
    secondaries do.
    """
    one, out = middle_of([s.exit.origin for s in starts]), middle_of([s.exit.z for s in starts])
    home, slot = last.home, last.slots[k]
    reach = 0.5 * norm(sub(home.origin, one))
    corner = middle_of(
        [
            add(one, scale(unit(out) if norm(out) > 1e-6 else home.z, reach)),
            sub(home.origin, scale(home.z, reach)),
        ]
    )
    merge_long = merge(Frame(), _first_size(spec), asked.tube, _each(spec))
    free = _length(spec, asked) - merge_long.behind_join() - dict(last.ends)["first-join"]
    back = max(free, 20.0) / _SLACK + merge_long.length
    points = [on_parabola(one, corner, home.origin, i / 64.0) for i in range(65)]
    left, i = back, 64
    while i > 16 and left > 0.0:
        left -= norm(sub(points[i], points[i - 1]))
        i -= 1
    way = unit(sub(points[min(i + 2, 64)], points[max(i - 2, 0)]))
    aside = sub(slot.origin, home.origin)
    aside = sub(aside, scale(way, dot(aside, way)))
    apart = 2.5 * asked.tube.outer_radius
    if norm(aside) < 1e-6:
        return points[i], way
    return add(points[i], scale(unit(aside), apart)), way


__all__ = ["KIND", "Spec", "first_length", "junctions", "lay_out", "pairs_of"]
