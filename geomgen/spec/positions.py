"""Places that follow from a head's pattern: port centres and studs, in the head frame."""

from __future__ import annotations

from dataclasses import dataclass, replace

from geomgen.geometry.frames import Frame, Vec, unit
from geomgen.spec.engine import Head


@dataclass(frozen=True)
class StudAt:
    """A stud by name: where it leaves the head face, its free end [mm], and the way it points."""

    name: str
    port: int | None
    face: Vec
    tip: Vec
    out: Vec = (0.0, 0.0, 1.0)


def cylinders(head: Head, engine_cylinders: int) -> tuple[int, ...]:
    """Cylinder numbers of a head's ports in their order along the head."""
    return head.cylinders or tuple(range(1, engine_cylinders + 1))


def port_centres(head: Head, count: int) -> tuple[Vec, ...] | None:
    """Centres of ``count`` ports at the gasket face [mm]; None when the spec does not say."""
    ports = head.ports
    if ports.at is not None:
        if len(ports.at) != count:
            return None
        return tuple((p[0], p[1], p[2] if len(p) == 3 else 0.0) for p in ports.at)
    if ports.pitch is None and count > 1:
        return None
    return tuple((i * (ports.pitch or 0.0), 0.0, 0.0) for i in range(count))


def studs(head: Head, numbers: tuple[int, ...]) -> tuple[StudAt, ...]:
    """Every stud of a head.

    Args:
        head: the head.
        numbers: cylinder numbers of its ports in their order along the head.

    Returns:
        Studs in order: round each port ``1a``, ``1b``, ..., or one by one by their own
        names or ``s1``, ``s2``, ...; none when the ports' places are not known.
    """
    said = head.studs
    found: list[tuple[str, int | None, float, float]] = []
    if said.at is not None:
        for i, stud in enumerate(said.at):
            found.append((stud.name if stud.name != "_" else f"s{i + 1}", None, *stud.at))
    centres = port_centres(head, len(numbers))
    for number, centre in zip(numbers, centres or (), strict=False):
        for i, (x, y) in enumerate(said.at_each_port or ()):
            letter = chr(ord("a") + i) if i < 26 else f"_{i + 1}"
            found.append((f"{number}{letter}", number, centre[0] + x, centre[1] + y))
    face = -head.gasket.thickness
    return tuple(
        StudAt(name, port, (x, y, face), (x, y, face + said.protrusion))
        for name, port, x, y in found
    )


def head_frame(head: Head) -> Frame:
    """Where a head stands in the manifold's frame."""
    said = head.place
    return Frame() if said is None else Frame.facing(said.at, unit(said.z), said.x)


def prefix(head: Head, heads: int) -> str:
    """What goes before the names of a head's studs, so that no two heads share one."""
    return f"{head.bank} " if heads > 1 and head.bank and head.studs.at is not None else ""


def placed_studs(head: Head, numbers: tuple[int, ...], heads: int = 1) -> tuple[StudAt, ...]:
    """Every stud of a head in the manifold's frame, by the name that it has there.

    Args:
        head: the head.
        numbers: cylinder numbers of its ports in their order along the head.
        heads: how many the manifold has.
    """
    frame, before = head_frame(head), prefix(head, heads)
    return tuple(
        replace(
            stud,
            name=f"{before}{stud.name}",
            face=frame.point(stud.face),
            tip=frame.point(stud.tip),
            out=frame.z,
        )
        for stud in studs(head, numbers)
    )
