"""What a family bolts on beside the heads: its flanges' studs, and what hangs on the manifold."""

from __future__ import annotations

from geomgen.design.model import BoltedFlange, Stud
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.families import Layout
from geomgen.families._mounted import Bolt
from geomgen.geometry.fields import Box, placed
from geomgen.profiles.loops import bounding_box
from geomgen.routing.problem import Obstacle
from geomgen.spec.header import HeaderSpec


def bolted_flanges(layout: Layout) -> tuple[BoltedFlange, ...]:
    """Flanges that are bolted to something other than a head, with their studs."""
    return tuple(
        BoltedFlange(
            face.name,
            face.frame,
            face.seat,
            tuple(stud_of(bolt) for bolt in face.bolts),
        )
        for face in layout.bolted
    )


def stud_of(bolt: Bolt) -> Stud:
    """A turbine's stud, or the bolt in its place, for checks."""
    return Stud(bolt.name, bolt.thread, bolt.at, bolt.protrusion, bolt=bolt.length)


def hung(spec: HeaderSpec, layout: Layout) -> tuple[Obstacle, ...]:
    """What hangs on the manifold, with the gap of its kind or its own.

    It moves with the engine, so the engine's roll does not come on top.

    Raises:
        SpecError: an obstacle of the spec has the name of such a part.
    """
    taken = {said.name: i for i, said in enumerate(spec.obstacles)}
    for name in (*(part.name for part in layout.kept), *(face.name for face in layout.bolted)):
        if name in taken:
            raise SpecError(
                (
                    Complaint(
                        ("obstacles", taken[name], "name"),
                        name,
                        "a name that no part of the collector's own has",
                        "give it another name",
                    ),
                )
            )
    return tuple(
        Obstacle(
            part.name,
            part.field,
            part.gap if part.gap is not None else float(getattr(spec.limits, f"gap_{part.kind}")),
            hangs=True,
        )
        for part in layout.kept
    )


def bolted_plates(layout: Layout, gap: float) -> tuple[Obstacle, ...]:
    """The plates of bolted flanges, for runners that come near them."""
    found = []
    for face in layout.bolted:
        box = bounding_box(face.outline)
        field = Box((box.left, box.bottom, 0.0), (box.right, box.top, face.seat))
        found.append(Obstacle(face.name, placed(field, face.frame), gap, hangs=True))
    return tuple(found)
