"""Proofs that no layout exists, each of them checkable by hand.

A certificate never rests on a search that came back empty: it rests on a length that no
path can beat, on a straight that every layout must contain, or on a region that no
centreline can leave.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.distance import Span, between_straights, to_field
from geomgen.geometry.fields import at_most
from geomgen.geometry.frames import Frame, Vec, angle_between
from geomgen.routing.assignments import allowed
from geomgen.routing.floor import floor_of
from geomgen.routing.problem import Edge, Impossible, Obstacle, Problem, shelf_of
from geomgen.routing.stepped import none_of_few_bends
from geomgen.units import in_degrees

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

_TOLERANCE = 1e-3
_ROUNDING = 1e-7  # a straight tube is as long as its floor [mm]
_CELLS = 1_500_000
_MARGIN = 30.0
_NEAR, _NEAR_STEP = 110.0, 3.0  # half-size and cell of the grid about a start [mm]


def below_floor(problem: Problem) -> Impossible | None:
    """A tube whose every slot lies farther than its target."""
    for edge in problem.edges:
        smallest = min(radius.clr for radius in shelf_of(problem, edge).radii)
        # What is kept may bend tighter than anything on the shelf.
        kept = [bend.radius for part in edge.kept for bend in part.bends]
        radius = min([smallest, *kept])
        floor = min(floor_of(edge.start, slot, radius) for slot in _slots(problem, edge))
        if floor > edge.length + _ROUNDING:
            return Impossible(
                "floor",
                edge.name,
                edge.length,
                floor,
                f"no path with bends of {radius:g} mm centreline radius is shorter than "
                f"{floor:.1f} mm from {_begins(edge)} to the nearest slot",
            )
    return None


def ends_too_near(problem: Problem) -> Impossible | None:
    """Two tubes whose straights behind their transitions are nearer than they may be."""
    edges = problem.edges
    for i, one in enumerate(edges):
        for two in edges[i + 1 :]:
            apart = between_straights(_ends(problem, one), _ends(problem, two))
            gap = apart - one.radius - two.radius
            if gap < problem.gap:
                return Impossible(
                    "pitch",
                    one.name,
                    one.length,
                    0.0,
                    f"{one.name} and {two.name} leave {gap:.1f} mm between them behind their "
                    f"transitions, and {problem.gap:g} mm are asked for",
                    two.name,
                )
    return None


def too_little_turn(problem: Problem) -> Impossible | None:
    """A tube that must turn farther than all the bends it may have can turn it."""
    for edge in problem.edges:
        shelf = shelf_of(problem, edge)
        if shelf.most_bends is None or edge.kept:
            continue  # a kept bend may be of any angle
        largest = max(radius.most for radius in shelf.radii)
        slots = _slots(problem, edge)
        turn = min(angle_between(edge.start.z, slot.z) for slot in slots)
        most = shelf.most_bends * largest
        if turn > most + 1e-9:
            return Impossible(
                "turn",
                edge.name,
                edge.length,
                0.0,
                f"{edge.name} turns by at least {in_degrees(turn):.1f} deg on its way to any "
                f"slot, and {shelf.most_bends} bend(s) of at most "
                f"{in_degrees(largest):g} deg turn {in_degrees(most):g} deg at most",
            )
    return None


def too_few_bends(problem: Problem) -> Impossible | None:
    """A tube that two bends of whole steps cannot lead to any slot at its length."""
    for edge in problem.edges:
        shelf = shelf_of(problem, edge)
        if shelf.angle_step is None or shelf.most_bends is None or shelf.most_bends > 2:
            continue
        if none_of_few_bends(edge, _slots(problem, edge), shelf):
            step = in_degrees(shelf.angle_step)
            return Impossible(
                "too-few-bends",
                edge.name,
                edge.length,
                0.0,
                f"{edge.name} may have {shelf.most_bends} bends in steps of {step:g} deg: all "
                "pairs of such angles were counted, and none leads to a slot at that length. "
                "Three bends are the fewest that leave straights and rolls to take it up",
            )
    return None


def _begins(edge: Edge) -> str:
    """What a tube's start is called."""
    if edge.at_start is None:
        return "the transition"
    return "its merge" if edge.name.startswith("secondary ") else "the end of what is tacked"


