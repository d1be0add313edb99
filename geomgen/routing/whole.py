"""Bend angles in whole steps: the straights and rolls take up what rounding changes.

A tube of k bends has 2 + 3 (k - 2) free numbers; its length takes one and each whole angle
another, so three bends are the fewest that leave anything to move.
"""

from __future__ import annotations

import numpy as np

from geomgen.routing.candidates import most_angles
from geomgen.routing.descent import descend
from geomgen.routing.paths import Batch, Floats, measure
from geomgen.routing.problem import Problem, Shelf

_FLIPS = 8
_NEAR = 0.02


def whole_angles(
    problem: Problem,
    slots: tuple[int, ...],
    batches: tuple[Batch, ...],
    step: float,
    slack: float,
    steps: int,
) -> tuple[Batch, ...] | None:
    """A layout whose loose bends are all within rounding of whole steps; None when not found.

    Every angle goes to its nearest step first; while that does not come clear, the angle
    of the most blamed tube that was rounded farthest goes the other way instead.

    Args:
        problem: the bundle.
        slots: of each tube.
        batches: a layout that is clear, with any angles.
        step: of angles [rad].
        slack: see ``descend``.
        steps: of one descent.
    """
    angles = [measure(batch).angles[0] for batch in batches]
    whole = [_nearest(a, step, problem.shelf, b) for a, b in zip(angles, batches, strict=True)]
    flipped: set[tuple[int, int]] = set()
    for _ in range(_FLIPS):
        settled = descend(problem, slots, batches, 2 * steps, slack, tuple(whole))
        if settled.short <= _NEAR:
            return settled.batches
        turned = _flip(settled.blamed or tuple(range(len(batches))), whole, angles, step, flipped)
        if turned is None:
            return None
        edge, bend = turned
        way = 1.0 if angles[edge][bend] > whole[edge][bend] else -1.0
        changed = whole[edge].copy()
        changed[bend] += way * step
        whole[edge] = _within(changed, step, problem.shelf, batches[edge])
    return None


def bound_angles(
    batches: tuple[Batch, ...], step: float | None
) -> tuple[Floats | None, ...] | None:
    """Angles of tubes that have too little free to come to whole ones by themselves.

    They were drawn with whole angles, which a descent must hold.
    """
    if step is None:
        return None
    return tuple(
        measure(batch).angles[0]
        if len(batch.form.moves) < 1 + int((~batch.form.kept).sum())
        else None
        for batch in batches
    )


def _flip(
    blamed: tuple[int, ...],
    whole: list[Floats],
    angles: list[Floats],
    step: float,
    flipped: set[tuple[int, int]],
) -> tuple[int, int] | None:
    """The bend that was rounded farthest among those to blame, each once."""
    for edge in blamed:
        off = np.abs(angles[edge] - whole[edge])
        for bend in np.argsort(-off, kind="stable"):
            if (edge, int(bend)) not in flipped and off[bend] > 1e-6 * step:
                flipped.add((edge, int(bend)))
                return edge, int(bend)
    return None


def _nearest(angles: Floats, step: float, shelf: Shelf, batch: Batch) -> Floats:
    return _within(step * np.round(angles / step), step, shelf, batch)


def _within(whole: Floats, step: float, shelf: Shelf, batch: Batch) -> Floats:
    """Whole steps that the shelf allows; kept bends stay what they are."""
    least = step * np.ceil(shelf.least_angle / step - 1e-9)
    most = most_angles(batch, shelf)[0]
    return np.asarray(np.clip(whole, least, step * np.floor(most / step + 1e-9)))
