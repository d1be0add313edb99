"""When nothing was found: what binds, and which way the collector would have to go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from geomgen.geometry.centreline import Centreline
from geomgen.geometry.fields import placed
from geomgen.geometry.frames import Frame, Vec, scale
from geomgen.routing.attempt import Progress, Round
from geomgen.routing.candidates import PER_RADIAN, shape_shortfall
from geomgen.routing.paths import exact_shape, measure
from geomgen.routing.problem import Binding, Move, Problem, shelf_of
from geomgen.routing.prove import clearances
from geomgen.units import in_degrees

_AXES: tuple[tuple[str, Vec], ...] = (
    ("x", (1.0, 0.0, 0.0)),
    ("y", (0.0, 1.0, 0.0)),
    ("z", (0.0, 0.0, 1.0)),
)
_FIRST, _MOST = 5.0, 160.0
_LEAST = 0.5


def binding(problem: Problem, rounds: tuple[Round, ...]) -> Binding:
    """Which single tube, or which pair, kept the nearest layout from being clear."""
    for found in reversed(rounds):
        if found.poor:
            name = found.poor[0]
            told = f"{name} finds no path of its length past obstacles and tools"
            return Binding("alone", told, name)
    stuck = [found for found in rounds if found.stuck is not None]
    if not stuck:
        told = "every runner finds a path alone, but no set of them comes near to fitting"
        return Binding("together", told)
    nearest = min(stuck, key=lambda found: found.stuck.short if found.stuck else 0.0)
    assert nearest.stuck is not None
    batches = nearest.stuck.batches
    shapes = [
        (float(shape_shortfall(measure(batch), batch, shelf_of(problem, edge))[0]), edge.name)
        for batch, edge in zip(batches, problem.edges, strict=True)
    ]
    paths = tuple(
        exact_shape(batch, edge.length).path(0)
        for batch, edge in zip(batches, problem.edges, strict=True)
    )
    worst = max(
        clearances(problem, paths, nearest.slots), key=lambda found: found.needed - found.gap
    )
    short = worst.needed - worst.gap
    if max(shapes)[0] > short:
        lack, name = max(shapes)
        told = (
            f"in the nearest set that was found {name} lacks {lack:.1f} mm of straight, or "
            f"{in_degrees(lack / PER_RADIAN):.1f} deg of bend, that the shelf asks for"
        )
        return Binding("shelf", told, name)
    told = (
        f"in the nearest set that was found {worst.subject} comes within {worst.gap:.1f} mm of "
        f"{worst.other}, and {worst.needed:g} mm are asked for"
    )
    return Binding("gap", told, worst.subject, worst.other)


def collector_moves(
    problem: Problem, fits: Callable[[Problem], tuple[bool, int]], progress: Progress
) -> tuple[tuple[Move, ...], int]:
    """The smallest move of the collector along each axis that was found to free the runners.

    Moves are doubled until one routes, so that half of it has been tried and failed at the
    same budget; the first is halved until it fails.

    Args:
        problem: that was not routed.
        fits: whether a problem routes, and how many paths were tried.
        progress: told how it goes.

    Returns:
        Moves, at most one an axis, and how many paths were tried.
    """
    tried = 0
    found: dict[str, Move] = {}
    size = _FIRST
    while size <= _MOST and len(found) < len(_AXES):
        for name, axis in _AXES:
            for way in (1.0, -1.0):
                if name in found:
                    continue
                progress("looking for a collector move", round(size), round(_MOST))
                routes, count = fits(moved(problem, scale(axis, way * size)))
                tried += count
                if routes:
                    found[name], more = _halved(problem, fits, name, scale(axis, way), size)
                    tried += more
        size *= 2.0
    return tuple(found[name] for name, _ in _AXES if name in found), tried


def _halved(
    problem: Problem,
    fits: Callable[[Problem], tuple[bool, int]],
    name: str,
    way: Vec,
    size: float,
) -> tuple[Move, int]:
    """The move, halved for as long as the half routes too."""
    tried = 0
    while size > _LEAST:
        routes, count = fits(moved(problem, scale(way, 0.5 * size)))
        tried += count
        if not routes:
            return Move(name, sum(way) * size, True), tried
        size *= 0.5
    return Move(name, sum(way) * size, False), tried


def changed(problem: Problem, by: float) -> Problem:
    """The problem with all lengths changed by one amount [mm]."""
    edges = tuple(replace(edge, length=edge.length + by) for edge in problem.edges)
    return replace(problem, edges=edges)


def moved(problem: Problem, by: Vec) -> Problem:
    """The problem with all slots, and what stands behind them, moved as one [mm].

    Junctions and the starts of the tubes that they send on go with them, and what hangs on
    the collector.
    """
    sent = {body.edge for body in problem.bodies if body.takes}
    return replace(
        problem,
        edges=tuple(
            replace(edge, start=edge.start.shifted(by)) if e in sent else edge
            for e, edge in enumerate(problem.edges)
        ),
        slots=tuple(slot.shifted(by) for slot in problem.slots),
        obstacles=tuple(
            replace(obstacle, field=placed(obstacle.field, Frame(by)))
            if obstacle.hangs
            else obstacle
            for obstacle in problem.obstacles
        ),
        bodies=tuple(
            body
            if body.edge is not None and not body.takes
            else replace(body, path=Centreline(body.path.start.shifted(by), body.path.pieces))
            for body in problem.bodies
        ),
    )
