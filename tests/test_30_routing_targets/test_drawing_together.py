"""What is done for many at once gives what it gives for each alone; what is skipped is idle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from routing_bundles import SHELF, R, bundle

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Box, Cylinder
from geomgen.geometry.frames import Frame
from geomgen.routing.assignments import assignments
from geomgen.routing.bundle import Tables, choose
from geomgen.routing.candidates import sampled
from geomgen.routing.choices import Choices
from geomgen.routing.nearness import fixed_shortfall
from geomgen.routing.paths import Lines, measure
from geomgen.routing.pools import new, pools
from geomgen.routing.problem import Body, Obstacle, Problem, Radius, half_turn
from geomgen.routing.roots import false_position
from geomgen.routing.shapes import Shapes, shapes
from geomgen.routing.two_bends import two_bends

DRAWS = ((2, 30, 0), (3, 60, 0), (4, 40, 10))
TWO_RADII = replace(SHELF, radii=(Radius(50.0, math.pi), Radius(76.0, math.pi / 2)))
GIVE = 8.0


def crowded() -> Problem:
    """Three tubes among obstacles, a cone and a bar, with transitions of their own."""
    problem = bundle(3, 640.0)
    transitions = tuple(
        Body("transition", Centreline(e.start.moved(-40.0), (Straight(40.0),)), 24.0, edge=i)
        for i, e in enumerate(problem.edges)
    )
    cone = Body(
        "cone", Centreline(Frame.facing((310.0, -248.0, 190.0), (1, 0, 0)), (Straight(90.0),)), 40.0
    )
    bar = Body(
        "bar", Centreline(Frame.facing((-90.0, -90.0, 230.0), (1, 0, 0)), (Straight(150.0),)), 9.0
    )
    into = Body(
        "merge",
        Centreline(Frame.facing((250.0, -300.0, 190.0), (1, 0, 0)), (Straight(70.0),)),
        30.0,
        edge=2,
        takes=(0, 1),
    )
    return replace(
        problem,
        bodies=(*problem.bodies, *transitions, cone, bar, into),
        obstacles=(
            *problem.obstacles,
            Obstacle("post", Box((120.0, -190.0, 60.0), (150.0, -150.0, 300.0)), 12.0),
            Obstacle("line", Cylinder((0.0, -260.0, 60.0), (260.0, -60.0, 300.0), 6.0), 3.0),
        ),
    )


def same(one: Shapes, two: Shapes) -> None:
    assert np.array_equal(one.scores, two.scores)
    for i in range(len(one)):
        a, b = one.single(i), two.single(i)
        assert np.array_equal(a.corners, b.corners)
        assert np.array_equal(a.radii, b.radii)
        assert a.form.end == b.form.end


@pytest.mark.parametrize("shelf", [SHELF, TWO_RADII], ids=["one radius", "two radii"])
def test_all_slots_together_are_as_each_alone(shelf: object) -> None:
    problem = replace(crowded(), shelf=shelf)  # type: ignore[arg-type]
    together = shapes(problem, 0, (0, 1, 2), DRAWS, GIVE)
    for slot in range(3):
        alone = shapes(problem, 0, (slot,), DRAWS, GIVE)
        assert len(alone[slot]) > 20
        same(together[slot], alone[slot])
    kept = pools(problem, 0, together, 24, GIVE)
    for slot in range(3):
        mine = pools(problem, 0, {slot: together[slot]}, 24, GIVE)[slot]
        assert len(mine)
        assert np.array_equal(kept[slot].rows, mine.rows)
        assert np.array_equal(kept[slot].costs, mine.costs)


def test_paths_of_two_bends_to_many_ends_are_as_to_each() -> None:
    start, ends = bundle().edges[0].start, bundle(4).slots
    together = two_bends(start, ends, 640.0, TWO_RADII, 10.0, 40)
    for end, (corners, radii) in zip(ends, together, strict=True):
        ((alone, clr),) = two_bends(start, (end,), 640.0, TWO_RADII, 10.0, 40)
        assert len(alone) > 10
        assert np.array_equal(corners, alone)
        assert np.array_equal(radii, clr)


def plainly(
    problem: Problem,
    edge: int,
    slot: int,
    stations: np.ndarray,
    where: np.ndarray,
    last: np.ndarray,
) -> float:
    """What one path lacks at its samples, every one of them held against everything."""
    tube = problem.edges[edge]
    turn = half_turn(problem, tube)
    near = [(o.gap, o.field.distance(where).min()) for o in problem.obstacles]
    lack = [0.0, *(tube.radius + gap - apart for gap, apart in near)]
    for body in problem.bodies:
        count = max(2, math.ceil(body.path.length / 12.0) + 1)
        along = np.linspace(0.0, body.path.length, count)
        apart = np.linalg.norm(where[:, None] - points_at(body.path, along)[None], axis=2)
        free = np.zeros_like(apart, dtype=bool)
        if body.edge == edge:
            free |= stations[:, None] + (body.path.length - along) <= turn
        elif body.edge is None or slot in body.takes:
            free |= last[:, None]
            if body.slot == slot:
                free |= (tube.length - stations)[:, None] + along <= turn
        if not free.all():
            lack.append(tube.radius + body.radius + problem.gap - apart[~free].min())
    own = np.linalg.norm(where[:, None] - where[None], axis=2)
    step = stations[1] - stations[0]
    far = np.arange(len(stations))[None] - np.arange(len(stations))[:, None] >= math.ceil(
        turn / step
    )
    if far.any():
        lack.append(2.0 * tube.radius + problem.gap - own[far].min())
    return max(lack)


@pytest.mark.parametrize("edge", [0, 1, 2])
def test_no_sample_that_counts_is_passed_over(edge: int) -> None:
    """Against every sample of every path held against everything, in double precision."""
    problem = crowded()
    problem = replace(problem, edges=tuple(replace(e, length=900.0) for e in problem.edges))
    tube = problem.edges[edge]
    short, wanted = [], []
    for slot, drawn in shapes(problem, edge, (0, 1, 2), DRAWS, GIVE).items():
        batches = [drawn.single(i) for i in range(0, len(drawn), 2)]
        for k in sorted({batch.radii.shape[1] for batch in batches}):
            some = [batch for batch in batches if batch.radii.shape[1] == k]
            lines = Lines(
                np.concatenate([b.nodes for b in some]), np.concatenate([b.radii for b in some])
            )
            stations, where, last = sampled(tube, lines, measure(lines))
            slots = np.full(len(lines), slot)
            short += list(fixed_shortfall(problem, edge, slots, stations, where, last, GIVE))
            wanted += [
                plainly(problem, edge, slot, *one)
                for one in zip(stations, where, last, strict=True)
            ]
    found, plain = np.array(short), np.array(wanted)
    assert (plain > GIVE + 0.01).sum() > 20
    assert ((plain > 0.01) & (plain < GIVE)).sum() > 5
    assert np.isinf(found[plain > GIVE + 0.01]).all()
    keeps = plain < GIVE - 0.01
    assert np.abs(found[keeps] - plain[keeps]).max() < 0.01


def test_a_loop_that_meets_itself_is_seen() -> None:
    problem = replace(bundle(1, 900.0), obstacles=(), bodies=())
    for wide in (40.0, 43.9, 48.1, 60.0):
        angle = np.linspace(0.0, 1.72 * math.pi, 60)
        where = np.stack([60.0 * np.cos(angle), 60.0 * np.sin(angle), wide * angle / 5.0], axis=1)
        step = float(np.linalg.norm(where[1] - where[0]))
        stations = step * np.arange(60.0)
        last = np.zeros((1, 60), dtype=bool)
        got = fixed_shortfall(problem, 0, np.array([0]), stations[None], where[None], last, 60.0)
        assert got[0] == pytest.approx(plainly(problem, 0, 0, stations, where, last[0]), abs=1e-6)
    assert got[0] < 2.0 * R


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 2**31), st.integers(0, 12), st.integers(1, 40), st.floats(2.0, 60.0))
def test_new_ones_differ_from_all_kept(number: int, known: int, count: int, apart: float) -> None:
    rng = np.random.default_rng(number)
    where = rng.integers(0, 3, (count, 26, 1)) * 9.0 + rng.uniform(0.0, 9.0, (count, 26, 3))
    kept = rng.integers(0, 3, (known, 26, 1)) * 9.0 + rng.uniform(0.0, 9.0, (known, 26, 3))
    taken = list(kept)
    wanted = []
    for row, path in enumerate(where):
        if all(np.linalg.norm(path[::4] - other[::4], axis=1).max() >= apart for other in taken):
            taken.append(path)
            wanted.append(row)
    assert list(new(where, kept, apart)) == wanted


@given(st.lists(st.lists(st.floats(0.05, 0.95), min_size=1, max_size=4), min_size=1, max_size=5))
def test_each_group_of_roots_stops_for_itself(groups: list[list[float]]) -> None:
    roots = np.array([root for group in groups for root in group])
    begins = tuple(int(b) for b in np.cumsum([0, *(len(group) for group in groups)])[:-1])

    def cubes(which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        every = roots[which]
        return false_position(
            lambda x: x**3 - every**3, np.zeros(len(every)), np.ones(len(every)), 9, 1e-3
        )

    x, fx = false_position(
        lambda x: x**3 - roots**3, np.zeros(len(roots)), np.ones(len(roots)), 9, 1e-3, begins
    )
    for begin, group in zip(begins, groups, strict=True):
        mine = np.arange(begin, begin + len(group))
        place, value = cubes(mine)
        assert np.array_equal(x[mine], place)
        assert np.array_equal(fx[mine], value)


def test_sets_come_cheapest_first_as_if_all_were_chosen() -> None:
    problem = crowded()
    found = {}
    least = np.full((3, 3), np.inf)
    for edge in range(3):
        mine = pools(problem, edge, shapes(problem, edge, (0, 1, 2), DRAWS, GIVE), 24, GIVE)
        for slot, pool in mine.items():
            found[edge, slot] = pool
            least[edge, slot] = pool.costs[0] if len(pool) else np.inf
    tables = Tables(problem, found)
    every = []
    for bound, slots, follows in assignments(problem, least):
        one = choose(tables, slots, np.inf)
        if one is not None:
            cost = one.cost + (0.0 if follows else 1.0)
            assert cost >= bound - 1e-9
            every.append((cost, slots))
    choices = Choices(tables, least, 40)
    came = []
    while (one := choices.cheapest()) is not None:
        came.append((one.cost, one.slots))
    assert came[0] == min(every)
    assert [cost for cost, _ in came] == sorted(cost for cost, _ in came)
    # Those that cost far more than the cheapest are not waited with.
    assert {item for item in every if item[0] < min(every)[0] + 0.9} <= set(came) <= set(every)
