"""Which part of the assembly is which runner's tube, and findings in one form."""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.design.model import Design, Runner, Secondary
from geomgen.errors import Finding, Verdict
from geomgen.geometry.frames import Vec
from geomgen.recipe.nodes import Part, Tube, parts_of

REMEDY = "do not make anything from these files; build again, and report it if it comes back"


@dataclass(frozen=True)
class TubePart:
    """A part of constant round section; ``runner`` when it is a routed tube."""

    part: Part
    tube: Tube
    runner: Runner | Secondary | None

    @property
    def subject(self) -> str:
        """``runner 1``, or the part's name."""
        return self.part.name if self.runner is None else self.runner.name


def tube_parts(design: Design) -> tuple[TubePart, ...]:
    """Every part that is a tube as it stands, in the tree's order."""
    runners = {tube.path: tube for tube in design.tubes}
    return tuple(
        TubePart(part, part.node, runners.get(part.node.centreline))
        for part in parts_of(design.assembly)
        if isinstance(part.node, Tube)
    )


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
