"""Standing on a pipe's side: where, which way, and the saddle between two cylinders."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.attachments import Added, Hole, Host, HostPipe
from geomgen.families import DoesNotFit, Fitted, Piece, TubeSize
from geomgen.families._logging import Log, SetOn, set_on
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.centreline import at as frame_at
from geomgen.geometry.frames import Frame, Vec, add, dot, norm, scale, sub, unit
from geomgen.recipe.nodes import Cut, Node, Tube

CLEAR = 0.2
"""Least that a saddle's rim stays inside the host's side and its straight's ends [mm]."""

_RIM = 720
"""Azimuths that a rim is followed by."""

_PAST = 1.0
"""What a hole's tool stands out of the wall [mm]."""


@dataclass(frozen=True)
class Foot:
    """Where something leaves a straight of a pipe.

    Attributes:
        frame: on the host's axis; z the way out.
        flow: the way the gas goes.
        lean: from the flow to the way out [rad].
        station: along the host's path [mm].
        low, high: stations between which the host is straight [mm].
        host: the pipe.
    """

    frame: Frame
    flow: Vec
    lean: float
    station: float
    low: float
    high: float
    host: HostPipe

    @property
    def axis(self) -> Log:
        """The host's straight, as what things are set on."""
        begin = add(self.frame.origin, scale(self.flow, self.low - self.station))
        return Log(begin, self.flow, TubeSize(self.host.outer_radius, self.host.inner_radius))

    @property
    def through(self) -> float:
        """Along the axis out, from the host's axis to its outside [mm]."""
        return self.host.outer_radius / math.sin(self.lean)


def straights(path: Centreline) -> list[tuple[float, float]]:
    """Stations from and to which a path is straight, pieces in a line made one [mm]."""
    found: list[tuple[float, float]] = []
    at = 0.0
    for piece in path.pieces:
        if isinstance(piece, Straight) and piece.length > 0.0:
            if found and abs(found[-1][1] - at) < 1e-9:
                found[-1] = (found[-1][0], at + piece.length)
            else:
                found.append((at, at + piece.length))
        at += piece.length
    return found


def last_pipe(host: Host, what: str) -> HostPipe:
    """The pipe that ends in the manifold's one outlet.

    Raises:
        DoesNotFit: a turbine's flange is the end, or every stub has one of its own.
    """
    found = next((pipe for pipe in host.pipes if pipe.last), None)
    if found is not None:
        return found
    why = "it ends in the flange to its turbine" if host.layout.bolted else "no pipe is its outlet"
    raise DoesNotFit(
        ("kind",),
        f"{what} on a manifold without an outlet pipe: {why}",
        "an end or a flex joint behind a merge, pairs or a log, which have one outlet pipe",
        "take it out",
    )


Reach = tuple[float, float]
"""How far a saddle's rim goes along its host from where the axes cross: against the gas, and with
it [mm]; the first is below 0 where it all leans ahead."""


def reach_along(host: HostPipe, radius: float, lean: float) -> Reach:
    """How far the rim of a round tube goes along its host.

    At azimuth t it is cot(lean) sqrt(R^2 - r^2 sin^2 t) - r cos t / sin(lean) ahead of the
    crossing (plain analytic geometry).
    """
    sine, cosine = math.sin(lean), math.cos(lean)
    if radius >= host.outer_radius:
        half = (radius + host.outer_radius * abs(cosine)) / sine
        return half, half
    rows = [
        (
            cosine * math.sqrt(host.outer_radius**2 - (radius * math.sin(t)) ** 2)
            - radius * math.cos(t)
        )
        / sine
        for t in (math.tau * k / _RIM for k in range(_RIM))
    ]
    return CLEAR - min(rows), CLEAR + max(rows)


def holds(straight: tuple[float, float], at: float, reach: Reach) -> bool:
    """Whether a straight, by its two stations, holds a foot that stands at a station."""
    low, high = straight[0] + reach[0], straight[1] - reach[1]
    return max(low, straight[0]) - 1e-9 <= at <= min(high, straight[1]) + 1e-9


def place(
    host: HostPipe, asked: float | None, reach: Reach, what: str, key: tuple[str | int, ...]
) -> tuple[float, float, float]:
    """Station of something on a straight of its host, and the straight's two ends [mm].

    Args:
        host: the pipe.
        asked: station along its path; the middle of its longest straight when None.
        reach: straight that it needs before its station and behind it.
        what: what it is called in messages.
        key: of its place in the spec.

    Raises:
        DoesNotFit: it would stand on a bend, or over an end.
    """
    rows, (back, ahead) = straights(host.path), reach
    if asked is None and any(high - low >= back + ahead for low, high in rows):
        low, high = max(rows, key=lambda row: row[1] - row[0])
        asked = 0.5 * (low + back + high - ahead)
    for low, high in rows:
        if asked is not None and holds((low, high), asked, reach):
            return asked, low, high
    room = [
        f"{max(low + back, low) + host.before:.0f} to {min(high - ahead, high) + host.before:.0f}"
        for low, high in rows
        if high - low >= back + ahead
    ]
    where = "on" if asked is None else f"at {asked + host.before:.0f} mm of"
    raise DoesNotFit(
        key,
        f"{what} {where} {host.name}",
        f"{' or '.join(room)} mm: all of its foot on a straight"
        if room
        else f"a straight of {back + ahead:.0f} mm, which {host.name} has not",
        "move it there" if room else "lengthen the pipe, or make it smaller",
    )


