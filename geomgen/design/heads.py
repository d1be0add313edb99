"""Heads with their ports and studs, and obstacles, from what the spec says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from geomgen.design.engine_rows import EngineRows
from geomgen.design.model import HeadPlace, Port, Stud
from geomgen.errors import Problem, SpecError
from geomgen.geometry.fields import Box, Cylinder, Field, HalfSpace
from geomgen.geometry.frames import Frame, unit
from geomgen.geometry.solid_field import Solid
from geomgen.ports import NoOutline, Outline, outline
from geomgen.registry import home
from geomgen.routing.problem import Obstacle
from geomgen.spec.engine import ENDS, Head
from geomgen.spec.header import HeaderSpec
from geomgen.spec.obstacles import Obstacle as ObstacleSpec
from geomgen.spec.positions import head_frame, prefix

ON_THE_CAR = ("steering", "brakes", "line", "ground", "body")
"""Kinds of obstacle that stand still while the engine rolls on its mounts."""


@dataclass(frozen=True)
class PlacedHead:
    """A head where it stands, with its ports and studs."""

    said: Head
    place: HeadPlace
    ports: tuple[Port, ...]
    studs: tuple[Stud, ...]


def heads_of(spec: HeaderSpec, files: Mapping[str, bytes]) -> tuple[PlacedHead, ...]:
    """Every head of the manifold.

    Args:
        spec: what was said.
        files: content of the files that port shapes are read from, by name.

    Raises:
        SpecError: a file gives no port.
    """
    found = []
    for number, head in enumerate(spec.heads):
        frame = head_frame(head)
        try:
            edge = outline(head.ports, files)
        except NoOutline as error:
            path = ("heads", number, "ports", error.key)
            complaint = Problem(path, error.found, error.allowed, error.remedy)
            raise SpecError((complaint,)) from None
        local = ports_of(head, edge, spec.engine.cylinders)
        ports = tuple(replace(port, frame=frame.carried(port.frame)) for port in local)
        if frame == Frame():
            ports = local
        place = HeadPlace(
            head.bank or "",
            frame,
            tuple(port.cylinder for port in ports),
            spec.flange.thickness,
        )
        before = prefix(head, len(spec.heads))
        studs = tuple(
            replace(stud, name=f"{before}{stud.name}", head=number)
            for stud in studs_of(head, local)
        )
        found.append(PlacedHead(head, place, ports, studs))
    return tuple(found)


def titled(spec: HeaderSpec, bank: str | None = None) -> str:
    """The spec's title, with the bank and the end that it is seen from where it says neither.

    Args:
        spec: what was said.
        bank: of a part; that of the manifold without it, where it has one bank.
    """
    title, engine = spec.title or spec.name, EngineRows.of(spec)
    if bank is None and len(engine.here) == 1:
        bank = engine.here[0]
    seen = f"seen from {ENDS[engine.seen_from]}" if engine.seen_from else ""
    if bank and f"{bank} bank" not in title.lower():
        return f"{title}, {engine.called(bank)}"
    if not seen or "seen from" in title.lower():
        return title
    return f"{title}, {seen}" if bank else f"{title}, banks {seen}"


def ports_of(head: Head, edge: Outline, count: int) -> tuple[Port, ...]:
    """Ports by their order along the head, each with its frame at z = 0, in the head's frame."""
    shape = home(head.ports).KIND
    numbers = head.cylinders or tuple(range(1, count + 1))
    ports = []
    for i, number in enumerate(numbers):
        x, y, z = _place(head, i)
        axis = head.ports.directions[i] if head.ports.directions else (0.0, 0.0, 1.0)
        frame = Frame.facing((x, y, z), unit(axis), (1.0, 0.0, 0.0))
        ports.append(Port(number, frame, edge.loop, shape, edge.facts))
    return tuple(ports)


def _place(head: Head, index: int) -> tuple[float, float, float]:
    if head.ports.at is not None:
        place = head.ports.at[index]
        return (place[0], place[1], place[2] if len(place) > 2 else 0.0)
    return (index * (head.ports.pitch or 0.0), 0.0, 0.0)


def studs_of(head: Head, ports: tuple[Port, ...]) -> tuple[Stud, ...]:
    """Studs with their names, in the head's frame; roots on the head face, behind the gasket."""
    root = -head.gasket.thickness
    studs = head.studs
    if studs.at is not None:
        return tuple(
            Stud(
                named.name if named.name != "_" else f"s{i + 1}",
                studs.size,
                (named.at[0], named.at[1], root),
                studs.protrusion,
            )
            for i, named in enumerate(studs.at)
        )
    return tuple(
        Stud(
            f"{port.cylinder}{'abcdefgh'[k]}",
            studs.size,
            (port.frame.origin[0] + x, port.frame.origin[1] + y, root),
            studs.protrusion,
        )
        for port in ports
        for k, (x, y) in enumerate(studs.at_each_port or ())
    )


def obstacles_of(spec: HeaderSpec, solids: Mapping[str, Solid]) -> tuple[Obstacle, ...]:
    """Obstacles as distance fields, each with the gap of its kind or its own.

    The engine's roll comes on top for what does not move with the engine. A solid that has
    not been measured is left out: ``unseen`` names it.

    Args:
        spec: what was said.
        solids: those that are measured, in their own frames, by file.
    """
    return tuple(
        Obstacle(
            said.name,
            field,
            (said.gap if said.gap is not None else float(getattr(spec.limits, f"gap_{said.kind}")))
            + (spec.limits.engine_roll if said.kind in ON_THE_CAR else 0.0),
        )
        for said in spec.obstacles
        if (field := _field(said, solids)) is not None
    )


def unseen(spec: HeaderSpec, solids: Mapping[str, Solid]) -> tuple[tuple[str, str], ...]:
    """Obstacles whose solids have not been measured: name and file of each."""
    return tuple(
        (said.name, said.solid.file)
        for said in spec.obstacles
        if said.solid is not None and said.solid.file not in solids
    )


def _field(said: ObstacleSpec, solids: Mapping[str, Solid]) -> Field | None:
    if said.box is not None:
        return Box(said.box.from_, said.box.to)
    if said.cylinder is not None:
        return Cylinder(said.cylinder.from_, said.cylinder.to, said.cylinder.diameter / 2.0)
    if said.solid is not None:
        solid = solids.get(said.solid.file)
        place = Frame.facing(said.solid.at, said.solid.z, said.solid.x)
        return solid.placed(place) if solid is not None else None
    assert said.plane is not None
    return HalfSpace(said.plane.point, unit(said.plane.normal))
