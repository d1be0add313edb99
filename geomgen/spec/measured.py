"""Points and directions as people can measure them, turned into numbers before anything else.

``{tape: {studs: {1a: 412, 2b: 380, 4b: 505}, side: out}}`` stands for a point,
``{towards: [1, 0, 0], below_level: 12}`` for a direction. Both may stand wherever the spec
takes a point or a direction, so the models need know nothing of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, ValidationError

from geomgen.errors import KeyPath, Problem
from geomgen.geometry.frames import Vec, add, cross, dot, norm, scale, sub, unit
from geomgen.spec.engine import Head
from geomgen.spec.explain import problem_at, problems_of
from geomgen.spec.positions import StudAt, cylinders, placed_studs, studs
from geomgen.spec.tree import Node, plain, step
from geomgen.units import Direction, Quantity, Size, Span, StrictModel

UP: Vec = (0.0, 1.0, 0.0)


class Tape(StrictModel):
    """A point by its distances from three to six studs, of either head where there are two."""

    studs: Annotated[dict[str, Size], Field(min_length=3, max_length=6)]
    """Distance from each stud, by its name: 1a, 1b, ... round the ports, or their own; with the
    bank before it where a manifold of two heads names them, ``left s1``. Ports are measured from
    their own head's studs, a head's place from those of the other."""
    side: Literal["out", "in", "face"] = "out"
    """Which side of the studs: ``out`` away from the head, ``in`` behind the studs, or in
    their ``face``."""
    hooked_on: Literal["face", "tip"] = "face"
    """Where the tape begins: the stud's middle at the head ``face``, or at its ``tip``."""
    error: Span = 2.0
    """What each distance may be off, either way."""


class TapePoint(StrictModel):
    """A point by tape."""

    tape: Tape
    """The tapes."""


class AngleFinder(StrictModel):
    """A direction by an angle finder against ``vertical``."""

    towards: Direction
    """Roughly where to, as ``[x, y, z]``; only its level part counts."""
    below_level: Annotated[float, Field(ge=-90, le=90), Quantity("angle")]
    """How far it falls below the level; negative when it climbs."""


@dataclass(frozen=True)
class Measured:
    """A point that was given by tape.

    Attributes:
        path: where it stands in the spec.
        point: in the head frame [mm].
        error: how far it may be off when every tape may be off by its stated error [mm].
        residual: worst disagreement between the tapes [mm].
    """

    path: KeyPath
    point: Vec
    error: float
    residual: float


@dataclass(frozen=True)
class Solved:
    """The tree with plain points, what was measured, what is wrong, and where it is not sound."""

    tree: Node
    measured: tuple[Measured, ...]
    problems: tuple[Problem, ...]

    @property
    def unsound(self) -> frozenset[str]:
        """Sections with a stand-in for something that could not be solved."""
        return frozenset(str(problem.path[0]) for problem in self.problems if problem.path)


OWN_FRAMES: tuple[KeyPath, ...] = tuple(
    ("collector", "turbine", key) for key in ("envelopes", "drain", "support")
)
"""Where points and directions are in a frame of their own: no tape or angle finder there."""

_Answer = Measured | Vec | list[Problem]


def solve(root: Node) -> Solved:
    """Replace every measured point and direction of a spec by its numbers."""
    spots = list(_spots(root, ()))
    if not spots:
        return Solved(root, (), ())
    known: dict[KeyPath, dict[str, StudAt] | None] = {}
    up = _up(root)
    measured: list[Measured] = []
    problems: list[Problem] = []
    tree = root
    for path, node in spots:
        answer: _Answer
        if path[:3] in OWN_FRAMES:
            answer = [_in_its_own_frame(root, path, node)]
        elif "tape" in node.entries:
            within = _within(path)
            if within not in known:
                known[within] = _studs(root, within)
            answer = _by_tape(root, path, node, known[within])
        else:
            answer = _by_angle(root, path, node, up)
        if isinstance(answer, list):
            problems.extend(answer)
            vector: Vec = (0.0, 0.0, 1.0)
        elif isinstance(answer, Measured):
            measured.append(answer)
            vector = answer.point
        else:
            vector = answer
        numbers: list[Node] = [Node(node.mark, value, f"{value:g}") for value in vector]
        tree = _put(tree, path, replace(node, value=numbers))
    return Solved(tree, tuple(measured), tuple(problems))


def _in_its_own_frame(root: Node, path: KeyPath, node: Node) -> Problem:
    return problem_at(
        root,
        path,
        "a tape" if "tape" in node.entries else "an angle finder",
        "[x, y, z] in the frame of the turbine's own inlet",
        "measure it on the turbine: x right, y up, z out of the inlet as one looks at it",
    )


def _spots(node: Node, path: KeyPath) -> Any:
    if isinstance(node.value, dict):
        if "tape" in node.value or "below_level" in node.value:
            yield path, node
            return
        for key, entry in node.value.items():
            yield from _spots(entry.node, (*path, key))
    elif isinstance(node.value, list):
        for i, item in enumerate(node.value):
            yield from _spots(item, (*path, i))


def _put(node: Node, path: KeyPath, new: Node) -> Node:
    if not path:
        return new
    part, rest = path[0], path[1:]
    if isinstance(node.value, dict):
        entry = node.value[str(part)]
        below = replace(entry, node=_put(entry.node, rest, new))
        return replace(node, value={**node.value, str(part): below})
    if isinstance(node.value, list) and isinstance(part, int):
        items = list(node.value)
        items[part] = _put(items[part], rest, new)
        return replace(node, value=items)
    return node


