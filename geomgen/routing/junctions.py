"""Junctions whose pose is free: where they go is sought before the tubes are laid out.

A junction takes tubes in and sends one on, so with its pose fixed the bundle is an ordinary
problem: the tubes in end in its slots, the tube out begins at its outlet. Poses are drawn
evenly from the room that each junction is given; those that leave some tube no length are
dropped, and the rest are tried in order of how easily all tubes reach.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from geomgen.geometry.distance import Span, between, to_field
from geomgen.geometry.frames import Frame, Vec, add, cross, scale, unit
from geomgen.routing.assignments import allowed
from geomgen.routing.attempt import EFFORTS, Effort, Progress, quiet
from geomgen.routing.draws import kronecker
from geomgen.routing.floor import floor_of
from geomgen.routing.problem import Body, Problem, Routed, shelf_of
from geomgen.routing.solve import briefly

_DRAWN = 1500
_TRIED = 24
_ENOUGH = 3
_NEAR = 0.5
"""Of a distance that is only asked whether it is enough [mm]."""

_EASY = 1.12
"""Length over floor at which a tube is neither stretched tight nor needs folding."""

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
    """

    name: str
    middle: Frame
    room: Vec
    lean: float
    turn: float = math.pi


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
    ranked: list[tuple[float, int, tuple[Frame, ...]]] = []
    numbers = kronecker(_DRAWN, 6 * len(junctions))
    for index, row in enumerate(numbers):
        poses = tuple(
            _pose(junction, tuple(float(v) for v in row[6 * i : 6 * i + 6]))
            for i, junction in enumerate(junctions)
        )
        strain = _strain(with_poses(poses))
        if math.isfinite(strain):
            ranked.append((strain, index, poses))
    ranked.sort(key=lambda item: item[:2])
    best: Joined | None = None
    tried, found = 0, 0
    done = 0
    for _, _, poses in ranked:
        problem = with_poses(poses)
        if not stands(problem):
            continue
        if done == _TRIED:
            break
        progress("placing junctions", done, min(_TRIED, len(ranked)))
        done += 1
        routed, count = briefly(problem, _QUICK)
        tried += count
        if routed is not None:
            found += 1
            if best is None or routed.score < best.routed.score:
                best = Joined(poses, problem, routed, tried)
            if found == _ENOUGH:
                break
    return best if best is None else replace(best, tried=tried)


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
    return all(
        to_field(span, obstacle.field, _NEAR).lower >= body.radius + obstacle.gap
        for obstacle in problem.obstacles
    )


def _off_bodies(problem: Problem, body: Body, others: tuple[Body, ...]) -> bool:
    span = Span.whole(body.path)
    return all(
        between(span, Span.whole(other.path), _NEAR).lower
        >= body.radius + other.radius + problem.gap
        for other in others
        if other.takes != body.takes
    )


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


def _strain(problem: Problem) -> float:
    """How far the tubes are from an easy length, worst first; infinite when one has none."""
    strains = []
    for e, edge in enumerate(problem.edges):
        radius = min(radius.clr for radius in shelf_of(problem, edge).radii)
        ratios = [
            edge.length / floor_of(edge.start, problem.slots[s], radius)
            for s in allowed(problem, e)
        ]
        if max(ratios) < 1.0:
            return math.inf
        strains.append(min(abs(math.log(ratio / _EASY)) for ratio in ratios))
    return sum(strain * strain for strain in strains)
