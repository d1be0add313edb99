"""A flex joint in the tail: a bellows as the room it takes, and plain pipe behind it."""

from __future__ import annotations

import math
from typing import Literal

from geomgen.attachments import Added, Attached, Bar, Host, Tail
from geomgen.attachments._saddles import last_pipe, straights
from geomgen.attachments._said import AttachmentSpec, Size
from geomgen.families import AreaAt, DoesNotFit, Fitted, Piece
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.plates._said import PartName
from geomgen.recipe.nodes import Tube

KIND = "flex"
ORDER = 10
ROUTED = True

_LAST = 10.0
"""Least straight of pipe before it [mm]."""


class Spec(AttachmentSpec):
    """A flex joint behind the outlet."""

    kind: Literal["flex"]
    """A flex joint on the outlet's end, with plain pipe behind it. It is drawn as the room that
    it takes: a bought part, whose bellows is not ours to draw; its bore is taken as the pipe's."""
    name: PartName = "flex"
    """Name of its part."""
    length: Size = 100.0
    """As fitted, over all."""
    free: Size | None = None
    """Length of what bends: the bellows without its ends. Six tenths of ``length`` without it."""
    od: Size
    """Across its braid or bellows."""
    tail: Size = 80.0
    """Plain pipe behind it, of the outlet's size."""


def on_collector(spec: Spec, host: Host) -> Attached:
    """The joint and the pipe behind it.

    Args:
        spec: what was said [mm].
        host: what it holds on to.

    Raises:
        DoesNotFit: there is no one outlet, or the joint is no wider than the pipe.
    """
    pipe = last_pipe(host, "a flex joint")
    if spec.od / 2.0 <= pipe.outer_radius:
        raise DoesNotFit(
            ("od",),
            f"{spec.od:g} mm",
            f"more than the pipe, {2 * pipe.outer_radius:g} mm",
            "say how wide it is over its braid",
        )
    free = 0.6 * spec.length if spec.free is None else spec.free
    if free >= spec.length:
        raise DoesNotFit(
            ("free",), f"{free:g} mm", f"less than its length, {spec.length:g} mm", "shorten it"
        )
    rows = straights(pipe.path)
    if not rows or rows[-1][1] < pipe.path.length - 1e-9 or rows[-1][1] - rows[-1][0] < _LAST:
        raise DoesNotFit(
            ("length",),
            f"a joint behind a bend of {pipe.name}",
            f"a straight of {_LAST:g} mm before it: a bellows is not to begin in a bend",
            "lengthen the outlet",
        )
    start = pipe.path.end
    joint = Centreline(start, (Straight(spec.length),))
    behind = Centreline(joint.end, (Straight(spec.tail),))
    area = math.pi * pipe.inner_radius**2
    ro, ri, r = pipe.outer_radius, pipe.inner_radius, spec.od / 2.0
    return Attached(
        pieces=(
            Piece(spec.name, None, Tube(joint, spec.od / 2.0, ri), host.material),
            Piece(f"{spec.name}_tail", None, Tube(behind, ro, ri), host.material),
        ),
        bars=(
            Bar(spec.name, joint, spec.od / 2.0),
            Bar(f"{spec.name}_tail", behind, ro),
        ),
        areas=(AreaAt(spec.length + spec.tail, area, "tail end"),),
        facts=(
            (f"{spec.name}_length_mm", spec.length),
            (f"{spec.name}_free_length_mm", free),
        ),
        fitted=(
            Fitted(
                KIND,
                spec.name,
                pipe.name,
                pipe.slots,
                start.origin,
                start.z,
                start.z,
                facts=(("length_mm", spec.length), ("free_length_mm", free)),
            ),
        ),
        tail=Tail((joint, behind), ri),
        added=Added(
            metal=math.pi * ((r**2 - ri**2) * spec.length + (ro**2 - ri**2) * spec.tail),
            gas=area * (spec.length + spec.tail),
            wall=math.tau * ri * (spec.length + spec.tail),
            outside=math.tau * (r * spec.length + ro * spec.tail + r**2 - ro**2),
        ),
    )
