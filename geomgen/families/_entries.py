"""How runners enter a merge: butted to tubes that lean, or slipped into parallel ones.

A slip tube begins at the entry face, holds a runner's end, and turns by its lean about station
0 of the merge: in a short bend, or in a mitre where no bend's radius is said. Some play is left
between the runner's end and the turn. The gas steps from the runner's bore into the slip tube's
at the runner's end; the ring between the two tubes before that holds no gas that flows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from geomgen.families import DoesNotFit, TubeSize
from geomgen.families._arrays import Array
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, Plane, Vec
from geomgen.recipe.nodes import Fuse, Node, Trim, Tube

_PLAY = 3.0
"""Between a runner's end and where its slip tube begins to turn [mm]; common practice."""

_REACH = 1.5
"""CLR over outside diameter that a mitre counts as, where only room is asked for."""


@dataclass(frozen=True)
class Trimming:
    """How one tube of a merge is trimmed, in its own frame.

    Attributes:
        tube: its size.
        planes: that trim it.
        at: station of the last of them, which is square to the merge's axis.
    """

    tube: TubeSize
    planes: tuple[Plane, ...]
    at: float

    def radii(self, bore: bool) -> tuple[float, ...]:
        """Of the tube, or of its bore as a solid."""
        return (
            (self.tube.inner_radius,) if bore else (self.tube.outer_radius, self.tube.inner_radius)
        )

    def beyond(self, tilt: float) -> float:
        """Length along an axis of a tilt that is certainly past the trim [mm]."""
        along = self.at / math.cos(tilt)
        return along + 2.0 * self.tube.outer_radius * abs(math.tan(tilt)) + 10.0


class Entry(Protocol):
    """How runners enter a merge. Frames are those of the tubes, see ``Array``."""

    @property
    def tangents(self) -> tuple[float, ...]: ...

    def slot(self, slot: int) -> Frame:
        """Where a runner ends."""
        ...

    def to(self, slot: int, z: float) -> float:
        """From a runner's end to a station, by the gas [mm]."""
        ...

    def overlap(self, slot: int, /) -> float:
        """Length of a runner inside its slip tube [mm]."""
        ...

    def path(self, slot: int, z: float) -> Centreline:
        """Axis of a tube from the runner's end to a station."""
        ...

    def solids(self, slot: int, trim: Trimming, bore: bool) -> tuple[Node, ...]:
        """Metal, or bore from the runner's end; the last is trimmed, one before it a socket."""
        ...


class Welded:
    """Tubes that lean straight into the merge; runners are butted to them.

    Attributes:
        backs: by slot, how far before station 0 a tube begins, so that the length to where
            lengths are counted to is the same for all.
    """

    def __init__(self, array: Array, counted: float | None) -> None:
        self.array = array
        to = [0.0 if counted is None else counted / math.cos(tilt) for tilt in array.tilts]
        fan = (
            [0.0] * array.count
            if array.fan is None
            else [array.apex / math.cos(tilt) - array.fan for tilt in array.tilts]
        )
        # Rims keep their gap where no tube begins nearer the apex than the fan's radius.
        least = max(t - f for t, f in zip(to, fan, strict=True)) if array.fan is not None else to[0]
        self.backs = tuple(least - t for t in to)
        self.tangents = (0.0,) * array.count

    def slot(self, slot: int) -> Frame:
        """Where a runner ends."""
        back = self.backs[slot]
        return self.array.lean[slot].moved(-back) if back else self.array.lean[slot]

    def to(self, slot: int, z: float) -> float:
        """From a runner's end to a station, by the gas [mm]."""
        return z / math.cos(self.array.tilts[slot]) + self.backs[slot]

    def overlap(self, _slot: int, /) -> float:
        """None: a butt joint."""
        return 0.0

    def path(self, slot: int, z: float) -> Centreline:
        """Axis of a tube from the runner's end to a station."""
        return Centreline(self.slot(slot), (Straight(self.to(slot, z)),))

    def solids(self, slot: int, trim: Trimming, bore: bool) -> tuple[Node, ...]:
        """One tube."""
        reach = trim.beyond(self.array.tilts[slot]) + self.backs[slot]
        path = Centreline(self.slot(slot), (Straight(reach),))
        return (Trim(Tube(path, *trim.radii(bore)), trim.planes),)


@dataclass(frozen=True)
class SlipSize:
    """A slip entry [mm].

    Attributes:
        tube: over the runners.
        overlap: that every runner's end is inside at least.
        clr: of the bend that turns a tube in; None for a mitre.
    """

    tube: TubeSize
    overlap: float
    clr: float | None = None


