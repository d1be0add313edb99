"""Bend angles in whole steps: the straights and rolls take up what rounding changes.

A tube of k bends has 2 + 3 (k - 2) free numbers; its length takes one and each whole angle
another, so three bends are the fewest that leave anything to move.
"""

from __future__ import annotations

import numpy as np

from geomgen.routing.candidates import most_angles
from geomgen.routing.descent import descend
from geomgen.routing.paths import Batch, Floats, measure
from geomgen.routing.problem import Edge, Problem, shelf_of

_FLIPS = 8
_NEAR = 0.02


def whole_angles(
    problem: Problem,
    slots: tuple[int, ...],
    batches: tuple[Batch, ...],
    slack: float,
    steps: int,
) -> tuple[Batch, ...] | None:
    """A layout whose loose bends are within rounding of whole steps; None when not found.

    Only tubes whose shelf has steps are asked for them. Every angle goes to its nearest step
    first; while that does not come clear, the angle of the most blamed tube that was rounded
    farthest goes the other way instead.

    Args:
        problem: the bundle.
        slots: of each tube.
        batches: a layout that is clear, with any angles.
        slack: see ``descend``.
        steps: of one descent.
    """
    angles = [measure(batch).angles[0] for batch in batches]
    whole = [
        _nearest(problem, edge, a, b)
        for edge, a, b in zip(problem.edges, angles, batches, strict=True)
    ]
    flipped: set[tuple[int, int]] = set()
    every = tuple(range(len(batches)))
    for _ in range(_FLIPS):
        settled = descend(problem, slots, batches, 2 * steps, slack, tuple(whole))
        if settled.short <= _NEAR:
            return settled.batches
        turned = _flip(problem, settled.blamed or every, whole, angles, flipped)
        if turned is None:
            return None
        e, bend = turned
        was, step = whole[e], shelf_of(problem, problem.edges[e]).angle_step
        assert was is not None
        assert step is not None
        changed = was.copy()
        changed[bend] += step if angles[e][bend] > was[bend] else -step
        whole[e] = _within(problem, problem.edges[e], changed, batches[e])
    return None


def bound_angles(problem: Problem, batches: tuple[Batch, ...]) -> tuple[Floats | None, ...] | None:
    """Angles of tubes that have too little free to come to whole ones by themselves.

    They were drawn with whole angles, which a descent must hold.
    """
    stepped = [shelf_of(problem, edge).angle_step is not None for edge in problem.edges]
    if not any(stepped):
        return None
    return tuple(
        measure(batch).angles[0]
        if asked and len(batch.form.moves) < 1 + int((~batch.form.kept).sum())
        else None
        for asked, batch in zip(stepped, batches, strict=True)
    )


def _flip(
    problem: Problem,
    blamed: tuple[int, ...],
    whole: list[Floats | None],
    angles: list[Floats],
    flipped: set[tuple[int, int]],
) -> tuple[int, int] | None:
    """The bend that was rounded farthest among those to blame, each once."""
    for edge in blamed:
        mine, step = whole[edge], shelf_of(problem, problem.edges[edge]).angle_step
        if mine is None or step is None:
            continue
        off = np.abs(angles[edge] - mine)
        for bend in np.argsort(-off, kind="stable"):
            if (edge, int(bend)) not in flipped and off[bend] > 1e-6 * step:
                flipped.add((edge, int(bend)))
                return edge, int(bend)
    return None


def _nearest(problem: Problem, edge: Edge, angles: Floats, batch: Batch) -> Floats | None:
    """A tube's angles at their nearest whole steps; None when its shelf has no steps."""
    step = shelf_of(problem, edge).angle_step
    if step is None:
        return None
    return _within(problem, edge, step * np.round(angles / step), batch)


def _within(problem: Problem, edge: Edge, whole: Floats, batch: Batch) -> Floats:
    """Whole steps that the shelf allows; kept bends stay what they are."""
    shelf = shelf_of(problem, edge)
    step = shelf.angle_step
    assert step is not None
    least = step * np.ceil(shelf.least_angle / step - 1e-9)
    most = most_angles(batch, shelf)[0]
    return np.asarray(np.clip(whole, least, step * np.floor(most / step + 1e-9)))
