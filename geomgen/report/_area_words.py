"""What the area chart says: names of its stations, cylinders that are alike, notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from geomgen.design.gas_ways import BEFORE, Way, first_merge
from geomgen.design.model import AreaStation, Design

ALIKE = 0.1
"""Ways that differ by less at every station are told as one [mm, mm2]."""

_UNNAMED = ("transition", "cone", "pair cone", "three cone", "inlet")


@dataclass(frozen=True)
class Named:
    """A station with a name of its own: ``key`` says which, where names come twice."""

    key: tuple[str, int]
    name: str
    station: float
    area: float

    @staticmethod
    def shows(row: AreaStation) -> bool:
        """Whether a station is named, or only lies on the line."""
        return row.what not in _UNNAMED

    @staticmethod
    def is_open(one: AreaStation, other: AreaStation) -> bool:
        """Whether between two stations tubes open into each other, and nothing was worked out."""
        joins = one.what.endswith("first join") and other.what.endswith("throat")
        return joins and not other.what.startswith(BEFORE) and other.station > one.station


@dataclass(frozen=True)
class Alike:
    """Cylinders whose ways are the same."""

    cylinders: tuple[int, ...]
    stations: tuple[Named, ...]

    @property
    def title(self) -> str:
        """``cylinders 1-4 alike``."""
        return f"{said(self.cylinders)}{' alike' if len(self.cylinders) > 1 else ''}"

    @property
    def short(self) -> str:
        """``1-4``."""
        return numbers(self.cylinders)


def said(cylinders: Sequence[int]) -> str:
    """``cylinders 1-4``, ``cylinder 2``."""
    return f"cylinder{'s' if len(cylinders) > 1 else ''} {numbers(cylinders)}"


def numbers(cylinders: Sequence[int]) -> str:
    """Rising numbers, three or more in a row as ``1-4``."""
    runs: list[list[int]] = []
    for number in sorted(cylinders):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def alike(found: Sequence[Way]) -> tuple[Alike, ...]:
    """Ways by what they have in common, in the order of their first cylinders."""
    pools: list[tuple[Way, list[int]]] = []
    for way in found:
        home = next((pool for pool in pools if _same(pool[0], way)), None)
        if home is None:
            pools.append((way, [way.cylinder]))
        else:
            home[1].append(way.cylinder)
    return tuple(Alike(tuple(cylinders), _named(way)) for way, cylinders in pools)


def _same(one: Way, other: Way) -> bool:
    return len(one.rows) == len(other.rows) and all(
        a.what == b.what and abs(a.station - b.station) < ALIKE and abs(a.area - b.area) < ALIKE
        for a, b in zip(one.rows, other.rows, strict=True)
    )


def _named(way: Way) -> tuple[Named, ...]:
    rows = [row for row in way.rows if Named.shows(row)]
    names = [row.what for row in rows]
    found = []
    for i, row in enumerate(rows):
        nth = names[: i + 1].count(row.what)
        name = f"{row.what} {nth}" if names.count(row.what) > 1 else row.what
        found.append(Named((row.what, nth), name, row.station, row.area))
    return tuple(found)


def notes(design: Design, found: Sequence[Way], groups: Sequence[Alike]) -> tuple[str, ...]:
    """What has to be known to read the chart."""
    open_ = any(Named.is_open(a, b) for way in found for a, b in pairwise(way.rows))
    texts = [_counted(design), *_meant(design)]
    if open_:
        texts.append(
            "Dashed: from first join to throat the tubes open into each other; the areas at "
            "both ends are worked out, what lies between is not."
        )
    texts.append(
        "Straight lines between stations; transitions, cones and inlets have more than are named."
    )
    if len(found) > 1:
        texts.append(
            "Lines that lie on each other are stripes, the highest cylinder narrowest and on top; "
            "a line's place is its middle."
        )
    if len(groups) < len(found):
        texts.append(f"Alike: to {ALIKE:g} mm and {ALIKE:g} mm2 at every station.")
    texts += [
        f"Cylinder {w.cylinder} stops at its first join: {w.missing}." for w in found if w.missing
    ]
    return tuple(texts)


def _counted(design: Design) -> str:
    """What is counted behind the joins."""
    groups = [group for group in design.collector.groups if len(group) > 1]
    names = {row.what for row in design.collector.areas}
    if not groups:
        return "No cylinders join: each has an outlet of its own."
    if "log" in names:
        return (
            "From where a stub enters the log its whole bore is counted, which "
            f"{said(groups[-1])} share, however many of them pass there."
        )
    pair = first_merge(design.collector.areas).strip()
    if pair:
        pairs = " and ".join(numbers(group) for group in groups[:-1])
        return (
            f"Behind a join the whole bore is counted, not a cylinder's share: from the {pair}'s "
            f"first join on that of its {pair} ({pairs}), from the first join on that of "
            f"{said(groups[-1])}."
        )
    if design.bolted and len(groups) > 1:
        one, other = map(said, groups[:2])
        return (
            "Behind a scroll's first join its whole bore is counted, not a cylinder's share: "
            f"{one} share one scroll, {other} the other."
        )
    return (
        "Behind the first join the whole bore is counted, not a cylinder's share: "
        f"{said(groups[-1])} share it."
    )


def _meant(design: Design) -> tuple[str, ...]:
    """What names of stations mean that do not say it."""
    names = {row.what for row in design.collector.areas}
    if "slot" not in names:
        return ()
    meant = ["slot: where a tube enters what it is welded to or slips into"]
    if "outlet" in names:
        meant.append("outlet: where the merge's cone ends")
    meant.append("outlet end: where the collector ends")
    return ("; ".join(meant) + ".",)
