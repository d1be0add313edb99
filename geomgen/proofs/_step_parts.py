"""Which part of the assembly is which runner's tube, and findings in one form."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.design.model import Design, Runner, Secondary
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.copes import SaddleCope, held
from geomgen.geometry.frames import Frame, Vec, dot, norm, scale, sub
from geomgen.recipe.nodes import Cut, Node, Part, Tube, parts_of

REMEDY = "do not make anything from these files; build again, and report it if it comes back"


_ON_AXIS = 1e-6
"""How near a hole's axis must begin to its tube's [mm]."""


@dataclass(frozen=True)
class Drilling:
    """A round hole through one side of a straight of a tube.

    Attributes:
        tool: what it takes out, from the tube's axis on.
        axis: direction of the tube there.
    """

    tool: Tube
    axis: Vec

    def volume(self, tube: Tube) -> float:
        """What it takes out of the wall [mm3]."""
        start, length = self.tool.centreline.start, self.tool.centreline.length
        leg = Frame(start.moved(length).origin, start.x, scale(start.z, -1.0))
        inside, outside = (
            held(SaddleCope(leg, start.origin, self.axis, radius), self.tool.outer_radius)
            for radius in (tube.inner_radius, tube.outer_radius)
        )
        return inside - outside


@dataclass(frozen=True)
class TubePart:
    """A part of constant round section, but for holes; ``runner`` when it is of a routed tube."""

    part: Part
    tube: Tube
    runner: Runner | Secondary | None
    holes: tuple[Drilling, ...] = ()

    @property
    def subject(self) -> str:
        """``runner 1``, or the part's name where that is not the whole runner."""
        if self.runner is None or self.tube.centreline != self.runner.path:
            return self.part.name
        return self.runner.name


def tube_parts(design: Design) -> tuple[TubePart, ...]:
    """Every part that is a tube, as it stands or drilled, in the tree's order."""
    runners = {path: tube for tube in design.tubes for path in tube_paths(tube)}
    found = []
    for part in parts_of(design.assembly):
        drilled = _drilled(part.node)
        if drilled is not None:
            tube, holes = drilled
            found.append(TubePart(part, tube, runners.get(tube.centreline), holes))
    return tuple(found)


def tube_paths(tube: Runner | Secondary) -> tuple[Centreline, ...]:
    """Axes of the tubes that a routed tube is made of, without its expanders."""
    if isinstance(tube, Secondary):
        return (tube.path,)
    return tuple(section.path for section in tube.tubes if not section.is_step)


def _drilled(node: Node) -> tuple[Tube, tuple[Drilling, ...]] | None:
    """A tube and the holes in it; None where it is no tube, or cut in another way."""
    holes: list[Drilling] = []
    while isinstance(node, Cut):
        inner = node.node
        while isinstance(inner, Cut):
            inner = inner.node
        made = [_drilling(inner, tool) for tool in node.tools]
        if not all(made):
            return None
        holes += [one for one in made if one is not None]
        node = node.node
    return (node, tuple(holes)) if isinstance(node, Tube) else None


def _drilling(host: Node, tool: Node) -> Drilling | None:
    if not (isinstance(host, Tube) and isinstance(tool, Tube)) or tool.inner_radius:
        return None
    straight = all(isinstance(piece, Straight) for piece in tool.centreline.pieces)
    if not straight or tool.outer_radius >= host.inner_radius:
        return None
    way = tool.centreline.start
    for frame, piece in zip(host.centreline.frames, host.centreline.pieces, strict=False):
        away = sub(way.origin, frame.origin)
        along = dot(away, frame.z)
        off = norm(sub(away, scale(frame.z, along)))
        inside = isinstance(piece, Straight) and 0.0 < along < piece.length
        if inside and off < _ON_AXIS and abs(dot(way.z, frame.z)) < math.cos(math.radians(10.0)):
            return Drilling(tool, frame.z)
    return None


def cast(design: Design) -> bool:
    """Whether all metal is one casting, in which no tube can be told from the rest."""
    return any(part.name == "casting" for part in parts_of(design.assembly))


def finding(
    name: str,
    subject: str,
    ok: bool,
    message: str,
    *,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    where: Vec | None = None,
) -> Finding:
    """A proof's finding: pass or fail."""
    return Finding(
        name,
        subject,
        Verdict.PASS if ok else Verdict.FAIL,
        message,
        value=value,
        limit=limit,
        unit=unit,
        remedy="" if ok else REMEDY,
        where=where,
        source="proof",
    )
