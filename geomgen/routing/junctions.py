"""Junctions whose pose is free: where they go is sought before the tubes are laid out.

A junction takes tubes in and sends one on, so with its pose fixed the bundle is an ordinary
problem: the tubes in end in its slots, the tube out begins at its outlet. Poses are drawn
evenly from the room that each junction is given, ranked by how easily all tubes reach
(``ease``), and those in which the junctions keep clear are tried in that order.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from geomgen.geometry.distance import Span, between, between_straights, points_at, to_field
from geomgen.geometry.frames import Frame, Vec, add, cross, distance, scale, unit
from geomgen.routing.assignments import allowed
from geomgen.routing.attempt import EFFORTS, Effort, Progress, quiet
from geomgen.routing.draws import kronecker
from geomgen.routing.ease import ends_for, strains
from geomgen.routing.paths import Floats
from geomgen.routing.problem import Body, Edge, Impossible, Problem, Routed
from geomgen.routing.solve import briefly
from geomgen.routing.stations import astray

_DRAWN = 800
_NEARBY = 300
_LEADERS = 12
_WIDTHS = (0.4, 0.2, 0.1, 0.05)
"""Poses drawn from all of the rooms; about each of the best, in ever smaller parts of them."""

DRAWN = _DRAWN + len(_WIDTHS) * _NEARBY
"""Choices of poses that are weighed."""

_ALIKE = 0.04
_LOOKED_AT = 150
_TRIED = 24
"""Of the easiest choices, and of those that may route."""

_ENOUGH = 2
_ROUNDING = 1e-6  # of lengths that are summed up [mm]
_NEAR = 0.5
"""Of a distance that is only asked whether it is enough [mm]."""

_QUICK: Effort = replace(EFFORTS[0], descents=2, tries=8, repairs=2)


@dataclass(frozen=True)
class Junction:
    """A junction and the room it has.

    Attributes:
        name: what it is called.
        middle: pose in the middle of its room; z is the way the gas goes.
        room: how far its origin may be from there, along x, y and z of the head frame [mm].
        lean: how far its axis may lean from the middle's [rad].
        turn: how far it may be turned about its axis, either way [rad].
        wider: room and lean that it may have where nothing is found in those; None where they
            are all that it may have.
    """

    name: str
    middle: Frame
    room: Vec
    lean: float
    turn: float = math.pi
    wider: tuple[Vec, float] | None = None


@dataclass(frozen=True)
class Joined:
    """Junctions in place and the tubes laid out between them.

    Attributes:
        poses: of the junctions.
        problem: that was routed, with these poses.
        routed: its layout.
        tried: paths drawn on the way.
    """

    poses: tuple[Frame, ...]
    problem: Problem
    routed: Routed
    tried: int


def widened(junctions: tuple[Junction, ...]) -> tuple[Junction, ...]:
    """The junctions with as much room as they may have; none when that is no more."""
    if all(junction.wider is None for junction in junctions):
        return ()
    return tuple(
        one if one.wider is None else replace(one, room=one.wider[0], lean=one.wider[1], wider=None)
        for one in junctions
    )


def out_of_reach(problem: Problem) -> Impossible | None:
    """A tube out of a junction too short wherever the junction stands.

    What feeds it begins in a known place, and it ends in a known slot. Between the two are the
    tube in, the junction itself, from the slot of the tube in to where the tube out leaves, and
    the tube out. Laid end to end in one straight line they go no farther than their sum.
    """
    out = {body.edge: set(body.takes) for body in problem.bodies if body.takes}
    worst: Impossible | None = None
    for number, takes in out.items():
        if number is None:
            continue
        for e, feeder in enumerate(problem.edges):
            if e in out or not set(allowed(problem, e)) <= takes:
                continue
            found = _too_short(problem, feeder, number)
            if found is not None and (worst is None or _lacks(found) > _lacks(worst)):
                worst = found
    return worst


def _lacks(found: Impossible) -> float:
    return found.floor - found.target


def _too_short(problem: Problem, feeder: Edge, number: int) -> Impossible | None:
    """Whether a tube out of a junction is too short for one of the tubes that feed it."""
    link = problem.edges[number]
    slots = [problem.slots[slot].origin for slot in feeder.slots or ()]
    through = max(distance(slot, link.start.origin) for slot in slots)
    ends = [problem.slots[slot].origin for slot in allowed(problem, number)]
    way = min(distance(feeder.start.origin, end) for end in ends)
    floor = way - feeder.length - through
    if floor <= link.length + _ROUNDING:
        return None
    return Impossible(
        "floor",
        link.name,
        link.length,
        floor,
        f"{feeder.name} begins {way:.1f} mm from where {link.name} ends, and reaches "
        f"{feeder.length:.1f} mm of that behind its transition, the merge behind it "
        f"{through:.1f} mm, wherever it stands",
        feeder.name,
    )


def route_joined(
    junctions: tuple[Junction, ...],
    with_poses: Callable[[tuple[Frame, ...]], Problem],
    progress: Progress = quiet,
) -> Joined | None:
    """Place junctions and lay out the tubes between them; None when nothing was found.

    Args:
        junctions: whose poses are free.
        with_poses: the problem for given poses of the junctions, in their order.
        progress: told how it goes.
    """
    middles = tuple(junction.middle for junction in junctions)
    if not junctions:
        return None
    if min(edge.length for edge in with_poses(middles).edges) <= 0.0:
        return None
    ranked = _ranked(junctions, with_poses)
    best: Joined | None = None
    tried, found = 0, 0
    done = 0
    for poses in islice(ranked, _LOOKED_AT):
        if done == _TRIED or found == _ENOUGH:
            break
        problem = with_poses(poses)
        if not stands(problem):
            continue
        progress("placing junctions", done, _TRIED)
        routed, count = briefly(problem, _QUICK)
        tried += count
        done += int(count > 0)
        if routed is not None:
            found += not astray(problem, routed.paths)
            if best is None or routed.score < best.routed.score:
                best = Joined(poses, problem, routed, tried)
    return best if best is None else replace(best, tried=tried)


def _ranked(
    junctions: tuple[Junction, ...], with_poses: Callable[[tuple[Frame, ...]], Problem]
) -> Iterator[tuple[Frame, ...]]:
    """Choices of poses, easiest first: drawn evenly, then closer and closer about the best."""
    size = 6 * len(junctions)
    numbers = kronecker(_DRAWN, size)
    strain = _weighed(junctions, with_poses, numbers)
    for round_, width in enumerate(_WIDTHS):
        best = numbers[np.argsort(strain, kind="stable")[:_LEADERS]]
        aside = kronecker(_NEARBY, size, _DRAWN + round_ * _NEARBY) - 0.5
        near = best[np.arange(_NEARBY) % len(best)] + width * aside
        # What is an angle round an axis goes on round; the rest stays in its room.
        free = np.arange(size) % 6 >= 4
        near = np.where(free, near % 1.0, np.clip(near, 0.0, 1.0))
        numbers = np.concatenate([numbers, near])
        strain = np.concatenate([strain, _weighed(junctions, with_poses, near)])
    taken: list[Floats] = []
    for index in np.argsort(strain, kind="stable"):
        # Poses nearly alike route alike.
        if not np.isfinite(strain[index]):
            return
        if all(float(np.abs(numbers[index] - row).max()) > _ALIKE for row in taken):
            taken.append(numbers[index])
            yield _poses(junctions, numbers[index])


def _weighed(
    junctions: tuple[Junction, ...],
    with_poses: Callable[[tuple[Frame, ...]], Problem],
    numbers: Floats,
) -> Floats:
    middles = tuple(junction.middle for junction in junctions)
    choices = tuple(_poses(junctions, row) for row in numbers)
    return strains(*ends_for(with_poses, middles, choices))


def _poses(junctions: tuple[Junction, ...], row: Floats) -> tuple[Frame, ...]:
    numbers = tuple(float(value) for value in row)
    return tuple(
        _pose(junction, numbers[6 * i : 6 * i + 6]) for i, junction in enumerate(junctions)
    )


def stands(problem: Problem) -> bool:
    """Whether junctions keep clear of obstacles, of one another and of what else stands still."""
    joints = [body for body in problem.bodies if body.takes and body.edge is not None]
    others = [body for body in problem.bodies if body not in joints]
    return all(
        _off_obstacles(problem, body) and _off_bodies(problem, body, (*joints[i + 1 :], *others))
        for i, body in enumerate(joints)
    )


def _off_obstacles(problem: Problem, body: Body) -> bool:
    span = Span.whole(body.path)
    middle, half = points_at(body.path, np.array([0.5 * body.path.length])), 0.5 * body.path.length
    for obstacle in problem.obstacles:
        keep = body.radius + obstacle.gap
        about = float(obstacle.field.distance(middle)[0])
        if about < keep or (
            about - half < keep and to_field(span, obstacle.field, _NEAR).lower < keep
        ):
            return False
    return True


def _off_bodies(problem: Problem, body: Body, others: tuple[Body, ...]) -> bool:
    return all(
        _apart(body, other) >= body.radius + other.radius + problem.gap
        for other in others
        if other.takes != body.takes
    )


def _apart(one: Body, two: Body) -> float:
    """Distance of two bodies' axes, or a little less [mm]."""
    ends = [(body.path.start.origin, body.path.end.origin) for body in (one, two)]
    if not one.path.bends and not two.path.bends:
        return between_straights(ends[0], ends[1])
    return between(Span.whole(one.path), Span.whole(two.path), _NEAR).lower


def _pose(junction: Junction, u: tuple[float, ...]) -> Frame:
    """A pose in a junction's room from six numbers between 0 and 1."""
    x, y, z = (r * (2.0 * v - 1.0) for r, v in zip(junction.room, u[:3], strict=True))
    middle = junction.middle
    origin = add(middle.origin, (x, y, z))
    # Evenly over the cap of directions about the middle's.
    cosine = 1.0 - u[3] * (1.0 - math.cos(junction.lean))
    sine, turn = math.sqrt(max(1.0 - cosine * cosine, 0.0)), 2.0 * math.pi * u[4]
    aside = add(scale(middle.x, math.cos(turn)), scale(middle.y, math.sin(turn)))
    axis = unit(add(scale(middle.z, cosine), scale(aside, sine)))
    across = unit(cross(axis, cross(middle.x, axis)))
    frame = Frame(origin, across, axis)
    if junction.turn >= math.pi:
        return frame.rolled(2.0 * math.pi * u[5])
    return frame.rolled(junction.turn * (2.0 * u[5] - 1.0))
