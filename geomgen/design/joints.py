"""Where a runner is cut into pieces and welded, and which of its ends are oval.

A bend of less than its stock bend's angle has one end cut in the bend. There the tube is no
longer round, so such an end is best welded to straight tube; the other end keeps the stock
bend's leg. A bend of the whole stock angle keeps both legs, and a joint between two legs is
made half-way along the straight, as far as they reach. Where they do not reach, straight
tube is let in. A runner of bends made on a die is one piece.

Which end of each bend keeps its leg is chosen so that no two cut bends meet, for two ovals
do not meet all round; then for the fewest joints, then for the most in straights.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geomgen.design.model import Design, Runner, Secondary, Stock
from geomgen.geometry.centreline import Bend, Centreline, Straight

_SLACK = 1e-6


@dataclass(frozen=True)
class Joint:
    """One weld between two pieces of a runner.

    Attributes:
        straight: which straight it lies in or at an end of, from 0 behind the transition.
        before: straight tube between it and the bend before it, or the tube's start [mm].
        behind: straight tube between it and the bend behind it, or the tube's end [mm].
        cut: which bends are cut in the bend there, by their numbers from 1.
        clear: whether there is straight tube enough on both sides, and no oval end.
        what: what is welded in there, where that is no bend: an expander.
    """

    straight: int
    before: float
    behind: float
    cut: tuple[int, ...]
    clear: bool
    what: str = ""


@dataclass(frozen=True)
class _Ends:
    """How a bend is cut: legs before and behind it [mm], and which end is cut in the bend."""

    before: float
    behind: float
    cut_before: bool = False
    cut_behind: bool = False


@dataclass(frozen=True)
class _Plan:
    """Joints so far, and what they cost."""

    joints: tuple[Joint, ...]

    @property
    def cost(self) -> tuple[int, int, int]:
        """Joints of two cut bends, joints, joints that are not clear."""
        found = self.joints
        return (
            sum(len(joint.cut) > 1 for joint in found),
            len(found),
            sum(not joint.clear for joint in found),
        )


def stock_for(bend: Bend, stock: tuple[Stock, ...]) -> Stock | None:
    """The line of the shelf that a bend is made from: one of its whole angle, or the first."""
    fitting = [
        line
        for line in stock
        if abs(line.clr - bend.radius) <= _SLACK
        and bend.angle <= line.most + _SLACK
        and (not line.angles or any(abs(bend.angle - angle) <= _SLACK for angle in line.angles))
    ]
    whole = [line for line in fitting if line.made == "cut" and _whole(bend, line)]
    return next(iter((*whole, *fitting)), None)


def joints_of(path: Centreline, stock: tuple[Stock, ...], least: float) -> tuple[Joint, ...]:
    """Where a runner is welded together, from the flange on; none where it is bent in one piece.

    Args:
        path: of its tube.
        stock: the shelf.
        least: straight tube wanted on both sides of a joint together [mm].
    """
    lines = [stock_for(bend, stock) for bend in path.bends]
    if not lines or all(line is not None and line.made == "bent" for line in lines):
        return ()
    straights = straights_of(path)
    ways = [_ways(bend, line) for bend, line in zip(path.bends, lines, strict=True)]
    best = {way: _Plan(_at_flange(straights[0], way, least)) for way in ways[0]}
    for number, (here, straight) in enumerate(zip(ways[1:], straights[1:-1], strict=True), 1):
        best = {
            way: min(
                (
                    _Plan((*plan.joints, *_between(number, straight, old, way, least)))
                    for old, plan in best.items()
                ),
                key=lambda plan: plan.cost,
            )
            for way in here
        }
    ends = (
        _Plan((*plan.joints, *_at_collector(len(lines), straights[-1], way, least)))
        for way, plan in best.items()
    )
    return min(ends, key=lambda plan: plan.cost).joints


def welded(design: Design, tube: Runner | Secondary) -> tuple[Joint, ...]:
    """Where a tube of a design is welded together; a stepped one at its expanders too."""
    least = design.limits["joint_straight"]
    if isinstance(tube, Secondary) or not tube.sections:
        return joints_of(tube.path, design.stock_of(tube), least)
    found: list[Joint] = []
    at, legs = 0.0, _legs(tube.path)
    for section in tube.sections:
        end = at + section.path.length
        if section.is_step:
            a, b = (2.0 * radius for radius in section.outer)
            what = f"expander {a:g} to {b:g} mm OD"
            found += [_at_step(legs, place, what, least) for place in (at, end)]
        else:
            own = joints_of(section.path, design.stock_for(section.outer[0]), least)
            found += _carried(own, legs, at, end)
        at = end
    # A runner may begin or end with an expander: those ends are transition and stub.
    inside = [j for j in found if j.straight or j.before > _SLACK]
    last = len(legs) - 1
    return tuple(j for j in inside if j.straight < last or j.behind > _SLACK)


def _legs(path: Centreline) -> list[tuple[float, float]]:
    """Stations that each straight reaches from and to [mm]."""
    rows, at = [(0.0, 0.0)], 0.0
    for piece in path.pieces:
        at += piece.length
        rows[-1:] = [(rows[-1][0], at)] if isinstance(piece, Straight) else [rows[-1], (at, at)]
    return rows


def _leg_at(legs: list[tuple[float, float]], station: float) -> int:
    return min(range(len(legs)), key=lambda k: max(legs[k][0] - station, station - legs[k][1], 0.0))


def _at_step(legs: list[tuple[float, float]], station: float, what: str, least: float) -> Joint:
    k = _leg_at(legs, station)
    before, behind = station - legs[k][0], legs[k][1] - station
    joint = _joint(k, max(before, 0.0), max(behind, 0.0), (), least)
    return replace(joint, what=what)


def _carried(
    own: tuple[Joint, ...], legs: list[tuple[float, float]], begin: float, end: float
) -> list[Joint]:
    """Joints of a stretch between two stations, as joints of the whole."""
    first, last = _leg_at(legs, begin), _leg_at(legs, end)
    return [
        replace(
            joint,
            straight=first + joint.straight,
            before=joint.before + (begin - legs[first][0] if joint.straight == 0 else 0.0),
            behind=joint.behind + (legs[last][1] - end if first + joint.straight == last else 0.0),
            cut=tuple(first + number for number in joint.cut),
        )
        for joint in own
    ]


def straights_of(path: Centreline) -> tuple[float, ...]:
    """Lengths of the straights: before each bend, and behind the last; 0 where bends touch [mm]."""
    lengths = [0.0]
    for piece in path.pieces:
        if isinstance(piece, Straight):
            lengths[-1] += piece.length
        else:
            lengths.append(0.0)
    return tuple(lengths)


def _whole(bend: Bend, line: Stock) -> bool:
    return abs(bend.angle - line.most) <= _SLACK or bool(line.angles)


def _ways(bend: Bend, line: Stock | None) -> tuple[_Ends, ...]:
    """How a bend may be cut from its line, without doubles."""
    if line is None:
        return (_Ends(0.0, 0.0, cut_before=True, cut_behind=True),)
    if line.made == "bent":
        return (_Ends(math.inf, math.inf),)
    short, long = sorted(line.legs)
    if _whole(bend, line):
        return tuple(dict.fromkeys((_Ends(short, long), _Ends(long, short))))
    return _Ends(long, 0.0, cut_behind=True), _Ends(0.0, long, cut_before=True)


def _at_flange(straight: float, first: _Ends, least: float) -> tuple[Joint, ...]:
    if straight - first.before <= _SLACK:
        return ()
    leg = min(first.before, max(straight - least, 0.0))
    cut = (1,) if first.cut_before else ()
    return (_joint(0, straight - leg, leg, cut, least),)


def _at_collector(number: int, straight: float, last: _Ends, least: float) -> tuple[Joint, ...]:
    if straight - last.behind <= _SLACK:
        return ()
    leg = min(last.behind, max(straight - least, 0.0))
    cut = (number,) if last.cut_behind else ()
    return (_joint(number, leg, straight - leg, cut, least),)


def _between(
    number: int, straight: float, one: _Ends, two: _Ends, least: float
) -> tuple[Joint, ...]:
    """Joints between bend ``number`` and the next."""
    cut_one = (number,) if one.cut_behind else ()
    cut_two = (number + 1,) if two.cut_before else ()
    if one.behind + two.before >= straight - _SLACK:
        at = min(max(0.5 * straight, straight - two.before), one.behind)
        at = min(max(at, 0.0), straight)
        cut = (*(cut_one if at <= _SLACK else ()), *(cut_two if straight - at <= _SLACK else ()))
        return (_joint(number, at, straight - at, cut, least),)
    # Straight tube is let in; where it would be short the legs give way to it.
    room = max(straight - least, 0.0)
    share = min(1.0, room / max(one.behind + two.before, _SLACK))
    a, b = one.behind * share, two.before * share
    return (
        _joint(number, a, straight - a, cut_one, least),
        _joint(number, straight - b, b, cut_two, least),
    )


def _joint(
    straight: int, before: float, behind: float, cut: tuple[int, ...], least: float
) -> Joint:
    clear = not cut and min(before, behind) >= 0.5 * least - _SLACK
    return Joint(straight, before, behind, cut, clear)
