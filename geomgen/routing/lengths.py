"""Paths made as long as asked: one corner of each is moved until they are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame
from geomgen.routing.paths import (
    LENGTH_SLIP,
    Batch,
    Bools,
    Floats,
    Lines,
    half_tangents,
    legs,
    measure,
    shortening,
    unit,
)
from geomgen.routing.roots import false_position

NEAR = 0.05
"""Within what a path has its length while searching [mm]; the chosen few get it exactly."""


def with_length(batch: Batch, target: float, most: int | None = None, tries: int = 8) -> Batch:
    """Move one corner of each path so that its length is ``target`` [mm], within ``NEAR``.

    A corner that is free in space moves away from the line through its neighbours, square
    to it; one on an axis slides along it.

    Returns:
        The paths that can have that length, the first ``most`` of them.
    """
    index = batch.form.stretch
    if index is None:
        return batch.take(np.abs(measure(batch).length - target) < LENGTH_SLIP)
    rail = batch.form.rail
    rows, lines = lengthened(Lines(batch.nodes, batch.radii), target, index, rail, most, tries)
    return Batch(batch.form, lines.nodes[:, 1:-1], batch.radii[rows])


def stretchable(lines: Lines, target: float, index: int, rail: Frame | None) -> NDArray[np.intp]:
    """Rows that are too short with their stretch corner at the base of its ray."""
    # Sharp folds shorten a path on paper only: its legs are too short for their bends.
    may = np.flatnonzero(_at_base(lines, index, rail) < target + lines.radii.mean(axis=1))
    stretch = _Stretch(lines.take(may), index, rail)
    return may[stretch.length(np.zeros(len(may))) < target]


def lengthened(
    lines: Lines,
    target: float,
    index: int,
    rail: Frame | None,
    most: int | None = None,
    tries: int = 8,
) -> tuple[NDArray[np.intp], Lines]:
    """The rows that can have a length, the first ``most`` of them, and they with it."""
    may = stretchable(lines, target, index, rail)[:most]
    ok, lines = pulled(lines.take(may), target, index, rail, tries)
    return may[ok], lines


def pulled(
    lines: Lines,
    target: float,
    index: int,
    rail: Frame | None,
    tries: int = 8,
    begins: tuple[int, ...] = (0,),
) -> tuple[Bools, Lines]:
    """Which lines come to their length, and they with it."""
    if len(lines) == 0:
        return np.zeros(0, dtype=bool), lines
    stretch = _Stretch(lines, index, rail)
    t, f = false_position(
        lambda t: stretch.length(t) - target,
        np.zeros(len(lines)),
        np.full(len(lines), 0.75 * target),
        tries,
        0.1 * NEAR,
        begins,
    )
    nodes = lines.nodes.copy()
    nodes[:, index + 1] = stretch.corner(t)
    ok = np.abs(f) < NEAR
    return ok, Lines(nodes[ok], lines.radii[ok])


def _base(nodes: Floats, index: int, rail: Frame | None) -> Floats:
    """Where rays begin (n, 3): at a free corner's foot on the line past it, or at the rail's."""
    if rail is not None:
        return np.broadcast_to(np.array(rail.origin), (len(nodes), 3))
    behind = nodes[:, index]
    axis, _ = unit(nodes[:, index + 2] - behind)
    along = np.einsum("nc,nc->n", nodes[:, index + 1] - behind, axis)
    return np.asarray(behind + along[:, None] * axis)


def _at_base(lines: Lines, index: int, rail: Frame | None) -> Floats:
    """Length of all legs with the stretch corner at the base of its ray (n,) [mm]."""
    nodes = lines.nodes
    base = _base(nodes, index, rail)
    one, two = base - nodes[:, index], nodes[:, index + 2] - base
    out = np.sqrt((one * one).sum(axis=1)) + np.sqrt((two * two).sum(axis=1))
    _, sizes = legs(nodes)
    return np.asarray(sizes.sum(axis=1) - sizes[:, index] - sizes[:, index + 1] + out)


class _Stretch:
    """Length of every path as its stretch corner moves by t along its ray."""

    def __init__(self, lines: Lines, index: int, rail: Frame | None) -> None:
        nodes, radii = lines.nodes, lines.radii
        n, k = radii.shape
        self.behind, self.ahead = nodes[:, index], nodes[:, index + 2]
        self.base = _base(nodes, index, rail)
        if rail is None:
            self.ray, _ = unit(nodes[:, index + 1] - self.base)
        else:
            self.ray = np.broadcast_to(-np.array(rail.z), (n, 3))
        directions, sizes = legs(nodes)
        half = half_tangents(directions[:, :-1], directions[:, 1:])
        fillets = shortening(half, radii)
        moved = [i for i in (index - 1, index, index + 1) if 0 <= i < k]
        if rail is not None and index + 1 in moved:
            moved.remove(index + 1)
        still = [i for i in range(k) if i not in moved]
        self.rest = sizes.sum(axis=1) - sizes[:, index] - sizes[:, index + 1]
        self.rest = self.rest + fillets[:, still].sum(axis=1)
        self.before = directions[:, index - 1] if index > 0 else None
        self.after = directions[:, index + 2] if index + 1 in moved else None
        self.radii, self.index = radii, index

    def corner(self, t: Floats) -> Floats:
        return np.asarray(self.base + t[:, None] * self.ray)

    def length(self, t: Floats) -> Floats:
        corner = self.corner(t)
        one, leg_one = unit(corner - self.behind)
        two, leg_two = unit(self.ahead - corner)
        out = self.rest + leg_one + leg_two
        out += shortening(half_tangents(one, two), self.radii[:, self.index])
        if self.before is not None:
            half = half_tangents(self.before, one)
            out += shortening(half, self.radii[:, self.index - 1])
        if self.after is not None:
            half = half_tangents(two, self.after)
            out += shortening(half, self.radii[:, self.index + 1])
        return np.asarray(out)
