"""N tubes into one: the geometry that every family with a merge shares.

The tubes stand on a circle or in a row and lean towards one point of the merge's axis, so each
cope is a plane cut of a round tube (``_arrays``). Runners are butted to them or slip into
them (``_entries``).

Going with the gas: entry face, first join (neighbouring bores meet), on a circle the place
where the tubes' walls close round the axis (before it a merge spike may fill the gap between
them, ``_spikes``), and the trim plane, square to the axis, where the lobed bore has the
throat's area; a ruled cone leads to the round outlet, and is a diffuser where that is wider
than the throat and a reducing cone where it is narrower.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from geomgen.families import AreaAt, DoesNotFit, Ends, Envelope, Piece, TubeSize
from geomgen.families._arrays import Array, Round, Row
from geomgen.families._cones import Cone, ConeSize, blend_area, cone
from geomgen.families._entries import Entry, Slip, SlipSize, Trimming, Welded
from geomgen.families._spikes import Spike, spike
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Plane
from geomgen.profiles.loops import area
from geomgen.recipe.nodes import Node, Placed
from geomgen.recipe.volumes import bore_volume

__all__ = ["ConeSize", "MergeSize", "Merged", "SlipSize", "merge"]

_MOST = 8
_MOST_IN_LINE = 4


@dataclass(frozen=True)
class MergeSize:
    """What a merge is made to [mm, rad].

    Attributes:
        angle: from a tube's axis to the merge's axis; in a row, of the outermost tubes.
        entry_gap: between neighbouring tubes at the entry face.
        outlet: round tube behind the cone.
        throat: diameter of a circle with the bore area wanted at the trim plane; the
            outlet's bore when None.
        key: of the spec's section that says all this, for messages.
        outlet_key: below that, of the outlet's size.
        array: on a circle, or in a row.
        slip: parallel tubes over the runners' ends; butted to leaning ones when None.
        cone: its angle or length; by the walls' slope when None.
        spike: filler about the axis, hollow-sided or a flat-sided pyramid; none when None.
        counted: end that lengths are counted to, which is as far from every slot.
    """

    angle: float
    entry_gap: float
    outlet: TubeSize
    throat: float | None = None
    key: tuple[str | int, ...] = ("collector",)
    outlet_key: tuple[str, ...] = ("outlet", "od")
    array: Literal["round", "in-line"] = "round"
    slip: SlipSize | None = None
    cone: ConeSize | None = None
    spike: Literal["hollow", "flat"] | None = None
    counted: str = "first-join"


@dataclass(frozen=True)
class Merged:
    """A merge laid out in the world, from its slots to the round end of its cone.

    Attributes:
        home: its own frame at the entry face; x is tube 0's side.
        slots: entry poses in order round it, or along the row.
        ends: length from slot 0 to ``entry``, ``first-join`` and ``throat`` [mm].
        stubs: metal and bore of each tube.
        cone: metal and bore of the cone.
        envelopes: of stubs and cone, slots counted from 0.
        exit: frame at the cone's round end.
        stations: bore area from slot to the cone's end.
        facts: further numbers, by name with unit suffix.
        ends_at: of every slot, the same lengths; those to the end that is counted are equal.
        sockets: metal and bore of each tube before its mitre, where a slip entry has one.
        spike: name and solid of the filler, where there is one.
        volume: of all bores, slots to the cone's end [mm3].
    """

    home: Frame
    slots: tuple[Frame, ...]
    ends: Ends
    stubs: tuple[tuple[Node, Node], ...]
    cone: tuple[Node, Node]
    envelopes: tuple[Envelope, ...]
    exit: Frame
    stations: tuple[AreaAt, ...]
    facts: tuple[tuple[str, float], ...]
    ends_at: tuple[Ends, ...] = ()
    sockets: tuple[tuple[int, Node, Node], ...] = ()
    spike: tuple[str, Node] | None = None
    volume: float = 0.0

    @property
    def length(self) -> float:
        """From a slot to the cone's end, along the gas [mm]."""
        return self.stations[-1].station

    def behind_join(self) -> float:
        """From the first join to the cone's end, along the gas [mm]."""
        return self.length - dict(self.ends)["first-join"]

    def pieces(self, first_slot: int = 0, cone: str = "cone") -> tuple[Piece, ...]:
        """The metal, slots counted from ``first_slot``."""
        sockets = (Piece("socket", first_slot + i, node) for i, node, _ in self.sockets)
        stubs = (Piece("stub", first_slot + i, node) for i, (node, _) in enumerate(self.stubs))
        filler = () if self.spike is None else (Piece(self.spike[0], None, self.spike[1]),)
        return (*sockets, *stubs, *filler, Piece(cone, None, self.cone[0]))

    @property
    def gas(self) -> tuple[Node, ...]:
        """The bores."""
        before = (bore for _, _, bore in self.sockets)
        return (*before, *(bore for _, bore in self.stubs), self.cone[1])


