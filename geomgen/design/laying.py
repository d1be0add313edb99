"""Laying the runners out: what the router is asked for a spec, and its answer as a lock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from geomgen.design import lock as locks
from geomgen.design.fixed import Fixed, fixed_parts
from geomgen.design.heads import unseen
from geomgen.design.kept import with_kept
from geomgen.design.model import CommonLength
from geomgen.design.network import routing_problem
from geomgen.design.no_route import NoRoute
from geomgen.design.standing import with_prefix
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.solid_field import Solid
from geomgen.routing.problem import Problem, Routed
from geomgen.routing.shortest import Shortest, shortest
from geomgen.routing.solve import Progress, route
from geomgen.spec.header import HeaderSpec


class Unseen(Exception):
    """Nothing can be laid out: solids among the obstacles have not been measured.

    ``obstacles`` has name and file of each.
    """

    def __init__(self, obstacles: tuple[tuple[str, str], ...]) -> None:
        self.obstacles = obstacles
        super().__init__(", ".join(f"{name} ({file})" for name, file in obstacles))


@dataclass(frozen=True)
class Task:
    """Runners to lay out.

    Attributes:
        spec: what was said.
        fixed: what is decided without them.
        problem: what the router is asked; while the shortest common length is sought, for
            some length of no meaning.
        pins: parts that are pinned, for the lock.
        inputs: hash of everything that the routes depend on.
        old: the lock beside the spec, whether or not it still holds.
        unseen: name and file of each obstacle whose solid has not been measured.
    """

    spec: HeaderSpec
    fixed: Fixed
    problem: Problem
    pins: tuple[locks.Pinned, ...]
    inputs: str
    old: locks.Lock | None
    unseen: tuple[tuple[str, str], ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Of the runners."""
        return tuple(edge.name for edge in self.problem.edges)


@dataclass(frozen=True)
class Laid:
    """Runners laid out: the lock that holds them, and the task at its common length."""

    task: Task
    text: str
    lock: locks.Lock
    paths: tuple[Centreline, ...]


def task(
    spec: HeaderSpec,
    lock: str | None,
    files: Mapping[str, bytes] | None,
    solids: Mapping[str, Solid] | None = None,
) -> Task:
    """What there is to lay out.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
    """
    fixed = fixed_parts(spec)
    bare = routing_problem(spec, fixed, solids)
    old = locks.read(lock, tuple(edge.name for edge in bare.edges)) if lock is not None else None
    standing = with_kept(spec, bare, old)
    inputs = locks.fingerprint(spec, fixed.targets, files or {}, fixed.plates.envelopes)
    missing = unseen(spec, solids or {})
    return Task(spec, fixed, standing.problem, standing.pins, inputs, old, missing)


def held(task: Task, text: str | None) -> Laid | None:
    """The layout of the lock beside the spec; None when it does not hold."""
    if text is None or task.old is None or task.old.inputs != task.inputs:
        return None
    return _read(task, text, task.old)


def lay_out(task: Task, progress: Progress) -> Laid:
    """Lay the runners out anew.

    Raises:
        NoRoute: no set of runners was found.
        Unseen: there are obstacles that cannot be kept clear of.
    """
    if task.unseen:
        raise Unseen(task.unseen)
    routed, length = _routed(task, progress)
    lock = locks.Lock(
        task.inputs,
        routed.slots,
        tuple(
            with_prefix(path, edge.kept).pieces
            for path, edge in zip(routed.paths, task.problem.edges, strict=True)
        ),
        routed.score,
        tuple(edge.start for edge in task.problem.edges),
        task.pins,
        length,
    )
    # The design always comes from the lock's own text, so a build that solves and the
    # next one that does not make the same metal to the last bit.
    text = locks.write(lock, task.names)
    again = locks.read(text, task.names)
    assert again is not None
    laid = _read(task, text, again)
    assert laid is not None
    return laid


def _routed(task: Task, progress: Progress) -> tuple[Routed, CommonLength | None]:
    targets, edges = task.fixed.targets, task.problem.edges
    base = min(targets) - min(edge.length for edge in edges)
    if task.spec.runners.length != "shortest":
        answer = route(task.problem, progress)
        if not isinstance(answer, Routed):
            raise NoRoute(answer, base)
        return answer, None
    least = shortest(task.problem, progress)
    if not isinstance(least, Shortest):
        raise NoRoute(least, base)
    # No tube is shorter than nothing.
    bound = max(least.bound, -min(edge.length for edge in edges))
    return least.routed, CommonLength(targets[0] + least.by, targets[0] + bound)


def _read(task: Task, text: str, lock: locks.Lock) -> Laid | None:
    sized = _at_length(task, lock.length)
    paths = locks.paths(lock, sized.problem) if sized is not None else None
    if sized is None or paths is None:
        return None
    return Laid(sized, text, lock, paths)


def _at_length(task: Task, length: CommonLength | None) -> Task | None:
    """The task at the common length that a lock found; None when it found none and should."""
    if (length is None) != (task.spec.runners.length != "shortest"):
        return None
    if length is None:
        return task
    by = length.found - task.fixed.targets[0]
    targets = (length.found,) * len(task.fixed.targets)
    edges = tuple(replace(edge, length=edge.length + by) for edge in task.problem.edges)
    return replace(
        task,
        fixed=replace(task.fixed, targets=targets),
        problem=replace(task.problem, edges=edges),
    )