def _within(path: KeyPath) -> KeyPath:
    """The part of a head that a point is in, for the studs that it may be measured from."""
    if path[:1] != ("heads",):
        return ()
    return path[:3] if path[2:3] == ("place",) else path[:2]


def _studs(root: Node, within: KeyPath) -> dict[str, StudAt] | None:
    """Studs that a point may be measured from, by name; None when their heads are not sound.

    In a head's own coordinates for what is part of it, else in the manifold's.
    """
    heads = step(root, "heads")
    nodes = heads.value if heads is not None and isinstance(heads.value, list) else []
    count = _cylinders(root)
    found: dict[str, StudAt] = {}
    for i, node in enumerate(nodes):
        own, place = within[1:2] == (i,), within[2:3] == ("place",)
        if (within and not place and not own) or (place and own):
            continue
        head = _head(node)
        if head is None or (not own and _measured_place(node)):
            return None
        numbers = cylinders(head, count)
        here = studs(head, numbers) if own else placed_studs(head, numbers, len(nodes))
        found |= {stud.name: stud for stud in here}
    return found if nodes else None


def _measured_place(node: Node) -> bool:
    place = step(node, "place")
    return place is not None and any(True for _ in _spots(place, ()))


def _head(node: Node) -> Head | None:
    """A head, with stand-ins for points that are still to be measured; None when not sound."""
    for path, spot in list(_spots(node, ())):
        node = _put(node, path, replace(spot, value=[_number(spot, v) for v in _STAND_IN]))
    try:
        return Head.model_validate(plain(node))
    except ValidationError:
        return None


_STAND_IN = (0.0, 0.0, 1.0)


def _cylinders(root: Node) -> int:
    engine = step(root, "engine")
    count = step(engine, "cylinders") if engine is not None else None
    number = count.value if count is not None and isinstance(count.value, int) else 1
    return max(1, min(number, 16))


def _number(node: Node, value: float) -> Node:
    return Node(node.mark, value, f"{value:g}")


def _up(root: Node) -> Vec:
    said = step(root, "vertical")
    if said is None:
        return UP
    try:
        up: Vec = TypeAdapter(Direction).validate_python(plain(said))
    except ValidationError:
        return UP
    return unit(up)


def _validated(model: type[Any], root: Node, path: KeyPath, node: Node) -> Any:
    """The model, or the list of problems that keep it from being one."""
    try:
        return model.model_validate(plain(node))
    except ValidationError as error:
        return problems_of(error, model, root, path)


def _by_tape(
    root: Node, path: KeyPath, node: Node, names: dict[str, StudAt] | None
) -> Measured | list[Problem]:
    said = _validated(TapePoint, root, path, node)
    if isinstance(said, list):
        return said
    where = (*path, "tape", "studs")
    if path[:1] == ("heads",) and path[2:3] == ("ports",):
        at_port = step(step(root, "heads") or root, path[1])
        stud = step(at_port, "studs") if at_port is not None else None
        if stud is not None and "at_each_port" in stud.entries:
            return [
                problem_at(
                    root,
                    where,
                    "a port measured from studs that stand round the ports",
                    "studs with places of their own",
                    "give the studs by at",
                )
            ]
    if names is None:
        return []
    unknown = [name for name in said.tape.studs if name not in names]
    if unknown:
        known = ", ".join(names)
        return [
            problem_at(root, (*where, name), f"stud {name}", f"one of {known}", "name a stud")
            for name in unknown
        ]
    return _fixed(root, path, said.tape, names)


def _fixed(
    root: Node, path: KeyPath, tape: Tape, names: dict[str, StudAt]
) -> Measured | list[Problem]:
    from geomgen.geometry.tape import TapesDoNotFix, fix

    where = (*path, "tape", "studs")
    ends: Callable[[StudAt], Vec] = lambda s: s.face if tape.hooked_on == "face" else s.tip  # noqa: E731
    try:
        found = fix(
            [ends(names[name]) for name in tape.studs],
            list(tape.studs.values()),
            tape.side,
            tape.error,
            names[next(iter(tape.studs))].out,
        )
    except TapesDoNotFix as error:
        return [
            problem_at(root, where, str(error), "three studs that form a triangle", "add a stud")
        ]
    off = math.sqrt(math.fsum(r * r for r in found.residuals))
    if off > tape.error * math.sqrt(len(found.residuals)) + 1e-6:
        worst = max(abs(r) for r in found.residuals)
        return [
            problem_at(
                root,
                where,
                f"tapes that miss one another by up to {worst:.1f} mm",
                f"distances that meet within the stated error of {tape.error:g} mm",
                "measure again, or check the studs' names and the side",
            )
        ]
    return Measured(path, found.point, found.error, max(abs(r) for r in found.residuals))


def _by_angle(root: Node, path: KeyPath, node: Node, up: Vec) -> Vec | list[Problem]:
    said = _validated(AngleFinder, root, path, node)
    if isinstance(said, list):
        return said
    level = sub(said.towards, scale(up, dot(said.towards, up)))
    if norm(cross(said.towards, up)) < 1e-9 * norm(said.towards):
        return [
            problem_at(
                root,
                (*path, "towards"),
                "a direction along the vertical",
                "a direction with a level part",
                "say roughly where it goes to",
            )
        ]
    fall = math.radians(said.below_level)
    return add(scale(unit(level), math.cos(fall)), scale(up, -math.sin(fall)))
