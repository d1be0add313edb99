"""Bungs: turned bosses for an oxygen sensor, exhaust temperature, or pressure."""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import model_validator

from geomgen.attachments import Added, Attached, Bar, Host, HostPipe
from geomgen.attachments._saddles import (
    Reach,
    boss_adds,
    fitted,
    foot,
    holds,
    hole,
    place,
    reach_along,
    seated,
    standing_piece,
    straights,
)
from geomgen.attachments._said import Lean, OnPipe, Size
from geomgen.families import DoesNotFit, TubeSize
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.names import Material
from geomgen.plates._said import contradiction
from geomgen.units import StrictModel, later

KIND = "bung"
ORDER = 30
ROUTED = True

DRILLS = {
    "M18x1.5": 16.5,
    "M14x1.5": 12.5,
    "M12x1.25": 10.75,
    "M10x1": 9.0,
    "M8x1": 7.0,
    "1/8-27 NPT": 8.43,
    "G1/8": 8.8,
}
"""Bore of a boss by its thread [mm]: diameter less pitch for metric ones (the usual tap drill);
of pipe threads their usual tap drill (from memory)."""

_BY_USE = {
    "oxygen": ("M18x1.5", 28.0, 13.0, 95.0, 30.0),
    "egt": ("M8x1", 14.0, 12.0, 70.0, 20.0),
    "pressure": ("M10x1", 16.0, 12.0, 50.0, 22.0),
}
"""Thread, boss OD, height, length and diameter of the room for plug and tool [mm]: common practice,
no source."""


class Room(StrictModel):
    """Room for what is screwed in and the tool that does it."""

    length: Size
    """Along the boss' axis, from its face."""
    diameter: Size
    """Across."""


