"""Laying the runners out: what the router is asked for a spec, and its answer as a lock."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from geomgen.design import lock as locks
from geomgen.design.blame import blamed
from geomgen.design.fixed import Fixed, at_poses, fixed_parts, free_junctions, laid_out
from geomgen.design.heads import unseen
from geomgen.design.kept import with_kept
from geomgen.design.model import CommonLength
from geomgen.design.network import routing_problem, with_layout
from geomgen.design.no_route import NoRoute
from geomgen.design.standing import with_prefix
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import Frame
from geomgen.geometry.solid_field import Solid
from geomgen.routing.assignments import in_order
from geomgen.routing.clear import clear
from geomgen.routing.junctions import DRAWN, Joined, Junction, out_of_reach, route_joined, widened
from geomgen.routing.problem import Binding, Impossible, NotFound, Problem, Routed
from geomgen.routing.score import layout_score
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
        free: junctions whose poses are to be chosen with the runners.
        solids: obstacles given as STEP, measured, by file.
    """

    spec: HeaderSpec
    fixed: Fixed
    problem: Problem
    pins: tuple[locks.Pinned, ...]
    inputs: str
    old: locks.Lock | None
    unseen: tuple[tuple[str, str], ...] = ()
    free: tuple[Junction, ...] = ()
    solids: Mapping[str, Solid] = field(default_factory=dict)
    files: Mapping[str, bytes] = field(default_factory=dict)

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
    fixed = fixed_parts(spec, files=files)
    free = free_junctions(spec, fixed.asked)
    names = (*(f"runner {p.cylinder}" for p in fixed.ports), *(k.name for k in fixed.layout.links))
    old = locks.read(lock, names) if lock is not None else None
    if free and old is not None and len(old.junctions) == len(free):
        fixed = at_poses(spec, fixed, old.junctions)
    bare = routing_problem(spec, fixed, solids)
    standing = with_kept(spec, bare, old)
    # What depends on a chosen pose is no input: the targets are what was asked for.
    inputs = locks.fingerprint(spec, fixed.targets, files or {}, fixed.plates.envelopes)
    missing = unseen(spec, solids or {})
    return Task(
        spec,
        fixed,
        standing.problem,
        standing.pins,
        inputs,
        old,
        missing,
        free,
        solids or {},
        files or {},
    )


def held(task: Task, text: str | None) -> Laid | None:
    """The layout of the lock beside the spec; None when it does not hold."""
    if text is None or task.old is None or task.old.inputs != task.inputs:
        return None
    if len(task.old.junctions) != len(task.free):
        return None
    return _read(task, text, task.old)


Ahead = Callable[[Task], None]
"""Told what is asked before the router looks for runners; may refuse by raising."""


_LONGER = (1.25, 1.5, 2.0)
"""Lengths of secondaries that are tried where those asked for find no places, over those."""

_LONGER_OF_MANY = (1.5,)
"""The same for more than two: each length takes far longer to try there."""


def nothing(_task: Task) -> None:
    """Have nothing to say."""


def lay_out(task: Task, progress: Progress, ahead: Ahead = nothing) -> Laid:
    """Lay the runners out anew.

    Args:
        task: what is asked.
        progress: told how it goes.
        ahead: told first, where there is anything to look for.

    Raises:
        NoRoute: no set of runners was found.
        Unseen: there are obstacles that cannot be kept clear of.
    """
    if task.fixed.layout.laid is None:
        ahead(task)
    if task.unseen:
        raise Unseen(task.unseen)
    if task.free and not (task.spec.pins or task.spec.bench):
        task, routed = _placed(task, progress)
        length = None
    else:
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
        task.fixed.asked.poses or tuple(junction.middle for junction in task.free),
    )
    # The design always comes from the lock's own text, so a build that solves and the
    # next one that does not make the same metal to the last bit.
    text = locks.write(lock, task.names)
    again = locks.read(text, task.names)
    assert again is not None
    laid = _read(task, text, again)
    assert laid is not None
    return laid


def _placed(task: Task, progress: Progress) -> tuple[Task, Routed]:
    """The task with its free junctions where all tubes reach, and the tubes laid out."""
    with_poses = _with_poses(task)
    certain = out_of_reach(task.problem)
    if certain is not None:
        raise _no_route(task, certain, _beside(task, certain))
    joined = route_joined(task.free, with_poses, progress)
    if joined is None:
        joined = route_joined(widened(task.free), with_poses, progress)
    if joined is None:
        # With the junctions in the middle of their rooms, in case that routes after all.
        return task, _in_the_middle(task, progress)
    task, routed = _settled(task, joined)
    # The room for tools was that beside junctions in the middle of their rooms.
    return task, routed or _routed(task, progress)[0]


