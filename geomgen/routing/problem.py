"""What the router is asked and what it may answer: frozen data."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import Nearest
from geomgen.geometry.fields import Box, Field
from geomgen.geometry.frames import Frame


@dataclass(frozen=True)
class Radius:
    """A bend that can be had: centreline radius [mm] and its largest angle [rad]."""

    clr: float
    most: float


@dataclass(frozen=True)
class Shelf:
    """What bends and straights may be used [mm, rad].

    Attributes:
        radii: the bends, in order of preference.
        least_angle: smallest bend worth cutting.
        straight: least straight between bends.
        straight_at_start: least straight behind the start pose.
        straight_at_end: least straight before the slot.
        most_bends: most bends in one tube; None for no limit.
        angle_step: every bend's angle is a whole multiple of it; None for any angle.
    """

    radii: tuple[Radius, ...]
    least_angle: float
    straight: float
    straight_at_start: float
    straight_at_end: float
    most_bends: int | None = None
    angle_step: float | None = None


@dataclass(frozen=True)
class Station:
    """A stretch of a tube that is wanted on one straight [mm].

    Where it cannot be, the tube is laid out all the same: it is priced, and never a limit.

    Attributes:
        at: its middle, along the tube from its start.
        length: of the stretch.
        within: how far from there it may be before the search goes on for a better layout.
        end: what it keeps of the tube's end.
    """

    at: float
    length: float
    within: float
    end: float = 0.0


@dataclass(frozen=True)
class Edge:
    """One tube wanted: from a fixed pose to some slot, exactly ``length`` long.

    Attributes:
        name: what it is called.
        start: pose that it leaves along z.
        length: from start to slot [mm].
        radius: outside [mm].
        order: its place in the firing order.
        slots: the slots that it may take; None for any.
        kept: parts that stay where they are in space, in order along the tube: what was
            tacked at its start, bends and straights that were pinned, or all of it.
        at_start: least straight behind the start, where it is not the shelf's [mm].
        shelf: what this tube may be made of, where it is not what the problem's are.
        stations: stretches that are wanted on straights, in order.
    """

    name: str
    start: Frame
    length: float
    radius: float
    order: int
    slots: tuple[int, ...] | None = None
    kept: tuple[Centreline, ...] = ()
    at_start: float | None = None
    shelf: Shelf | None = None
    stations: tuple[Station, ...] = ()


@dataclass(frozen=True)
class Obstacle:
    """A solid and the gap that every tube keeps from it [mm].

    ``hangs`` says that it hangs on the collector and goes where that goes.
    """

    name: str
    field: Field
    gap: float
    hangs: bool = False


@dataclass(frozen=True)
class ToolPlace:
    """One way to reach one stud: free when every field is clear by ``gap`` [mm].

    ``within`` holds all the fields: what stays out of it by ``gap`` need not be measured.
    """

    stud: str
    tool: str
    fields: tuple[Field, ...]
    gap: float
    within: Box


@dataclass(frozen=True)
class Body:
    """A fixed bar of round section that tubes keep clear of [mm].

    Attributes:
        path: its axis, in the direction of the gas.
        radius: outside.
        edge: the tube that it belongs to and starts from (a transition), or None.
        slot: the slot that it continues (a stub), or None.
        takes: slots of the tubes that run into it: their last straights, and no others, need
            not keep clear of it. Left out, those of its slot's collector, or all where it is
            of no tube and no slot.
        free: length before their ends over which those tubes need not keep clear of it, where
            that is more than their last straights; for tubes that nobody has to lay out [mm].
    """

    name: str
    path: Centreline
    radius: float
    edge: int | None = None
    slot: int | None = None
    takes: tuple[int, ...] = ()
    free: float = 0.0


@dataclass(frozen=True)
class Problem:
    """A bundle of tubes to be laid out together.

    Attributes:
        edges: the tubes.
        slots: end poses, in order round the collector; z is the way the gas goes.
        bodies: transitions, stubs, cone, outlet. A stub is taken as the continuation of
            the last straight before it, a transition as the beginning of its tube.
        shelf: what tubes may be made of that have none of their own; see ``shelf_of``.
        gap: between outsides before the last straights.
        obstacles: with their gaps.
        studs: names of the studs, in order.
        places: ways to reach them; every stud needs one that stays free.
        off: obstacles as they bar the way off the studs; tubes keep out of them.
        rings: slots of each collector, in order round it; without any, all slots are of one.
    """

    edges: tuple[Edge, ...]
    slots: tuple[Frame, ...]
    bodies: tuple[Body, ...]
    shelf: Shelf
    gap: float
    obstacles: tuple[Obstacle, ...]
    studs: tuple[str, ...]
    places: tuple[ToolPlace, ...]
    off: tuple[Obstacle, ...] = ()
    rings: tuple[tuple[int, ...], ...] = ()


@dataclass(frozen=True)
class Clearance:
    """A proven gap between two outsides.

    ``gap`` is a lower bound and ``upper`` certainly reached [mm]; ``needed`` what is asked.
    """

    subject: str
    other: str
    gap: float
    upper: float
    needed: float
    piece: int
    nearest: Nearest


@dataclass(frozen=True)
class Routed:
    """A layout: one path an edge, each ending in its own slot, proven clear.

    ``score`` is the documented one of ``routing.score``; ``in_order`` says whether
    neighbours round the collector follow the firing order.
    """

    paths: tuple[Centreline, ...]
    slots: tuple[int, ...]
    score: float
    in_order: bool
    tried: int


@dataclass(frozen=True)
class Impossible:
    """No layout exists, and why.

    Attributes:
        kind: of certificate: ``floor``, ``pitch``, ``end-blocked``, ``turn``,
            ``too-few-bends`` or ``sealed``.
        edge: the tube, or end, that it is about.
        target: length asked for [mm].
        floor: length that no path beats, for ``floor`` [mm].
        reason: in words, with the numbers.
        other: what is in its way, or bars it: a tube or an obstacle; empty where nothing is.
    """

    kind: str
    edge: str
    target: float
    floor: float
    reason: str
    other: str = ""


@dataclass(frozen=True)
class Move:
    """A move of the collector that frees the runners, proven by routing them.

    Attributes:
        axis: of the head frame: ``x``, ``y`` or ``z``.
        by: how far along it [mm].
        half_failed: whether half of it was tried at the same budget and failed.
    """

    axis: str
    by: float
    half_failed: bool


@dataclass(frozen=True)
class Binding:
    """What kept the nearest set of tubes from being clear.

    Attributes:
        kind: ``alone``: one tube finds no path by itself; ``shelf``: one lacks straight or bend;
            ``gap``: two things come too near; ``together``: nothing that can be named.
        text: in words, with the numbers.
        subject: the tube that it is about; empty where it is about all.
        other: what that comes too near to, for ``gap``.
    """

    kind: str
    text: str
    subject: str = ""
    other: str = ""


@dataclass(frozen=True)
class NotFound:
    """No layout was found within the budget, which proves nothing.

    Attributes:
        tried: paths drawn; the budget is a number of paths, not a time.
        binding: what kept the nearest set of tubes from being clear.
        nearest_length: how much longer than asked the least common length is that was
            routed; None when none was [mm].
        moves: the smallest collector move found along each axis, where one was.
        links_longer: how much longer than asked the tubes between free junctions were, with
            nothing else changed, when all was routed; None when that was not found [mm].
    """

    tried: int
    binding: Binding
    nearest_length: float | None
    moves: tuple[Move, ...] = ()
    links_longer: float | None = None


Answer = Routed | Impossible | NotFound


def shelf_of(problem: Problem, edge: Edge) -> Shelf:
    """What a tube may be made of: its own shelf, or else the problem's."""
    return problem.shelf if edge.shelf is None else edge.shelf


def together(problem: Problem, slot: int, other: int) -> bool:
    """Whether two slots are of one collector, whose array sets the gap before it."""
    rings = problem.rings
    return not rings or any(slot in ring and other in ring for ring in rings)


def spared(problem: Problem, body: Body, slot: int) -> bool:
    """Whether the last straight of a tube into a slot need not keep clear of a body."""
    if body.takes or body.edge is not None:
        return slot in body.takes
    return body.slot is None or together(problem, slot, body.slot)


def leads_on(problem: Problem, slot: int, edge: int) -> bool:
    """Whether a tube starts from the junction that a slot is of."""
    return any(body.slot == slot and body.edge == edge for body in problem.bodies)


def half_turn(problem: Problem, edge: Edge) -> float:
    """Length along a tube's path within which it cannot meet itself: half a turn [mm].

    By Schur's theorem a path of bounded curvature cannot come back sooner; one without bends
    never does.
    """
    radii = shelf_of(problem, edge).radii
    return math.pi * max((radius.clr for radius in radii), default=math.inf)
