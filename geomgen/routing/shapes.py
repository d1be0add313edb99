"""Single tubes of the exact length that the shelf allows, drawn for all slots of a tube at once.

Each draw is solved for its length and judged on straights and angles. What falls short by a
little is kept at a price: the descent afterwards makes it good.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geomgen.geometry.frames import Frame
from geomgen.routing.candidates import shape_shortfall
from geomgen.routing.draws import Plan, draw, draw_each, form_of, plans
from geomgen.routing.lengths import pulled, stretchable, with_length
from geomgen.routing.paths import Batch, Floats, Lines, measure
from geomgen.routing.problem import Edge, Problem, Shelf, shelf_of
from geomgen.routing.score import path_scores
from geomgen.routing.stations import prices
from geomgen.routing.stepped import stepped_two_bends
from geomgen.routing.two_bends import two_bends

PRICE = 0.1
"""What a mm short of a gap counts against a right angle of turn while choosing."""

_OVERDRAWN = 8  # most draws are too long before anything is pulled out; they cost little
_USUAL = 2  # so many are enough for most


@dataclass(frozen=True)
class Shapes:
    """Paths of one tube into one slot that the shelf allows, best score first.

    Attributes:
        batches: one per plan; ``which`` is (batch, row) of each path.
        which: (m, 2).
        scores: (m,) with the price of what falls short.
    """

    batches: tuple[Batch, ...]
    which: NDArray[np.intp]
    scores: Floats

    def __len__(self) -> int:
        return len(self.scores)

    def single(self, index: int) -> Batch:
        """One of them as a batch of one."""
        batch, row = self.which[index]
        return self.batches[int(batch)].take(np.array([row]))


def shapes(
    problem: Problem,
    edge: int,
    slots: tuple[int, ...],
    draws: tuple[tuple[int, int, int], ...],
    give: float,
) -> dict[int, Shapes]:
    """Everything drawn for one tube into each of some slots that the shelf allows.

    Plans of one run are drawn and judged for all slots at once: the arrays are small.

    Args:
        problem: the bundle.
        edge: which tube.
        slots: which slots.
        draws: (bends, count, skip) of each drawing; a plan draws by its number of bends.
        give: what a path may fall short of the shelf [mm].
    """
    tube = problem.edges[edge]
    shelf = shelf_of(problem, tube)
    most = max(bends for bends, _, _ in draws)
    if shelf.most_bends is not None:
        most = min(most, shelf.most_bends)
    least = min(bends for bends, _, _ in draws)
    counts = {bends: (count, skip) for bends, count, skip in draws}
    held = sum(len(part.bends) for part in tube.kept)
    groups: dict[tuple[int, ...], list[tuple[int, Plan]]] = {}
    for slot in slots:
        for index, plan in enumerate(plans(tube, problem.slots[slot], shelf, most + held)):
            alike = (plan.bends,) if _plain(plan, shelf) else (plan.bends, slot, index)
            groups.setdefault(alike, []).append((slot, plan))
    found: dict[int, list[tuple[Batch, Floats]]] = {slot: [] for slot in slots}
    for (bends, *_), members in sorted(groups.items(), key=lambda item: item[0]):
        count, skip = counts.get(max(least, min(bends, most)), (0, 0))
        if count:
            alike_plans = tuple(plan for _, plan in members)
            allowed = _allowed(problem, edge, alike_plans, count, skip, give)
            for (slot, _), one in zip(members, allowed, strict=True):
                if one is not None:
                    found[slot].append(one)
    return {slot: _ranked(mine) for slot, mine in found.items()}


def _plain(plan: Plan, shelf: Shelf) -> bool:
    """Whether a plan is one run of bends between its poses, at any angles."""
    one = len(plan.runs) == 1 and plan.bends >= 2
    return one and (plan.bends > 2 or shelf.angle_step is None)


def _ranked(found: list[tuple[Batch, Floats]]) -> Shapes:
    """All of one slot, best score first."""
    which = [(b, row) for b, (batch, _) in enumerate(found) for row in range(len(batch))]
    every = np.concatenate([np.zeros(0), *(scores for _, scores in found)])
    order = np.argsort(every, kind="stable")
    return Shapes(
        tuple(batch for batch, _ in found),
        np.array(which, dtype=np.intp).reshape(-1, 2)[order],
        every[order],
    )


def _allowed(
    problem: Problem, edge: int, alike: tuple[Plan, ...], count: int, skip: int, give: float
) -> list[tuple[Batch, Floats] | None]:
    """Paths of plans of one kind that the shelf allows, and their scores; None: none drawn."""
    tube = problem.edges[edge]
    shelf = shelf_of(problem, tube)
    made = _drawn(tube, shelf, alike, count, skip)
    if made is None:
        return [None] * len(alike)
    forms = [form_of(plan, shelf) for plan in alike]
    bounds = np.cumsum([0, *(len(radii) for _, radii in made)])
    corners = np.concatenate([corners for corners, _ in made])
    radii = np.concatenate([radii for _, radii in made])
    nodes = np.empty((len(radii), radii.shape[1] + 2, 3))
    nodes[:, 0], nodes[:, 1:-1] = tube.start.origin, corners
    for form, begin, end in zip(forms, bounds[:-1], bounds[1:], strict=True):
        nodes[begin:end, -1] = form.end.origin
    measured = measure(Lines(nodes, radii))
    every = Batch(forms[0], corners, radii)  # of what is judged here the others' are the same
    short = shape_shortfall(measured, every, shelf)
    rows = np.flatnonzero(short <= give * yielding(every))
    scores = path_scores(measured.take(rows)) + PRICE * np.maximum(short[rows], 0.0)
    scores += prices(problem, edge, radii[rows], measured.take(rows))
    cuts = np.searchsorted(rows, bounds)
    out: list[tuple[Batch, Floats] | None] = []
    for form, begin, end in zip(forms, cuts[:-1], cuts[1:], strict=True):
        mine = rows[begin:end]
        out.append((Batch(form, corners[mine], radii[mine]), scores[begin:end]))
    return out


def _drawn(
    tube: Edge, shelf: Shelf, alike: tuple[Plan, ...], count: int, skip: int
) -> list[tuple[Floats, Floats]] | None:
    """Corners and radii of paths of each plan that have the tube's length.

    Returns:
        One a plan; None when the angles cannot be whole.
    """
    plan = alike[0]
    if _plain(plan, shelf):
        ends = tuple(one.runs[0].end for one in alike)
        if plan.bends == 2:
            return two_bends(tube.start, ends, tube.length, shelf, plan.at_start, count)
        return _pulled(tube, shelf, ends, plan.bends, count, skip)
    form = form_of(plan, shelf)
    free = len(form.moves)
    # Where nothing is free the angles are what they are, and are judged at the end.
    if shelf.angle_step is not None and 0 < free < 1 + int((~form.kept).sum()):
        run = plan.runs[0]
        if plan.bends != 2 or len(plan.runs) != 1:
            return None
        whole = stepped_two_bends(run.start, run.end, tube.length, shelf, shelf.angle_step)
        return None if whole is None else [whole]
    batch = draw(plan, tube.length, shelf, _OVERDRAWN * count, _OVERDRAWN * skip)
    batch = with_length(batch, tube.length, count)
    return [(batch.corners, batch.radii)]


def _pulled(
    tube: Edge, shelf: Shelf, ends: tuple[Frame, ...], bends: int, count: int, skip: int
) -> list[tuple[Floats, Floats]]:
    """Paths of three bends or more to each end: drawn, then pulled out to the tube's length.

    Most that are drawn can be; of those that are drawn in reserve only as many are looked at
    as some end needs.
    """
    corner = bends - 2
    got: list[list[Lines]] = [[] for _ in ends]
    begin = 0
    for upto in (_USUAL * count, _OVERDRAWN * count):
        lack = [i for i, mine in enumerate(got) if sum(len(lines) for lines in mine) < count]
        if not lack:
            break
        some = tuple(ends[i] for i in lack)
        n, first = upto - begin, _OVERDRAWN * skip + begin
        corners, radii = draw_each(tube.start, some, bends, tube.length, shelf, n, first)
        nodes = np.empty((len(some), n, bends + 2, 3))
        nodes[:, :, 0], nodes[:, :, 1:-1] = tube.start.origin, corners
        for i, end in enumerate(some):
            nodes[i, :, -1] = end.origin
        lines = Lines(nodes.reshape(-1, bends + 2, 3), np.tile(radii, (len(some), 1)))
        rows = stretchable(lines, tube.length, corner, None)
        cuts = np.searchsorted(rows, n * np.arange(len(some) + 1))
        for i, a, b in zip(lack, cuts[:-1], cuts[1:], strict=True):
            most = count - sum(len(lines) for lines in got[i])
            got[i].append(lines.take(rows[a:b][:most]))
        begin = upto
    every = Lines(
        np.concatenate([lines.nodes for mine in got for lines in mine]),
        np.concatenate([lines.radii for mine in got for lines in mine]),
    )
    bounds = np.cumsum([0, *(sum(len(lines) for lines in mine) for mine in got)])
    begins = tuple(int(a) for a, b in pairwise(bounds) if b > a)
    ok, every = pulled(every, tube.length, corner, None, begins=begins)
    left = np.append(0, np.cumsum(ok))[bounds]
    return [(every.nodes[a:b, 1:-1], every.radii[a:b]) for a, b in pairwise(left)]


def yielding(batch: Batch) -> float:
    """How much of what is given a path can make good, by what is free in it.

    Two bends leave one number free, and its whole range is drawn; three leave four.
    """
    return float(np.clip((len(batch.form.moves) - 1) / 4.0, 0.2, 1.5))
