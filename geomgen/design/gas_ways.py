"""The way of each cylinder's gas: bore area from its port to the outlet, in one list."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from geomgen.design.model import AreaStation, Design, Runner, Secondary

BEFORE = "before "
"""Begins the name of a station whose area holds up to the one after it, at the same place."""

_SAME = 1e-6
"""Relative: areas that differ by less are one."""


@dataclass(frozen=True)
class Way:
    """Bore area along one cylinder's gas [mm, mm2].

    Attributes:
        cylinder: whose.
        rows: stations counted from z = 0, never going back; two at one place where the bore
            steps. From a first join on the area is all of the bore that the cylinders share.
        missing: why it stops before the outlet; empty where it does not.
    """

    cylinder: int
    rows: tuple[AreaStation, ...]
    missing: str = ""


def ways(design: Design) -> tuple[Way, ...]:
    """One way a runner, by cylinder."""
    return tuple(way(design, r) for r in sorted(design.runners, key=lambda r: r.cylinder))


def way(design: Design, runner: Runner) -> Way:
    """A runner's areas and the collector's, as one.

    The collector's list is of one slot; each of its stations stands here where this runner's own
    lengths to first join and throat put it, and behind a pair those of its secondary.

    Args:
        design: what was decided.
        runner: one of its runners.
    """
    own, other = _joined(design, runner.cylinder), _joined(design, design.collector.cylinders[0])
    rows, missing = _behind(design, runner), ""
    if len(own) != len(other):
        missing = (
            f"{len(own)} cylinders meet in its merge; the collector's areas are those "
            f"of the merge of {len(other)}"
        )
        last = next((i for i, row in enumerate(rows) if row.what == "first join"), 0)
        rows = rows[: last + 1]
    bore = math.pi * runner.inner_radius**2
    return Way(runner.cylinder, (*runner.areas, *_stepped(rows, bore)), missing)


def _joined(design: Design, cylinder: int) -> tuple[int, ...]:
    """Cylinders of the first junction on a cylinder's way."""
    return next((g for g in design.collector.groups if cylinder in g), (cylinder,))


def _behind(design: Design, runner: Runner) -> list[AreaStation]:
    """The collector's stations, each moved with the last place known before it."""
    rows = design.collector.areas
    known = dict(_known(design, runner))
    shift, placed = 0.0, []
    for i, row in enumerate(rows):
        if i in known:
            shift = known[i] - row.station
        placed.append(AreaStation(row.station + shift, row.area, row.what))
    return placed


def _known(design: Design, runner: Runner) -> Iterator[tuple[int, float]]:
    """Indices of the collector's stations whose distance is known for this very runner [mm]."""
    rows = design.collector.areas
    slot = runner.account.plate + runner.account.transition + runner.path.length
    yield 0, slot
    places = {row.what: i for i, row in enumerate(rows)}
    to = dict(runner.to_ends)
    if "throat" not in places:
        yield len(rows) - 1, to["throat"]  # a stub's open end
        return
    pair = first_merge(rows)
    yield places[f"{pair}first join"], to["first-join"]
    yield places[f"{pair}throat"], to["throat"]
    if "log" in places:
        yield places["log"], to["entry"]
    secondary = _secondary(design, runner)
    if secondary is not None:
        ends = dict(secondary.to_ends)
        entry = secondary.account.junction + secondary.path.length
        yield places["slot"], to["first-join"] + entry
        yield places["first join"], to["first-join"] + ends["first-join"]
        yield places["throat"], to["first-join"] + ends["throat"]


def first_merge(rows: tuple[AreaStation, ...]) -> str:
    """What a collector's stations before its last merge begin with, ``pair ``; or nothing."""
    joins = (row.what for row in rows if row.what.endswith(" first join"))
    return next(joins, "first join").removesuffix("first join")


def _secondary(design: Design, runner: Runner) -> Secondary | None:
    return next((s for s in design.secondaries if runner.cylinder in s.cylinders), None)


def _stepped(rows: list[AreaStation], bore: float) -> Iterator[AreaStation]:
    """The same, with two stations where the bore steps: at the slot, into a log and out of it."""
    sudden = {0}
    if any(row.what == "log" for row in rows):
        sudden = set(range(len(rows)))
    before = bore
    for i, row in enumerate(rows):
        if i in sudden and abs(row.area - before) > _SAME * row.area:
            yield AreaStation(row.station, before, f"{BEFORE}{row.what}")
        yield row
        before = row.area