class Slip:
    """The parallel parts of a merge's tubes, in its own frame.

    Attributes:
        entry: station of the rims, negative.
        ends: by slot, how far before station 0 a runner's end is.
        tangents: by slot, how far before station 0 the turn begins, and how far along the
            leaning axis it ends.
    """

    def __init__(self, size: SlipSize, array: Array, counted: float | None) -> None:
        self.size, self.array = size, array
        clr, tilts = size.clr or 0.0, [abs(tilt) for tilt in array.tilts]
        self.tangents = tuple(clr * math.tan(tilt / 2.0) for tilt in tilts)
        outer = size.tube.outer_radius
        play = [
            _PLAY + t + (0.0 if size.clr else outer * math.tan(a / 2.0))
            for t, a in zip(self.tangents, tilts, strict=True)
        ]
        # A tube that leans more has farther to go to one plane; its runner ends later.
        more = [0.0 if counted is None else self._along(i, counted) for i in range(array.count)]
        whole = max(p + m for p, m in zip(play, more, strict=True))
        self.ends = tuple(whole - m for m in more)
        self.entry = -(size.overlap + max(self.ends))

    def _along(self, slot: int, z: float) -> float:
        """From station 0 on the parallel axis to a station on the leaning one, by the gas [mm]."""
        tilt, t = abs(self.array.tilts[slot]), self.tangents[slot]
        return z / math.cos(tilt) - 2.0 * t + (self.size.clr or 0.0) * tilt

    def to(self, slot: int, z: float) -> float:
        """From a runner's end to a station behind the turn, by the gas [mm]."""
        return self.ends[slot] + self._along(slot, z)

    def overlap(self, slot: int, /) -> float:
        """Length of a runner inside its slip tube [mm]."""
        return -self.entry - self.ends[slot]

    def slot(self, slot: int) -> Frame:
        """Where a runner ends, in its tube's own frame."""
        return Frame((self.array.lean[slot].origin[0], 0.0, -self.ends[slot]))

    def hold_apart(self, key: tuple[str | int, ...]) -> None:
        """See that tubes do not meet before they have turned in.

        Raises:
            DoesNotFit: they do.
        """
        aside = self.array.aside(self.size.tube.outer_radius)
        # Where the line of a leaning tube that they meet on begins, at a mitre or behind a bend.
        turned = max(
            -aside * math.tan(abs(a) / 2.0)
            if self.size.clr is None
            else t * math.cos(a) - aside * math.sin(abs(a))
            for t, a in zip(self.tangents, self.array.tilts, strict=True)
        )
        meet = self.array.join(self.size.tube.outer_radius)
        if meet <= turned:
            raise DoesNotFit(
                (*key, "entry_gap"),
                f"tubes that meet {turned - meet:.1f} mm before they have turned in",
                "an entry gap that keeps them apart round the bend",
                "choose a wider entry_gap, or a smaller slip.clr",
            )

    def path(self, slot: int, z: float) -> Centreline:
        """Axis of a tube from the runner's end to a station.

        A mitre is drawn as a bend of ordinary radius: for room, not for metal.
        """
        tilt, back = self.array.tilts[slot], self.ends[slot]
        ahead = z / math.cos(tilt)
        start = self.slot(slot)
        if abs(tilt) < 1e-9:
            return Centreline(start, (Straight(back + ahead),))
        half = math.tan(abs(tilt) / 2.0)
        clr = self.size.clr or min(_REACH * 2.0 * self.size.tube.outer_radius, 0.9 * back / half)
        # towards the axis: against x where the tube stands on its side
        bend = Bend(clr, abs(tilt), math.pi if tilt > 0.0 else 0.0)
        return Centreline(start, (Straight(back - clr * half), bend, Straight(ahead - clr * half)))

    def solids(self, slot: int, trim: Trimming, bore: bool) -> tuple[Node, ...]:
        """Metal from the entry face, or bore from the runner's end; two of each for a mitre."""
        lean, tilt, t = self.array.lean[slot], self.array.tilts[slot], self.tangents[slot]
        back = self.ends[slot] if bore else -self.entry
        radii = trim.radii(bore)
        begin = Frame((lean.origin[0], 0.0, -back))
        ahead = trim.beyond(tilt)
        if abs(tilt) < 1e-9:
            straight = Centreline(begin, (Straight(back + ahead),))
            return (Trim(Tube(straight, *radii), trim.planes),)
        if self.size.clr is not None:
            bend = Bend(self.size.clr, abs(tilt), math.pi if tilt > 0.0 else 0.0)
            turn = Tube(Centreline(begin, (Straight(back - t), bend)), *radii)
            rest = Centreline(lean.moved(t), (Straight(ahead),))
            return (Fuse((turn, Trim(Tube(rest, *radii), trim.planes))),)
        half: Vec = (-math.sin(tilt / 2.0), 0.0, math.cos(tilt / 2.0))
        other: Vec = (-half[0], 0.0, -half[2])
        spare = 2.0 * trim.tube.outer_radius * abs(math.tan(tilt / 2.0)) + 5.0
        first = Centreline(begin, (Straight(back + spare),))
        rest = Centreline(lean.moved(-spare), (Straight(spare + ahead),))
        return (
            Trim(Tube(first, *radii), (Plane(lean.origin, half),)),
            Trim(Tube(rest, *radii), (*trim.planes, Plane(lean.origin, other))),
        )
