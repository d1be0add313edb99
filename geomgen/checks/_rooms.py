"""How much room runners leave beside a tool or a nut, shared by the checks on studs."""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.design.model import Design
from geomgen.geometry.distance import Span, to_field
from geomgen.geometry.fields import Field

_CLOSE = 0.2


@dataclass(frozen=True)
class Left:
    """Room left beyond the play [mm], negative where it lacks, and the runner that is nearest."""

    room: float
    runner: str


def left_by_runners(design: Design, fields: tuple[Field, ...]) -> Left:
    """The least room that any runner leaves beside any of some fields, proven."""
    play = design.limits["tool_play"]
    return min(
        (
            Left(
                min(to_field(Span.whole(tube.path), field, _CLOSE).lower for field in fields)
                - tube.outer_radius
                - play,
                tube.name,
            )
            for tube in design.tubes
        ),
        key=lambda left: (left.room, left.runner),
    )
