"""That a gate for two scrolls stands in nothing else: proven distances, before runners are laid."""

from __future__ import annotations

from itertools import product

from geomgen.attachments import Bar, Host, HostPipe
from geomgen.attachments._saddles import CLEAR
from geomgen.families import DoesNotFit
from geomgen.geometry.distance import Span, between, to_field
from geomgen.geometry.fields import Box, Field, placed
from geomgen.plates import Plate
from geomgen.profiles.loops import bounding_box

_NEAR = 0.1
"""What distances are worked out to [mm]."""


def hold_clear(
    key: tuple[str, ...],
    host: Host,
    pipes: tuple[HostPipe, HostPipe],
    bars: tuple[Bar, ...],
    plates: tuple[Plate, ...],
) -> None:
    """See that branches, neck, sheet and flange stand in nothing that the manifold has already.

    Each branch leaves its own pipe, and is held apart from the other.

    Args:
        key: of what to change where it is in the way of something else than its pipes.
        host: the manifold.
        pipes: that the branches leave.
        bars: both branches in the same order, then those of the neck.
        plates: sheet and flange.

    Raises:
        DoesNotFit: something is in the way.
    """
    own = tuple(Bar(pipe.name, pipe.path, pipe.outer_radius) for pipe in pipes)
    names = {pipe.name for pipe in pipes}
    others = tuple(
        Bar(one.name, one.path, one.radius)
        for one in host.layout.envelopes
        if one.name not in names
    )
    first, second, *neck = bars
    longer = "make it longer: the gate then stands farther from the pipes"
    for bar, other in ((first, own[1]), (second, own[0]), *product(neck, own)):
        _hold(("length",), bar.name, other.name, _between(bar, other), longer)
    for plate, other in product(plates, own):
        _hold(("length",), plate.name, other.name, _apart(other, plate), longer)
    away = "move it along the pipes, turn it away (toward), or change its length or lean"
    for bar, other in product(bars, others):
        _hold(key, bar.name, other.name, _between(bar, other), away)
    for plate, other in product(plates, others):
        _hold(key, plate.name, other.name, _apart(other, plate), away)
    for bar, plate in product(bars, host.layout.plates):
        if not plate.loose:
            _hold(key, bar.name, plate.name, _apart(bar, plate), away)


def _between(bar: Bar, other: Bar) -> float:
    near = between(Span.whole(bar.path), Span.whole(other.path), _NEAR)
    return near.lower - bar.radius - other.radius


def _apart(bar: Bar, plate: Plate) -> float:
    return to_field(Span.whole(bar.path), _block(plate), _NEAR).lower - bar.radius


def _block(plate: Plate) -> Field:
    box = bounding_box(plate.outer)
    low, high = (box.left, box.bottom, 0.0), (box.right, box.top, plate.thickness + plate.facing)
    return placed(Box(low, high), plate.frame)


def _hold(key: tuple[str, ...], name: str, other: str, clear: float, remedy: str) -> None:
    if clear < CLEAR:
        raise DoesNotFit(
            key,
            f"{name} {CLEAR - clear:.1f} mm too near {other}",
            f"{CLEAR:g} mm between them, or more",
            remedy,
        )
