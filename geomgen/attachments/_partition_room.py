"""That a gate for two scrolls stands in nothing else: proven distances, before runners are laid."""

from __future__ import annotations

from itertools import product

import numpy as np

from geomgen.attachments import Bar, Host, HostPipe
from geomgen.attachments._saddles import CLEAR
from geomgen.families import DoesNotFit
from geomgen.geometry.centreline import Centreline, at
from geomgen.geometry.distance import Span, between, between_straights, to_field
from geomgen.geometry.fields import Box, Cylinder, Field, placed
from geomgen.geometry.frames import distance
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
    for bar, other in ((first, own[1]), (second, own[0])):
        _hold(("length",), bar.name, other.name, _between(bar, other), longer)
    for bar, other in product(neck, own):
        _hold(("length",), bar.name, other.name, _from_field(other, _flat_ended(bar)), longer)
    for plate, other in product(plates, own):
        _hold(("length",), plate.name, other.name, _from_field(other, _block(plate)), longer)
    away = "move it along the pipes, turn it away (toward), or change its length or lean"
    for bar, other in product(bars, others):
        _hold(key, bar.name, other.name, _between(bar, other), away)
    for plate, other in product(plates, others):
        _hold(key, plate.name, other.name, _from_field(other, _block(plate)), away)
    for bar, plate in product(bars, host.layout.plates):
        if not plate.loose:
            _hold(key, bar.name, plate.name, _from_field(bar, _block(plate)), away)


def _between(bar: Bar, other: Bar) -> float:
    """Room between two bars, or what it is at least where that is plenty [mm]."""
    wide = bar.radius + other.radius
    lower = _balls(bar.path, other.path) - wide
    if lower > CLEAR:
        return lower
    if not bar.path.bends and not other.path.bends:
        ends = [(path.start.origin, path.end.origin) for path in (bar.path, other.path)]
        return between_straights(ends[0], ends[1]) - wide
    return between(Span.whole(bar.path), Span.whole(other.path), _NEAR).lower - wide


def _balls(one: Centreline, other: Centreline) -> float:
    """Least distance of the balls about two paths' middles that hold them [mm]."""
    middles = [at(path, 0.5 * path.length).origin for path in (one, other)]
    return distance(middles[0], middles[1]) - 0.5 * (one.length + other.length)


def _from_field(bar: Bar, field: Field) -> float:
    """Room between a bar and a solid, or what it is at least [mm]."""
    middle = at(bar.path, 0.5 * bar.path.length).origin
    lower = float(field.distance(np.array([middle]))[0]) - 0.5 * bar.path.length - bar.radius
    if lower > CLEAR:
        return lower
    return to_field(Span.whole(bar.path), field, _NEAR).lower - bar.radius


def _flat_ended(bar: Bar) -> Field:
    """A straight bar without the half balls at its ends."""
    return Cylinder(bar.path.start.origin, bar.path.end.origin, bar.radius)


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