class Spec(OnPipe):
    """A boss with a thread."""

    kind: Literal["bung"]
    """A turned boss that is welded on a pipe's side, with a saddle underneath, and a hole of its
    bore through the wall. What is screwed in fills the hole: the gas volume stays plain."""
    use: Literal["oxygen", "egt", "pressure"]
    """What it is for: its rules, and its usual thread, boss and room. ``egt`` on ``runners``
    stands at the same distance on every one, the nearest to ``at``, or without it to 75 mm, where
    all are straight; so does whatever stands on one runner."""
    thread: (
        Literal["M18x1.5", "M14x1.5", "M12x1.25", "M10x1", "M8x1", "1/8-27 NPT", "G1/8"] | None
    ) = later()
    """Thread; M18x1.5 for oxygen, M8x1 for exhaust temperature, M10x1 for pressure without it."""
    od: Size | None = later()
    """Outside diameter of the boss: 28, 14, 16 without it."""
    height: Size | None = later()
    """Of the boss over the pipe's outside, on its axis: 13, 12, 12 without it."""
    lean: Lean = 90.0
    """From the way the gas goes to the boss' axis; 90 stands square on the pipe."""
    material: Material | None = later()
    """Its grade; that of the runners without it."""
    room: Room | None = later()
    """Room for plug, wire and tool: 95 x 30, 70 x 20, 50 x 22 without it."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        thread, od, *_ = self.sizes()
        if od < DRILLS[thread] + 4.0:
            raise contradiction(
                f"a boss of {od:g} mm round a thread of {thread}",
                f"at least {DRILLS[thread] + 4.0:g} mm",
                "make od greater",
            )
        return self

    def sizes(self) -> tuple[str, float, float]:
        """Thread, boss OD and height [mm]."""
        thread, od, height, _, _ = _BY_USE[self.use]
        return self.thread or thread, self.od or od, self.height or height

    def wanted(self) -> tuple[float, float]:
        """Length and diameter of the room [mm]."""
        if self.room is not None:
            return self.room.length, self.room.diameter
        return _BY_USE[self.use][3:]


def on_collector(spec: Spec, host: Host) -> Attached:
    """A boss on a pipe of the collector.

    Args:
        spec: what was said [mm, deg].
        host: what it holds on to.

    Raises:
        DoesNotFit: no pipe has that name, or the boss does not fit on it.
    """
    pipes = host.called(spec.on)
    if not pipes:
        names = sorted(pipe.name for pipe in host.pipes)
        raise DoesNotFit(
            ("on",),
            spec.on,
            f"a pipe of the collector ({', '.join(names) or 'none'}), runners, or runner N",
            "name one of them",
        )
    many = len(pipes) > 1
    return joined([_boss(spec, host, p, spec.at, f"_{p.scroll}" if many else "") for p in pipes])


def on_tubes(spec: Spec, host: Host) -> Attached:
    """A boss on a runner, or one on every runner at the same distance.

    Args:
        spec: what was said [mm, deg].
        host: what it holds on to.

    Raises:
        DoesNotFit: no such runner, or no place where all of them are straight.
    """
    runners: dict[str, list[HostPipe]] = {}
    for pipe in host.pipes:
        runners.setdefault(pipe.name, []).append(pipe)
    if spec.on != "runners":
        if spec.on not in runners:
            raise DoesNotFit(("on",), spec.on, ", ".join(runners), "name one of the runners")
        runners = {spec.on: runners[spec.on]}
    reach = _reach(spec, next(iter(runners.values()))[0])
    far = spec.at if spec.at is not None else 75.0
    found = _common(list(runners.values()), far, reach)
    if found is None:
        raise DoesNotFit(
            ("at",),
            f"no place at which {' and '.join(runners)} {'are all' if len(runners) > 1 else 'is'} "
            f"straight for {sum(reach):.0f} mm",
            "a straight there",
            "lengthen the stubs before their bend"
            if host.layout is not None and host.layout.laid is not None
            else "make shelf.min_straight_at_flange greater: the straight behind the transition",
        )
    made = []
    for name, pipes in runners.items():
        pipe = next(p for p in pipes if _holds(p, found, reach))
        suffix = "" if len(runners) == 1 else f"_{name.rpartition(' ')[2]}"
        moved = 0.0 if spec.at is None else found - far
        made.append(_boss(spec, host, pipe, found - pipe.before, suffix, moved))
    return joined(made)


def joined(made: list[Attached]) -> Attached:
    """Several bosses as one attachment."""
    return Attached(
        pieces=tuple(p for one in made for p in one.pieces),
        holes=tuple(h for one in made for h in one.holes),
        bars=tuple(b for one in made for b in one.bars),
        added=sum((one.added for one in made), Added()),
        facts=tuple(f for one in made for f in one.facts),
        fitted=tuple(f for one in made for f in one.fitted),
    )


def _reach(spec: Spec, pipe: HostPipe) -> Reach:
    return reach_along(pipe, spec.sizes()[1] / 2.0, math.radians(spec.lean))


def _holds(pipe: HostPipe, far: float, reach: Reach) -> bool:
    return any(holds(row, far - pipe.before, reach) for row in straights(pipe.path))


def _common(runners: list[list[HostPipe]], far: float, reach: Reach) -> float | None:
    """Distance from z = 0 nearest to one asked for at which every runner is straight [mm]."""
    ends = [far]
    for pipes in runners:
        for pipe in pipes:
            for low, high in straights(pipe.path):
                ends += [pipe.before + low + reach[0], pipe.before + high - reach[1]]
    good = [at for at in ends if all(any(_holds(p, at, reach) for p in own) for own in runners)]
    return min(good, key=lambda at: (abs(at - far), at), default=None)


def _boss(
    spec: Spec, host: Host, pipe: HostPipe, at: float | None, suffix: str, moved: float = 0.0
) -> Attached:
    thread, od, height = spec.sizes()
    name = f"{spec.name}{suffix}"
    size = TubeSize(od / 2.0, DRILLS[thread] / 2.0)
    lean = math.radians(spec.lean)
    reach = reach_along(pipe, size.outer_radius, lean)
    stood = foot(pipe, place(pipe, at, reach, name, ("at",)), spec.toward or host.up, lean, host.up)
    on = seated(stood, size, name, ("od",))
    if on.depth > stood.through + height - 1.0:
        raise DoesNotFit(
            ("height",),
            f"{height:g} mm, of which the saddle takes {on.depth - stood.through:.1f} mm",
            f"at least {on.depth - stood.through + 1.0:.1f} mm",
            "make it higher",
        )
    pieces = (Straight(stood.through + height),)
    face = stood.frame.moved(stood.through)
    length, wide = spec.wanted()
    facts = (
        (f"{name}_at_mm", pipe.before + stood.station),
        (f"{name}_moved_mm", moved),
        (f"{name}_to_end_mm", pipe.path.length - stood.station),
        (f"{name}_pipe_bore_mm", 2.0 * pipe.inner_radius),
    )
    room = (Centreline(face, (Straight(height + length),)), wide / 2.0)
    return Attached(
        pieces=(standing_piece(name, stood, pieces, size, spec.material or host.material),),
        holes=(hole(stood, on),),
        added=boss_adds(on, pieces[0].length),
        bars=(Bar(name, Centreline(face, (Straight(height),)), size.outer_radius),),
        facts=facts[:2],
        fitted=(fitted(KIND, name, stood, facts, room, spec.use, pipe.scroll, reach[1]),),
    )
