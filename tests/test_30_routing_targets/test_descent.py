"""The descent: its slopes, its distances, and that it makes nothing worse."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proven import shortfall
from routing_bundles import SHELF, R, bundle

from geomgen.geometry.centreline import at
from geomgen.geometry.distance import Span, between, to_field
from geomgen.geometry.fields import Cylinder
from geomgen.geometry.frames import add, scale
from geomgen.routing.attempt import EFFORTS, proven
from geomgen.routing.candidates import shape_shortfall
from geomgen.routing.contacts import Rows, bars, limits
from geomgen.routing.descent import Settled, descend
from geomgen.routing.layout import layout
from geomgen.routing.paths import Batch, measure
from geomgen.routing.problem import Obstacle, Problem
from geomgen.routing.prove import with_stub
from geomgen.routing.score import PER_UNEVEN_RIGHT_ANGLE
from geomgen.routing.shapes import shapes

SLACK = 0.08
REACH = 30.0
SLOTS = (0, 1, 2)


@lru_cache(maxsize=1)
def drawn() -> tuple[list[Batch], ...]:
    """Some paths of exact shape for each of three tubes, not judged beside one another."""
    problem = bundle(3, 680.0)
    out = []
    for edge, slot in enumerate(SLOTS):
        found = shapes(problem, edge, (slot,), ((2, 40, 0), (3, 160, 0)), 0.0)[slot]
        step = max(1, len(found) // 40)
        out.append([found.single(i) for i in range(0, len(found), step)])
    return tuple(out)


@st.composite
def layouts(draw: st.DrawFn) -> tuple[Batch, ...]:
    """One path for each tube, as it was drawn: mostly not clear."""
    return tuple(draw(st.sampled_from(some)) for some in drawn())


def rows_at(problem: Problem, batches: tuple[Batch, ...]) -> Rows:
    return limits(problem, SLOTS, layout(problem, batches), bars(problem), REACH, SLACK)


def nudged(batches: tuple[Batch, ...], step: np.ndarray) -> tuple[Batch, ...]:
    """The layout with its free numbers changed [mm]."""
    out, at = [], 0
    for batch in batches:
        size = len(batch.form.moves)
        move = np.einsum("d,dkc->kc", step[at : at + size], batch.form.moves)
        out.append(Batch(batch.form, batch.corners + move, batch.radii))
        at += size
    return tuple(out)


@settings(max_examples=25)
@given(layouts(), st.integers(0, 10_000))
def test_slopes_against_differences(batches: tuple[Batch, ...], pick: int) -> None:
    """Central differences over steps other than its own; only where they agree with each
    other, for a limit has a kink where another sample comes to be the nearest."""
    problem = bundle(3, 680.0)
    here = rows_at(problem, batches)
    d = here.gradient.shape[1]
    way = np.zeros(d)
    way[pick % d] = 1.0
    slopes = []
    for h in (0.004, 0.008):
        more, less = (rows_at(problem, nudged(batches, s * h * way)) for s in (1.0, -1.0))
        if len(more.value) != len(here.value) or len(less.value) != len(here.value):
            return  # one limit came within reach or left it
        slopes.append((more.value - less.value) / (2.0 * h))
    smooth = np.abs(slopes[0] - slopes[1]) < 1e-3
    off = np.abs(slopes[0] - here.gradient @ way)[smooth]
    assert smooth.mean() > 0.6
    # Samples slide along a tube as it grows, which turns a normal; nothing worse than that.
    assert (off < 0.02).mean() > 0.9
    assert off.max(initial=0.0) < 0.6


@settings(max_examples=25)
@given(layouts())
def test_lengths_and_shapes_have_exact_slopes(batches: tuple[Batch, ...]) -> None:
    here = layout(bundle(3, 680.0), batches)
    for mine in here.traces:
        for i, move in enumerate(mine.batch.form.moves):
            ends = [
                measure(
                    Batch(mine.batch.form, mine.batch.corners + s * 0.01 * move, mine.batch.radii)
                )
                for s in (1.0, -1.0)
            ]
            slope = float((ends[0].length - ends[1].length)[0]) / 0.02
            assert mine.d_length[i] == pytest.approx(slope, abs=2e-4)
            angles = (ends[0].angles - ends[1].angles)[0] / 0.02
            assert np.abs(mine.d_angles[i] - angles).max() < 1e-5


@settings(max_examples=12)
@given(layouts())
def test_limits_are_the_proven_distances(batches: tuple[Batch, ...]) -> None:
    """The worst limit of each kind against exact curves: never short of it by more than the
    slack, which is what samples may hide."""
    problem = replace(bundle(3, 680.0), bodies=())
    paths = tuple(batch.path(0) for batch in batches)
    for obstacle in problem.obstacles:
        only = replace(problem, obstacles=(obstacle,), gap=-1e3)
        rows = rows_at(only, batches)
        exact = min(
            to_field(Span.whole(path), obstacle.field, 1e-3).upper - R - obstacle.gap
            for path in paths
        )
        if abs(exact) < REACH - 10.0:
            # Shape limits are on the list too; the obstacle's is what is least but for them.
            listed = _without_shapes(only, batches, rows)
            assert listed.min() + SLACK == pytest.approx(exact, abs=SLACK)
    apart = replace(problem, obstacles=())
    rows = rows_at(apart, batches)
    exact = min(_pair(apart, paths, batches, i, j) for i in range(3) for j in range(i + 1, 3))
    listed = _without_shapes(apart, batches, rows)
    if abs(exact) < REACH - 10.0:
        assert listed.min() + SLACK <= exact + SLACK


def _without_shapes(problem: Problem, batches: tuple[Batch, ...], rows: Rows) -> np.ndarray:
    shape = limits(
        replace(problem, obstacles=(), bodies=(), gap=-1e4),
        SLOTS,
        layout(problem, batches),
        bars(replace(problem, bodies=())),
        REACH,
        SLACK,
    )
    return rows.value[len(shape.value) :]


def _pair(problem: Problem, paths: tuple, batches: tuple[Batch, ...], i: int, j: int) -> float:
    """Least gap of two tubes less what they must keep, but for their last straights."""
    one, two = (with_stub(problem, paths[k], SLOTS[k]) for k in (i, j))
    held = [paths[k].length - measure(batches[k]).straights[0, -1] for k in (i, j)]
    a = between(Span(one, 0.0, held[0]), Span.whole(two), 1e-2).upper
    b = between(Span.whole(one), Span(two, 0.0, held[1]), 1e-2).upper
    return min(a, b) - 2.0 * R - problem.gap


def merit(problem: Problem, batches: tuple[Batch, ...]) -> float:
    """Turns and what falls short, put together anew."""
    turns = np.array([measure(b).angles.sum() for b in batches]) / (math.pi / 2.0)
    short = max(0.0, -float(rows_at(problem, batches).value.min()))
    return float(turns.sum() + PER_UNEVEN_RIGHT_ANGLE * np.ptp(turns)) + short


@settings(max_examples=20)
@given(layouts(), st.integers(1, 12))
def test_nothing_gets_worse_and_lengths_stay(batches: tuple[Batch, ...], steps: int) -> None:
    problem = bundle(3, 680.0)
    settled = descend(problem, SLOTS, batches, steps, SLACK)
    assert settled.turns + settled.short <= merit(problem, batches) + 1e-9
    assert settled.turns + settled.short == pytest.approx(merit(problem, settled.batches), abs=1e-9)
    assert settled.steps <= steps
    for before, after, edge in zip(batches, settled.batches, problem.edges, strict=True):
        assert np.array_equal(before.radii, after.radii)
        was, now = (float(measure(b).length[0]) for b in (before, after))
        assert abs(now - edge.length) <= max(1e-3, abs(was - edge.length) + 1e-9)
        # The first corner stays on the start's axis, the last on the slot's.
        x, y, _ = after.form.start.local(tuple(map(float, after.corners[0, 0])))
        p, q, _ = after.form.end.local(tuple(map(float, after.corners[0, -1])))
        assert math.hypot(x, y) < 1e-6
        assert math.hypot(p, q) < 1e-6


@lru_cache(maxsize=1)
def cleared() -> Settled:
    problem = bundle(3, 680.0)
    for some in zip(*drawn(), strict=False):
        settled = descend(problem, SLOTS, some, 30, SLACK)
        if settled.short <= 0.015:
            return settled
    raise AssertionError("no layout came clear")


def test_a_layout_that_is_clear_is_proven() -> None:
    problem = bundle(3, 680.0)
    found = proven(problem, SLOTS, cleared(), SLACK, EFFORTS[0].steps)
    assert found is not None
    assert shortfall(problem, found, SLOTS) <= 0.0
    assert all(abs(path.length - 680.0) <= 0.01 for path in found)


def intruder(settled: Settled, tube: int) -> tuple[Problem, float]:
    """The bundle with a peg that stands 3 mm into the room that a tube keeps, and no more."""
    base = bundle(3, 680.0)
    paths = tuple(batch.path(0) for batch in settled.batches)
    for part in (0.35, 0.4, 0.45, 0.5):
        frame = at(paths[tube], part * 680.0)
        for turn in range(8):
            way = frame.rolled(turn * math.pi / 4.0).x
            near, far = (add(frame.origin, scale(way, R + 7.0 + d)) for d in (0.0, 10.0))
            peg = Obstacle("peg", Cylinder(near, far, 4.0), 10.0)
            problem = replace(base, obstacles=(*base.obstacles, peg))
            short = shortfall(problem, paths, SLOTS)
            if 2.9 < short < 3.3:
                return problem, short
    raise AssertionError("nowhere beside that tube is there room for a peg")


@pytest.mark.parametrize("tube", [0, 1, 2])
def test_three_mm_short_comes_clear(tube: int) -> None:
    problem, short = intruder(cleared(), tube)
    assert short > 2.9
    after = descend(problem, SLOTS, cleared().batches, 30, SLACK)
    assert after.short <= 0.015
    # The peg's edge hides between samples by more than such a slack: it is opened until proven.
    for slack in (SLACK, 0.3, 1.0):
        after = descend(problem, SLOTS, after.batches, 30, slack)
        found = proven(problem, SLOTS, after, slack, 30)
        if found is not None:
            break
    assert found is not None
    assert shortfall(problem, found, SLOTS) <= 0.0


def test_a_layout_with_nothing_free_stays_as_it_is() -> None:
    base = bundle(3, 680.0)
    kept = tuple(b.path(0) for b in cleared().batches)
    problem = replace(
        base,
        edges=tuple(replace(e, kept=(p,)) for e, p in zip(base.edges, kept, strict=True)),
    )
    rigid = tuple(
        shapes(problem, edge, (slot,), ((2, 4, 0), (3, 4, 0)), 0.0)[slot].single(0)
        for edge, slot in enumerate(SLOTS)
    )
    assert all(len(batch.form.moves) == 0 for batch in rigid)
    settled = descend(problem, SLOTS, rigid, 10, SLACK)
    for before, after in zip(rigid, settled.batches, strict=True):
        assert np.array_equal(before.corners, after.corners)
        assert shape_shortfall(measure(after), after, SHELF)[0] <= 0.0
