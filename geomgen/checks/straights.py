"""Straights are long enough to cut, clamp and weld.

What: the straight behind the formed end, between bends, and before the collector.
Why: a straight shorter than the die's clamp cannot be bent; one too short at the flange
cannot be reached with the torch.
Limit: ``shelf.min_straight_at_flange``, ``shelf.min_straight`` (or the die's grip),
``shelf.min_straight_at_collector``. Tube that was there before the layout, tacked or
pinned, only warns.
Source: the spec; common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.kept import kept_pieces
from geomgen.design.model import Design
from geomgen.design.standing import legs
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Bend, Centreline
from geomgen.routing.problem import Edge, shelf_of

NAME = "straights"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner: its worst straight against what it needs [mm]; none of a casting."""
    if design.collector.casting:
        return ()
    found = []
    for tube, edge in zip(design.tubes, design.problem.edges, strict=True):
        shelf = shelf_of(design.problem, edge)
        at_start = shelf.straight_at_start if edge.at_start is None else edge.at_start
        needs = (at_start, shelf.straight, shelf.straight_at_end)
        rows = list(zip(_straights(tube.path, needs), _there(tube.path, edge), strict=True))
        # What is there already can only be told; what is still to be cut comes first.
        (what, length, needed), there = min(
            rows, key=lambda row: (row[1] or row[0][1] >= row[0][2] - _SLACK, row[0][1] - row[0][2])
        )
        ok = length >= needed - _SLACK
        found.append(
            Finding(
                NAME,
                tube.name,
                judged(ok, Verdict.WARN if there else Verdict.FAIL),
                f"the tightest is {what}: {length:.1f} mm, needs {needed:.1f} mm",
                length,
                needed,
                "mm",
                _remedy(ok, there, design.tuning.rule == "as-laid"),
            )
        )
    return tuple(found)


def _remedy(ok: bool, there: bool, as_laid: bool) -> str:
    if ok:
        return ""
    if as_laid:
        return "move the collector or lengthen its stubs, or allow shorter straights on the shelf"
    return (
        "it is there already"
        if there
        else "delete the lock and solve again, or allow shorter straights"
    )


def _there(path: Centreline, edge: Edge) -> list[bool]:
    """Whether each straight was there, with the bends beside it, before the layout was made."""
    kept = kept_pieces(edge, path)
    bends = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
    behind = [True, *(i in kept for i in bends)]
    before = [*(i in kept for i in bends), True]
    return [
        bool(kept) and set(leg.pieces) <= kept and a and b
        for leg, a, b in zip(legs(path), behind, before, strict=True)
    ]


def _straights(
    path: Centreline, needs: tuple[float, float, float]
) -> list[tuple[str, float, float]]:
    """What each straight is, its length, what it needs; bends that touch have one of 0."""
    lengths = [leg.length for leg in legs(path)]
    if len(lengths) == 1:
        return [("the only straight", lengths[0], max(needs[0], needs[2]))]
    rows = [("behind the transition", lengths[0], needs[0])]
    rows += [
        (f"between bends {i} and {i + 1}", length, needs[1])
        for i, length in enumerate(lengths[1:-1], start=1)
    ]
    return [*rows, ("before the collector", lengths[-1], needs[2])]