def _slots(problem: Problem, edge: Edge) -> tuple[Frame, ...]:
    """Slots that a tube may take."""
    if edge.slots is None:
        return problem.slots
    return tuple(problem.slots[slot] for slot in edge.slots)


def end_blocked(problem: Problem) -> Impossible | None:
    """A straight that every layout has, behind a transition or before a slot, in an obstacle."""
    must = list(_must(problem))
    middles = np.array([path.start.point((0.0, 0.0, 0.5 * path.length)) for _, path, _ in must])
    rooms = [obstacle.field.distance(middles) for obstacle in problem.obstacles]
    for i, (name, path, radius) in enumerate(must):
        for obstacle, room in zip(problem.obstacles, rooms, strict=True):
            if room[i] - 0.5 * path.length - radius > obstacle.gap:
                continue
            near = to_field(Span.whole(path), obstacle.field, _TOLERANCE)
            gap = near.upper - radius
            if gap < obstacle.gap:
                return Impossible(
                    "end-blocked",
                    name,
                    0.0,
                    0.0,
                    f"{name} must be straight for {path.length:.0f} mm, and comes within "
                    f"{gap:.1f} mm of {obstacle.name}, which asks for {obstacle.gap:g} mm",
                    obstacle.name,
                )
    return None


def sealed(problem: Problem, near_only: bool = False) -> Impossible | None:
    """A start from which no slot can be reached: every way out is closed by obstacles.

    Space is cut into cells. A cell is closed only when all of it is nearer to an obstacle
    than a centreline may come; so when the open cells round a start hold no slot and do not
    reach the edge of the grid, no centreline can get out. A fine grid close about each start
    comes first, then a coarse one round everything that a path could reach.

    Args:
        problem: the bundle.
        near_only: look close about the starts only, which costs little.
    """
    if not problem.obstacles:
        return None
    radius = min(edge.radius for edge in problem.edges)
    for edge in problem.edges:
        grid = _Grid.about(edge.start.origin)
        if _shut_in(problem, edge, grid, grid.closed(problem, radius)):
            return _sealed_in(problem, edge, grid.step)
    if near_only:
        return None
    grid = _Grid.round_all(problem)
    shut = grid.closed(problem, radius)
    for edge in problem.edges:
        if _shut_in(problem, edge, grid, shut):
            return _sealed_in(problem, edge, grid.step)
    return None


def _sealed_in(problem: Problem, edge: Edge, step: float) -> Impossible:
    start = np.array([edge.start.origin])
    nearest = min(problem.obstacles, key=lambda o: float(o.field.distance(start)[0]) - o.gap)
    return Impossible(
        "sealed",
        edge.name,
        edge.length,
        0.0,
        f"{edge.name} cannot leave its port for any slot: obstacles and their gaps "
        f"close every way (cells of {step:.0f} mm, each wholly forbidden); the nearest is "
        f"{nearest.name}",
        nearest.name,
    )


def _shut_in(problem: Problem, edge: Edge, grid: _Grid, shut: Bools) -> bool:
    """Whether the open cells about a start reach neither a slot nor the edge of the grid."""
    reached = _flooded(shut, grid.cell(edge.start))
    if _at_edge(reached):
        return False
    cells = [grid.cell(slot) for slot in problem.slots]
    return not any(reached[cell] for cell in cells if grid.holds(cell))


def _leaving(problem: Problem, edge: Edge) -> Centreline:
    shelf = shelf_of(problem, edge)
    length = max(shelf.straight_at_start if edge.at_start is None else edge.at_start, 1e-3)
    return Centreline(edge.start, (Straight(length),))


def _ends(problem: Problem, edge: Edge) -> tuple[Vec, Vec]:
    path = _leaving(problem, edge)
    return path.start.origin, path.end.origin


def _must(problem: Problem) -> Iterator[tuple[str, Centreline, float]]:
    for edge in problem.edges:
        yield edge.name, _leaving(problem, edge), edge.radius
    if len(problem.slots) > len(problem.edges):
        return  # a blocked slot may stay empty
    for i, slot in enumerate(problem.slots):
        takers = [edge for e, edge in enumerate(problem.edges) if i in allowed(problem, e)]
        if not takers:
            continue
        # Whichever tube takes it, it is no thinner and no less straight than this.
        radius = min(edge.radius for edge in takers)
        length = max(min(shelf_of(problem, edge).straight_at_end for edge in takers), 1e-3)
        yield f"slot {i + 1}", Centreline(slot.moved(-length), (Straight(length),)), radius


