"""Solving anew beside a lock: what moved, and whether the new layout is to be kept.

The user asked for a new solution, so it is kept unless it answers the very question that
the lock answers and answers it worse: a longer common length, or a higher score.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from geomgen.design.kept import numbers_now
from geomgen.design.laying import Ahead, Laid, held, lay_out, nothing, task
from geomgen.design.lock import old_paths
from geomgen.design.model import CommonLength
from geomgen.design.moved import Layout, RunnerMove, moves
from geomgen.design.resolve import Resolved, resolved
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.solid_field import Solid
from geomgen.routing.assignments import in_order
from geomgen.routing.score import layout_score
from geomgen.routing.solve import Progress, quiet
from geomgen.routing.stations import price
from geomgen.spec.header import HeaderSpec

Verdict = Literal["first", "other inputs", "better", "same", "worse"]
"""Why a new layout is kept, or not: there was none; the lock was solved for something else;
it is no worse; nothing moved; the lock's is the better answer to the same question."""

_ALIKE = 1e-6


@dataclass(frozen=True)
class Rerouted:
    """A new solution beside the old one.

    Attributes:
        new: the design and lock that were solved now.
        verdict: why it is kept, or not.
        moved: what moved, by runner; None without a layout to compare with.
        score_before: of the lock's layout; None without one.
        length_before: common length of the lock, when it holds one.
        renamed: pins whose part has another number now: tube, as pinned, as it is now.
    """

    new: Resolved
    verdict: Verdict
    moved: tuple[RunnerMove, ...] | None
    score_before: float | None
    length_before: CommonLength | None
    renamed: tuple[tuple[str, str, str], ...]

    @property
    def keep(self) -> bool:
        """Whether the new lock is to take the old one's place."""
        return self.verdict not in ("same", "worse")


def reroute(
    spec: HeaderSpec,
    lock: str | None = None,
    files: Mapping[str, bytes] | None = None,
    progress: Progress = quiet,
    solids: Mapping[str, Solid] | None = None,
    ahead: Ahead = nothing,
) -> Rerouted:
    """Solve from scratch; of the lock only what is pinned is used.

    Args:
        spec: what was said.
        lock: text of the lock beside it, if there is one.
        files: bytes of the obstacle files that the spec names.
        progress: told how routing goes.
        solids: the same, measured, by file; those that are not are named in the design.
        ahead: told what is asked before the router looks for runners.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
        NoRoute: no set of runners was found.
        Unseen: runners must be laid out, and a solid has not been measured.
    """
    asked = task(spec, lock, files, solids)
    valid = held(asked, lock)
    laid = lay_out(asked, progress, ahead)
    new = resolved(laid, solved=True)
    names = tuple(tube.name for tube in new.design.tubes)
    before = _before(laid, valid)
    after = Layout(laid.paths, laid.lock.slots, new.design.score)
    moved = moves(before, after, names) if before is not None else None
    return Rerouted(
        new,
        _verdict(valid, laid, moved, before, after),
        moved,
        before.score if before is not None else None,
        asked.old.length if asked.old is not None else None,
        tuple(_renamed(laid)),
    )


def _before(laid: Laid, valid: Laid | None) -> Layout | None:
    """The lock's layout as it stood; its score counted as the new one's is."""
    old = laid.task.old
    if old is None:
        return None
    paths = valid.paths if valid is not None else old_paths(old, laid.task.problem)
    known = tuple(path for path in paths if path is not None)
    if len(known) != len(paths):
        return None
    return Layout(known, old.slots, _score(known, old.slots, laid))


def _score(paths: tuple[Centreline, ...], slots: tuple[int, ...], laid: Laid) -> float:
    problem = laid.task.problem
    return layout_score(paths, in_order(problem, slots), price(problem, paths))


def _verdict(
    valid: Laid | None,
    laid: Laid,
    moved: tuple[RunnerMove, ...] | None,
    before: Layout | None,
    after: Layout,
) -> Verdict:
    if laid.task.old is None:
        return "first"
    if valid is None or before is None or moved is None:
        return "other inputs"
    if all(move.still for move in moved):
        return "same"
    longer = _longer(valid.lock.length, laid.lock.length)
    if abs(longer) > _ALIKE:
        return "worse" if longer > 0.0 else "better"
    return "worse" if after.score > before.score + _ALIKE else "better"


def _longer(old: CommonLength | None, new: CommonLength | None) -> float:
    """By how much the new common length is the longer one [mm]."""
    return new.found - old.found if old is not None and new is not None else 0.0


def _renamed(laid: Laid) -> list[tuple[str, str, str]]:
    found = []
    for name, path in zip(laid.task.names, laid.paths, strict=True):
        for pinned, now in numbers_now(laid.lock.pins, name, path).items():
            if now != pinned:
                found.append((name, pinned, now))
    return found
