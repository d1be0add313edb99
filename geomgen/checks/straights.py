"""Straights are long enough to cut, clamp and weld.

What: the straight behind the formed end, between bends, and before the collector.
Why: a straight shorter than the die's clamp cannot be bent; one too short at the flange
cannot be reached with the torch.
Limit: ``shelf.min_straight_at_flange``, ``shelf.min_straight`` (or the die's grip),
``shelf.min_straight_at_collector``.
Source: the spec; common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.geometry.centreline import Centreline, Straight

NAME = "straights"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner: its worst straight against what that place needs [mm]."""
    found = []
    for runner in design.runners:
        shelf = design.problem.shelf
        needs = (shelf.straight_at_start, shelf.straight, shelf.straight_at_end)
        what, length, needed = min(_straights(runner.path, needs), key=lambda row: row[1] - row[2])
        ok = length >= needed - _SLACK
        found.append(
            Finding(
                NAME,
                f"runner {runner.cylinder}",
                judged(ok),
                f"the tightest is {what}: {length:.1f} mm, needs {needed:.1f} mm",
                length,
                needed,
                "mm",
                "" if ok else "delete the lock and solve again, or allow shorter straights",
            )
        )
    return tuple(found)


def _straights(
    path: Centreline, needs: tuple[float, float, float]
) -> list[tuple[str, float, float]]:
    """What each straight is, its length, what it needs; bends that touch have one of 0."""
    lengths = [0.0]
    for piece in path.pieces:
        if isinstance(piece, Straight):
            lengths[-1] += piece.length
        else:
            lengths.append(0.0)
    if len(lengths) == 1:
        return [("the only straight", lengths[0], max(needs[0], needs[2]))]
    rows = [("behind the transition", lengths[0], needs[0])]
    rows += [
        (f"between bends {i} and {i + 1}", length, needs[1])
        for i, length in enumerate(lengths[1:-1], start=1)
    ]
    return [*rows, ("before the collector", lengths[-1], needs[2])]