@dataclass(frozen=True)
class _Grid:
    """Cells of a box: its low corner, how many along each axis, and their size [mm]."""

    low: Floats
    shape: tuple[int, int, int]
    step: float

    @staticmethod
    def about(middle: Vec) -> _Grid:
        """Close about a start, fine."""
        count = math.ceil(2.0 * _NEAR / _NEAR_STEP)
        return _Grid(np.array(middle) - _NEAR, (count, count, count), _NEAR_STEP)

    @staticmethod
    def round_all(problem: Problem) -> _Grid:
        """Round everything that a path of its length could reach."""
        ends = np.array(
            [edge.start.origin for edge in problem.edges] + [s.origin for s in problem.slots]
        )
        # No point of a path is farther from its start than the path is long.
        reach = 0.5 * max(edge.length for edge in problem.edges) + _MARGIN
        low, high = ends.min(axis=0) - reach, ends.max(axis=0) + reach
        size = high - low
        step = float((size.prod() / _CELLS) ** (1.0 / 3.0))
        x, y, z = (int(n) for n in np.ceil(size / step).astype(int))
        return _Grid(low, (x, y, z), step)

    def cell(self, frame: Frame) -> tuple[int, int, int]:
        """Index of the cell that holds a frame's origin."""
        i = np.floor((np.array(frame.origin) - self.low) / self.step).astype(int)
        return (int(i[0]), int(i[1]), int(i[2]))

    def holds(self, cell: tuple[int, int, int]) -> bool:
        """Whether a cell is one of the grid's."""
        return all(0 <= c < n for c, n in zip(cell, self.shape, strict=True))

    def _may_hold(self, obstacle: Obstacle, radius: float) -> bool:
        """Whether an obstacle is near enough to close any cell."""
        half = 0.5 * self.step * np.array(self.shape)
        middle = (self.low + half)[None, :]
        reach = float(np.linalg.norm(half)) + radius + obstacle.gap
        return float(obstacle.field.distance(middle)[0]) < reach

    def closed(self, problem: Problem, radius: float) -> Bools:
        """Cells that are wholly forbidden to the centreline of the thinnest tube."""
        axes = [self.low[k] + self.step * (np.arange(self.shape[k]) + 0.5) for k in range(3)]
        shut = np.zeros(self.shape, dtype=bool)
        half = 0.5 * math.sqrt(3.0) * self.step
        y, z = (grid.ravel() for grid in np.meshgrid(axes[1], axes[2], indexing="ij"))
        obstacles = [o for o in problem.obstacles if self._may_hold(o, radius)]
        for i, x in enumerate(axes[0]):
            layer = np.stack([np.full_like(y, x), y, z], axis=1)
            bad = np.zeros(len(layer), dtype=bool)
            for obstacle in obstacles:
                bad |= at_most(obstacle.field, layer) + half < radius + obstacle.gap
            shut[i] = bad.reshape(self.shape[1:])
        return shut


def _flooded(shut: Bools, start: tuple[int, int, int]) -> Bools:
    """Open cells that hang together with the start's, by faces, edges or corners.

    The flood stops when it is at the edge of the grid: more need not be known.
    """
    reached = np.zeros_like(shut)
    reached[start] = True
    while not _at_edge(reached):
        grown = reached
        for axis in range(3):
            ahead, behind = np.roll(grown, 1, axis), np.roll(grown, -1, axis)
            _first(ahead, axis, 0)
            _first(behind, axis, -1)
            grown = grown | ahead | behind
        grown = (grown & ~shut) | reached
        if int(grown.sum()) == int(reached.sum()):
            return grown
        reached = grown
    return reached


def _at_edge(cells: Bools) -> bool:
    """Whether any cell of the grid's six sides is set."""
    return any(bool(cells.take(0, axis).any() or cells.take(-1, axis).any()) for axis in range(3))


def _first(cells: Bools, axis: int, index: int) -> None:
    """Clear the layer that a roll brought round from the other side."""
    where: list[slice | int] = [slice(None)] * 3
    where[axis] = index
    cells[tuple(where)] = False
