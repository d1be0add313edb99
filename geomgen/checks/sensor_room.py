"""There is room to screw in what goes into a bung.

What: least air between the straight room over each bung, for plug, wire and tool, and every other
tube, every obstacle and the collector's parts.
Why: a sensor that cannot be screwed in, or whose wire touches a pipe, is no use.
Limit: none of it is taken; the room is ``attachments[].room``.
Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from geomgen.checks import judged
from geomgen.checks._clearances import beside_unseen
from geomgen.design.model import Attachment, Design
from geomgen.errors import Finding
from geomgen.geometry.distance import Span, between, to_field

NAME = "sensor-room"

_CLOSE = 0.1


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a bung: the least air [mm], proven."""
    found = tuple(_finding(design, one) for one in design.attachments if one.fitted.kind == "bung")
    return beside_unseen(design, found)


def _finding(design: Design, one: Attachment) -> Finding:
    air, other = min(_airs(design, one), default=(float("inf"), "nothing"))
    ok = air >= 0.0
    assert one.fitted.room is not None
    path, radius = one.fitted.room
    return Finding(
        NAME,
        one.fitted.name,
        judged(ok),
        f"{path.length:.0f} mm of room, {2.0 * radius:.0f} mm across: {air:.1f} mm to {other}",
        air,
        0.0,
        "mm",
        "" if ok else f"turn it, or move it away from {other}",
        path.end.origin,
    )


def _airs(design: Design, one: Attachment) -> Iterator[tuple[float, str]]:
    assert one.fitted.room is not None
    path, radius = one.fitted.room
    room = Span.whole(path)
    for tube in design.tubes:
        if tube.name != one.fitted.host:
            near = between(room, Span.whole(tube.path), _CLOSE)
            yield near.lower - radius - tube.outer_radius, tube.name
    own = (one.fitted.host, one.fitted.name, _stub_of(one.fitted.host))
    for name, bar, wide in design.collector.envelopes:
        if name not in own:
            near = between(room, Span.whole(bar), _CLOSE)
            yield near.lower - radius - wide, name
    for obstacle in design.problem.obstacles:
        yield to_field(room, obstacle.field, _CLOSE).lower - radius, obstacle.name


def _stub_of(host: str) -> str:
    """The stub that a runner goes on in: of a log the very tube that the bung stands on."""
    kind, _, cylinders = host.partition(" ")
    return f"stub {cylinders}" if kind == "runner" else ""