def _settled(task: Task, joined: Joined) -> tuple[Task, Routed | None]:
    """The task with its junctions in place, and the layout where it keeps clear there too."""
    placed = at_poses(task.spec, task.fixed, joined.poses)
    problem = routing_problem(task.spec, placed, task.solids)
    kept = clear(problem, joined.routed.paths, joined.routed.slots)
    return replace(task, fixed=placed, problem=problem), joined.routed if kept else None


def _with_poses(task: Task) -> Callable[[tuple[Frame, ...]], Problem]:
    """The task's problem for any poses of its free junctions."""
    spec, fixed = task.spec, task.fixed

    def posed(poses: tuple[Frame, ...]) -> Problem:
        layout = laid_out(spec, replace(fixed.asked, poses=poses))
        layout = replace(layout, envelopes=(*layout.envelopes, *fixed.plates.envelopes))
        return with_layout(spec, fixed, task.problem, layout)

    return posed


def _in_the_middle(task: Task, progress: Progress) -> Routed:
    """The layout with junctions in the middle of their rooms.

    Raises:
        NoRoute: there is none, which says little of junctions that stand elsewhere.
    """
    found = route(task.problem, progress, ways_out=False)
    if isinstance(found, Routed):
        return found
    names = " and ".join(junction.name for junction in task.free)
    why = found.reason if isinstance(found, Impossible) else found.binding.text
    places = (
        f"of {names} no places were found from which all tubes go on; in the middle of their "
        f"rooms {why}"
    )
    tried = 0 if isinstance(found, Impossible) else found.tried
    weighed = DRAWN * (2 if widened(task.free) else 1)
    longer = _longer_links(task, progress)
    answer = NotFound(tried + weighed, Binding("places", places), None, (), longer)
    raise _no_route(task, answer, _beside(task, answer))


def _longer_links(failed: Task, progress: Progress) -> float | None:
    """By how much longer tubes between the junctions were when all was laid out [mm].

    Each length is asked for just as the spec would, so that it is found again when it does.
    """
    links, collector = failed.fixed.layout.links, failed.spec.collector
    said = links[0].length
    for part in _LONGER if len(links) == 2 else _LONGER_OF_MANY:
        length = 10.0 * math.ceil(part * said / 10.0)
        secondary = collector.secondary.model_copy(update={"length": length})
        changed = collector.model_copy(update={"secondary": secondary})
        spec = failed.spec.model_copy(update={"collector": changed})
        other = task(spec, None, failed.files, failed.solids)
        joined = route_joined(other.free, _with_poses(other), progress)
        if joined is not None and _settled(other, joined)[1] is not None:
            return length - said
    return None


def _routed(task: Task, progress: Progress) -> tuple[Routed, CommonLength | None]:
    if task.fixed.layout.laid is not None:
        return _as_laid(task), None
    targets, edges = task.fixed.targets, task.problem.edges
    if task.spec.runners.length != "shortest":
        answer = route(task.problem, progress)
        if not isinstance(answer, Routed):
            raise _no_route(task, answer, _beside(task, answer))
        return answer, None
    least = shortest(task.problem, progress)
    if not isinstance(least, Shortest):
        raise _no_route(task, least, _beside(task, least))
    # No tube is shorter than nothing.
    bound = max(least.bound, -min(edge.length for edge in edges))
    return least.routed, CommonLength(targets[0] + least.by, targets[0] + bound)


def _no_route(task: Task, answer: Impossible | NotFound, base: float) -> NoRoute:
    return NoRoute(answer, base, blamed(answer, base, task.spec, task.fixed))


def _beside(task: Task, answer: Impossible | NotFound) -> float:
    """What the tube that an answer is about counts beside its bent part [mm]."""
    asked = (*task.fixed.targets, *(link.length for link in task.fixed.layout.links))
    rest = {
        edge.name: length - edge.length
        for edge, length in zip(task.problem.edges, asked, strict=True)
    }
    named = answer.edge if isinstance(answer, Impossible) else ""
    return rest.get(named, min(rest.values()))


def _as_laid(task: Task) -> Routed:
    """The runners as the family lays them."""
    paths = task.fixed.layout.laid or ()
    slots = tuple(range(len(paths)))
    ordered = in_order(task.problem, slots)
    return Routed(paths, slots, layout_score(paths, ordered), ordered, 0)


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