@dataclass(frozen=True)
class _Made:
    """A merge in its own frame, station 0 where its tubes lean in."""

    array: Array
    entry: Entry
    start: float
    trim: float
    cone: Cone
    spike: Spike | None
    stubs: tuple[tuple[tuple[Node, ...], tuple[Node, ...]], ...]
    stations: tuple[AreaAt, ...]
    facts: tuple[tuple[str, float], ...]
    volume: float


@lru_cache(maxsize=64)
def _made(size: MergeSize, tube: TubeSize, count: int) -> _Made:
    """What does not depend on where the merge stands."""
    own = tube if size.slip is None else size.slip.tube
    array = _array(size, own, count)
    trim = trim_station(array, size, own.inner_radius)
    counted = {"first-join": array.join(own.inner_radius), "throat": trim}.get(size.counted)
    entry: Entry
    if size.slip is None:
        entry, start = Welded(array, counted), 0.0
    else:
        slip = Slip(size.slip, array, counted)
        slip.hold_apart(size.key)
        entry, start = slip, slip.entry
    wall = cone(array, own, trim, size)
    filler = _filler(size, array, entry)
    stubs = tuple(_stub(array, entry, own, trim, i) for i in range(count))
    bores = math.fsum(bore_volume(node) for _, bore in stubs for node in bore)
    volume = bores + bore_volume(wall.bore)
    rows = _stations(array, entry, own, trim, wall)
    return _Made(
        array,
        entry,
        start,
        trim,
        wall,
        filler,
        stubs,
        rows,
        _facts(size, array, own, trim, wall, start)
        + _more(size, array, entry, tube, filler)
        + (("merge_volume_cc", volume / 1000.0),),
        volume,
    )


def merge(home: Frame, size: MergeSize, tube: TubeSize, count: int) -> Merged:
    """Lay out a merge.

    Args:
        home: frame at its entry face; z is the way the gas goes, x is tube 0's side.
        size: what it is made to.
        tube: the tubes that enter.
        count: how many, at least 2.

    Raises:
        DoesNotFit: the numbers leave no closed merge.
    """
    made = _made(size, tube, count)
    at = home.moved(-made.start) if made.start else home
    turned = [at.rolled(turn) for turn in made.array.turns]
    slots = tuple(turn.carried(made.entry.slot(i)) for i, turn in enumerate(turned))
    ends = tuple(_ends(made, i) for i in range(count))
    placed = [
        tuple(tuple(Placed(node, turn) for node in nodes) for nodes in pair)
        for turn, pair in zip(turned, made.stubs, strict=True)
    ]
    return Merged(
        home=home,
        slots=slots,
        ends=ends[0],
        stubs=tuple((metal[-1], bore[-1]) for metal, bore in placed),
        cone=(Placed(made.cone.metal, at), Placed(made.cone.bore, at)),
        envelopes=_envelopes(made, at, turned),
        exit=at.moved(made.trim + made.cone.length),
        stations=made.stations,
        facts=made.facts,
        ends_at=ends,
        sockets=tuple(
            (i, metal[0], bore[0]) for i, (metal, bore) in enumerate(placed) if len(metal) > 1
        ),
        spike=None if made.spike is None else (made.spike.name, Placed(made.spike.node, at)),
        volume=made.volume,
    )


def _array(size: MergeSize, tube: TubeSize, count: int) -> Array:
    most = _MOST if size.array == "round" else _MOST_IN_LINE
    if not 2 <= count <= most:
        raise DoesNotFit(
            (*size.key, "array"),
            f"{count} tubes {'on a circle' if size.array == 'round' else 'in line'}",
            f"2 to {most}",
            "bring them together in two stages, or choose another array or family",
        )
    kind = Round if size.array == "round" else Row
    return kind(tube, count, size.angle, size.entry_gap, size.slip is not None)


def trim_station(array: Array, size: MergeSize, inner: float) -> float:
    """Station where the lobed bore has the throat's area [mm]."""
    bore = 2.0 * size.outlet.inner_radius
    wanted = math.pi / 4.0 * (size.throat or bore) ** 2
    near, far = array.least, array.most
    most, least = area(array.lobes(near, inner)), area(array.lobes(far, inner))
    if not least < wanted < most:
        low, high = (2.0 * math.sqrt(x / math.pi) for x in (least, most))
        key = ("throat",) if size.throat else size.outlet_key
        raise DoesNotFit(
            (*size.key, *key),
            f"{2.0 * math.sqrt(wanted / math.pi):.1f} mm bore where the tubes have come together",
            f"between {low:.1f} and {high:.1f} mm for these tubes",
            "choose another outlet or throat",
        )
    for _ in range(200):
        mid = 0.5 * (near + far)
        if area(array.lobes(mid, inner)) > wanted:
            near = mid
        else:
            far = mid
    if near <= array.join(inner):
        raise DoesNotFit(
            (*size.key, "merge_angle"),
            f"{math.degrees(size.angle):g} deg",
            "an angle at which the bores join before the throat",
            "choose a smaller merge angle or a smaller throat",
        )
    return near