def foot(host: HostPipe, at: tuple[float, float, float], toward: Vec, lean: float, up: Vec) -> Foot:
    """Where something leaves a straight, and the way out.

    Args:
        host: the pipe.
        at: its station and the straight's ends, see ``place`` [mm].
        toward: the side that it leaves to, as far as the pipe allows.
        lean: from the way the gas goes to the way out [rad].
        up: a side to take where ``toward`` runs along the pipe.
    """
    station, low, high = at
    # Just inside the straight, so that no bend at its end decides the direction.
    inner = frame_at(host.path, min(max(station, low + 1e-6), high - 1e-6))
    flow = inner.z
    origin = add(inner.origin, scale(flow, station - min(max(station, low + 1e-6), high - 1e-6)))
    side = _square(toward, flow) or _square(up, flow) or inner.x
    way = add(scale(flow, math.cos(lean)), scale(side, math.sin(lean)))
    return Foot(Frame.facing(origin, way, flow), flow, lean, station, low, high, host)


def _square(v: Vec, axis: Vec) -> Vec | None:
    across = sub(v, scale(axis, dot(v, axis)))
    return unit(across) if norm(across) > 1e-6 * max(1.0, norm(v)) else None


def seated(foot: Foot, size: TubeSize, what: str, key: tuple[str | int, ...]) -> SetOn:
    """The saddle of a tube on its host.

    Raises:
        DoesNotFit: the tube is too wide for the host, or stands over the straight's end.
    """
    host = foot.host
    room = min(host.outer_radius - size.outer_radius, host.inner_radius - size.inner_radius)
    if room < CLEAR:
        raise DoesNotFit(
            key,
            f"{what} of {2 * size.outer_radius:g} mm OD and {2 * size.inner_radius:g} mm bore on "
            f"{host.name} of {2 * host.outer_radius:g} mm OD and {2 * host.inner_radius:g} mm bore",
            "narrower than its host, outside and in",
            "make it narrower, or the host wider",
        )
    out = 3.0 * (foot.through + size.outer_radius)
    top = foot.frame.moved(out)
    leg = Frame(top.origin, top.x, scale(top.z, -1.0))
    made, _ = set_on(foot.axis, leg, size, what, key, 0.0)
    low, high = made.footprint()
    long = foot.high - foot.low
    if low < -1e-9 or high > long + 1e-9:
        raise DoesNotFit(
            key,
            f"{what} whose saddle reaches from {foot.low + low:.1f} to {foot.low + high:.1f} mm "
            f"along {host.name}",
            f"within its straight, {foot.low:.1f} to {foot.high:.1f} mm",
            "move it in, or lengthen the straight",
        )
    return made


def rod(foot: Foot, radius: float) -> Tube:
    """The host's straight as a rod of a radius, longer at both ends."""
    axis, more = foot.axis, 2.0 * foot.host.outer_radius
    return Tube(axis.path(-more, foot.high - foot.low + more), radius)


def standing(foot: Foot, pieces: tuple[PathPiece, ...], outer: float, inner: float) -> Node:
    """A tube from the host's axis out, without what lies in the host."""
    path = Centreline(foot.frame, pieces)
    return Cut(Tube(path, outer, inner), (rod(foot, foot.host.outer_radius),))


def bored(foot: Foot, pieces: tuple[PathPiece, ...], radius: float) -> Node:
    """Its bore outside the host's bore."""
    return Cut(Tube(Centreline(foot.frame, pieces), radius), (rod(foot, foot.host.inner_radius),))


def standing_piece(
    name: str, foot: Foot, pieces: tuple[PathPiece, ...], size: TubeSize, material: str
) -> Piece:
    """The same as a part."""
    tube = standing(foot, pieces, size.outer_radius, size.inner_radius)
    return Piece(name, None, tube, material)


def fitted(
    kind: str,
    name: str,
    foot: Foot,
    facts: tuple[tuple[str, float], ...],
    room: tuple[Centreline, float],
    use: str = "",
    scroll: str = "",
    ahead: float = 0.0,
) -> Fitted:
    """What stands on a foot, for checks and reports.

    Args:
        kind: of attachment.
        name: what it is called.
        foot: where it stands.
        facts: its numbers, each named after it.
        room: axis and radius of the room that it wants outside the host [mm].
        use: what for.
        scroll: whose gas it touches.
        ahead: how far its foot reaches along the host, with the gas [mm].
    """
    host, frame = foot.host, foot.frame
    own = tuple((key.removeprefix(f"{name}_"), value) for key, value in facts)
    return Fitted(
        kind,
        name,
        host.name,
        host.slots,
        frame.origin,
        frame.z,
        foot.flow,
        use,
        scroll,
        own,
        room,
        ahead,
    )


def hole(foot: Foot, on: SetOn) -> Hole:
    """The hole of its bore in the host's wall."""
    tool = Tube(Centreline(foot.frame, (Straight(on.depth + _PAST),)), on.size.inner_radius)
    return Hole(foot.host.part, tool, on.hole)


def branch_adds(on: SetOn, length: float) -> Added:
    """What a branch adds that is open into its host.

    Args:
        on: its saddle.
        length: of its axis, from the host's [mm].
    """
    ro, ri, rest = on.size.outer_radius, on.size.inner_radius, length - on.depth
    return Added(
        metal=on.metal + math.pi * (ro**2 - ri**2) * rest,
        gas=on.gas + math.pi * ri**2 * rest,
        wall=on.wall + math.tau * ri * rest,
        outside=on.outside + math.tau * ro * rest,
    )


def boss_adds(on: SetOn, length: float) -> Added:
    """What a boss adds: its bore is filled by what is screwed in, and is no gas."""
    ro, ri = on.size.outer_radius, on.size.inner_radius
    bare = branch_adds(on, length)
    return Added(metal=bare.metal, outside=bare.outside + math.pi * (ro**2 - ri**2))