def _stub(
    array: Array, entry: Entry, tube: TubeSize, trim: float, slot: int
) -> tuple[tuple[Node, ...], tuple[Node, ...]]:
    """Metal and bore of one tube in its own frame, trimmed on its planes."""
    planes = (*array.planes(slot), Plane((0.0, 0.0, trim), (0.0, 0.0, 1.0)))
    cut = Trimming(tube, planes, trim)
    return entry.solids(slot, cut, False), entry.solids(slot, cut, True)


def _ends(made: _Made, slot: int) -> Ends:
    inner = made.array.tube.inner_radius
    return (
        ("entry", 0.0 - made.entry.overlap(slot)),
        ("first-join", made.entry.to(slot, made.array.join(inner))),
        ("throat", made.entry.to(slot, made.trim)),
    )


def _filler(size: MergeSize, array: Array, entry: Entry) -> Spike | None:
    if size.spike is None:
        return None
    if not isinstance(array, Round):
        raise DoesNotFit(
            (*size.key, "spike"),
            "a spike in a row of tubes",
            "tubes on a circle, three or more: only they leave a gap about the axis",
            "take spike out",
        )
    base = entry.tangents[0] * array.cos
    return spike(array, base, size.spike == "flat", size.key)


def _envelopes(made: _Made, at: Frame, turned: list[Frame]) -> tuple[Envelope, ...]:
    array, outer = made.array, made.array.tube.outer_radius
    stubs = []
    for i, turn in enumerate(turned):
        own = made.entry.path(i, made.trim)
        stubs.append(Envelope("stub", i, Centreline(turn.carried(own.start), own.pieces), outer))
        if made.entry.overlap(i):
            rim = own.start.moved(-made.entry.overlap(i))
            over = Centreline(turn.carried(rim), (Straight(made.entry.overlap(i)),))
            stubs.append(Envelope("slip", i, over, outer, around=True))
    widest = max(
        array.reach(made.trim) + outer / math.cos(array.tilts[0]), made.cone.outlet.outer_radius
    )
    body = Centreline(at.moved(made.trim), (Straight(made.cone.length),))
    return (*stubs, Envelope("cone", None, body, widest))


def _stations(
    array: Array, entry: Entry, tube: TubeSize, trim: float, wall: Cone
) -> tuple[AreaAt, ...]:
    one, at = math.pi * tube.inner_radius**2, entry.to(0, trim)
    throat = area(array.lobes(trim, tube.inner_radius))
    rows = [
        AreaAt(0.0, one, "slot"),
        AreaAt(entry.to(0, array.join(tube.inner_radius)), one, "first join"),
        AreaAt(at, throat, "throat"),
    ]
    for i in range(1, 5):
        f = i / 5.0
        rows.append(AreaAt(at + f * wall.length, blend_area(*wall.inner, f), "cone"))
    rows.append(AreaAt(at + wall.length, math.pi * wall.outlet.inner_radius**2, "outlet"))
    return tuple(rows)


def _facts(
    size: MergeSize, array: Array, tube: TubeSize, trim: float, wall: Cone, start: float
) -> tuple[tuple[str, float], ...]:
    throat = area(array.lobes(trim, tube.inner_radius))
    return (
        ("merge_angle_deg", math.degrees(size.angle)),
        ("included_angle_deg", 2.0 * math.degrees(size.angle)),
        ("first_join_from_entry_mm", array.join(tube.inner_radius) - start),
        ("throat_from_entry_mm", trim - start),
        ("throat_area_mm2", throat),
        ("cone_length_mm", wall.length),
        ("cone_wall_deg", math.degrees(wall.slope)),
        ("throat_bore_mm", 2.0 * math.sqrt(throat / math.pi)),
        # All tubes against the throat that they share.
        ("area_ratio", array.count * math.pi * tube.inner_radius**2 / throat),
        *wall.facts,
    )


def _more(
    size: MergeSize, array: Array, entry: Entry, runner: TubeSize, filler: Spike | None
) -> tuple[tuple[str, float], ...]:
    """What only some merges have."""
    found: list[tuple[str, float]] = []
    if isinstance(array, Row):
        between = [a - b for a, b in zip(array.tilts, array.tilts[1:], strict=False)]
        found.append(("neighbours_angle_deg", math.degrees(min(between))))
    elif array.count > 2:
        # Circle that the tubes leave open about the axis where they begin to lean.
        open_ = array.reach(0.0) - array.tube.outer_radius / math.cos(size.angle)
        found.append(("centre_opening_mm", 2.0 * open_))
    if size.slip is not None:
        laps = [entry.overlap(i) for i in range(array.count)]
        clear = 2.0 * (size.slip.tube.inner_radius - runner.outer_radius)
        found += [("slip_clearance_mm", clear), ("slip_overlap_mm", min(laps))]
        found.append(("slip_overlap_most_mm", max(laps)))
    if filler is not None:
        found.append(("spike_length_mm", filler.tip - filler.base))
    return tuple(found)
