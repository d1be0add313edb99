"""Routing small bundles: exact, clear, in order, the same every time; or told why not."""

import math
from dataclasses import replace

import numpy as np
import pytest

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.distance import points_at
from geomgen.geometry.fields import Box, Cylinder, HalfSpace
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.routing.clear import clear
from geomgen.routing.problem import (
    Body,
    Edge,
    Impossible,
    NotFound,
    Obstacle,
    Problem,
    Radius,
    Routed,
    Shelf,
    ToolPlace,
)
from geomgen.routing.prove import clearances, last_straight
from geomgen.routing.score import follows_firing_order, layout_score
from geomgen.routing.solve import EFFORTS, route

R = 21.0


def bundle(length: float = 620.0, mirror: bool = False) -> Problem:
    """Two tubes from ports 110 mm apart into two slots side by side."""
    sign = -1.0 if mirror else 1.0
    starts = [Frame((sign * 110.0 * i, 0.0, 50.0)) for i in range(2)]
    slots = tuple(
        Frame.facing((sign * 250.0, -300.0 + 52.0 * i, 190.0), (sign, 0.0, 0.0), (0.0, 1.0, 0.0))
        for i in range(2)
    )
    edges = tuple(Edge(f"runner {i + 1}", f, length, R, i) for i, f in enumerate(starts))
    stubs = tuple(
        Body("stub", Centreline(slot, (Straight(60.0),)), R, slot=i) for i, slot in enumerate(slots)
    )
    shaft = Cylinder((sign * -100.0, -150.0, 260.0), (sign * 300.0, -150.0, 260.0), 11.0)
    return Problem(
        edges,
        slots,
        stubs,
        Shelf((Radius(63.0, math.pi),), math.radians(8), 0.0, 10.0, 0.0),
        6.0,
        (
            Obstacle("block", Box((-200.0, -400.0, -200.0), (400.0, -60.0, 5.0)), 10.0),
            Obstacle("shaft", shaft, 25.0),
        ),
        (),
        (),
    )


@pytest.fixture(scope="module")
def routed() -> Routed:
    answer = route(bundle())
    assert isinstance(answer, Routed)
    return answer


def test_lengths_are_exact_and_slots_are_used_once(routed: Routed) -> None:
    problem = bundle()
    assert sorted(routed.slots) == [0, 1]
    for path, slot, edge in zip(routed.paths, routed.slots, problem.edges, strict=True):
        assert abs(path.length - edge.length) <= 0.01
        assert distance(path.end.origin, problem.slots[slot].origin) < 1e-6
        assert angle_between(path.end.z, problem.slots[slot].z) < 1e-8


def test_clearances_by_dense_points_not_by_the_solver(routed: Routed) -> None:
    """Dense points every 0.5 mm, with nothing of the project's own distance code."""
    problem = bundle()
    cloud = [points_at(p, np.arange(0.0, p.length, 0.5)) for p in routed.paths]
    held = [p.length - last_straight(p) for p in routed.paths]
    for a, b in ((0, 1), (1, 0)):
        near = cloud[a][: int(held[a] / 0.5)]
        d = min(float(np.sqrt(((p - cloud[b]) ** 2).sum(axis=1).min())) for p in near)
        assert d - 2 * R >= problem.gap - 1e-6
    for points in cloud:
        from_axis = np.hypot(points[:, 1] + 150.0, points[:, 2] - 260.0)
        ahead = (points[:, 0] > -100) & (points[:, 0] < 300)
        assert from_axis[ahead].min() - 11.0 - R >= 25.0 - 1e-6


def test_the_same_problem_has_the_same_answer(routed: Routed) -> None:
    assert route(bundle()) == routed


def test_the_mirror_image_routes_too() -> None:
    answer = route(bundle(mirror=True))
    assert isinstance(answer, Routed)
    assert all(abs(path.length - 620.0) <= 0.01 for path in answer.paths)


def test_too_short_is_impossible_with_its_floor() -> None:
    answer = route(bundle(330.0))
    assert isinstance(answer, Impossible)
    assert answer.floor > 330.0


def test_not_found_claims_no_more_than_it_tried() -> None:
    """A window wide enough for one tube of two: no certificate holds, and none is given."""
    problem = bundle()
    walls = tuple(
        Obstacle(name, Box(low, high), 5.0)
        for name, low, high in (
            ("wall left", (-900.0, -170.0, -900.0), (40.0, -160.0, 900.0)),
            ("wall right", (94.0, -170.0, -900.0), (1500.0, -160.0, 900.0)),
            ("wall below", (40.0, -170.0, -900.0), (94.0, -160.0, 150.0)),
            ("wall above", (40.0, -170.0, 240.0), (94.0, -160.0, 900.0)),
        )
    )
    answer = route(replace(problem, obstacles=(*problem.obstacles, *walls)), efforts=EFFORTS[:1])
    assert isinstance(answer, NotFound)
    assert answer.nearest_length is None
    assert answer.tried > 5_000
    assert "runner" in answer.binding.text
    assert all(move.half_failed for move in answer.moves)


def test_slots_in_an_obstacle_are_impossible() -> None:
    problem = bundle()
    wall = Obstacle("wall", HalfSpace((0.0, -160.0, 0.0), (0.0, 1.0, 0.0)), 5.0)
    answer = route(replace(problem, obstacles=(*problem.obstacles, wall)))
    assert isinstance(answer, Impossible)
    assert answer.kind == "end-blocked"


def test_a_place_for_a_tool_is_kept_free(routed: Routed) -> None:
    """Where the first answer bars a stud, the next one does not."""
    problem = bundle()
    middle = points_at(routed.paths[0], np.array([0.45 * routed.paths[0].length]))[0]
    x, y, z = (float(v) for v in middle)
    place = ToolPlace(
        "1a",
        "socket",
        (Cylinder((x, y, z - 40.0), (x, y, z + 40.0), 10.0),),
        1.5,
        Box((x - 10, y - 10, z - 40), (x + 10, y + 10, z + 40)),
    )
    barred = replace(problem, studs=("1a",), places=(place,))
    assert not clear(barred, routed.paths, routed.slots)
    answer = route(barred)
    assert isinstance(answer, Routed)
    assert clear(barred, answer.paths, answer.slots)


def test_a_shifted_path_is_not_clear(routed: Routed) -> None:
    problem = bundle()
    assert clear(problem, routed.paths, routed.slots)
    x, y, z = routed.paths[1].start.origin
    away = min(c.gap - c.needed for c in clearances(problem, routed.paths, routed.slots))
    one = routed.paths[0]
    onto = Centreline(one.start, one.pieces)
    assert not clear(problem, (one, onto), routed.slots)
    assert away >= 0
    assert (x, y, z) == problem.edges[1].start.origin


def test_score_is_what_it_says(routed: Routed) -> None:
    turns = [sum(bend.angle for bend in path.bends) / (math.pi / 2) for path in routed.paths]
    bends = sum(len(path.bends) for path in routed.paths)
    by_hand = bends + sum(turns) + 0.5 * (max(turns) - min(turns))
    assert layout_score(routed.paths, True) == pytest.approx(by_hand)
    assert layout_score(routed.paths, False) == pytest.approx(by_hand + 1.0)


@pytest.mark.parametrize(
    ("slots", "follows"),
    [
        ((0, 3, 1, 2), True),  # 1-3-4-2 round the collector
        ((0, 1, 3, 2), True),  # the other way round
        ((2, 1, 3, 0), True),  # turned
        ((0, 1, 2, 3), False),
    ],
)
def test_firing_order_round_the_collector(slots: tuple[int, ...], follows: bool) -> None:
    # Cylinders 1 to 4 are 1st, 4th, 2nd and 3rd to fire in 1-3-4-2.
    orders = (0, 3, 1, 2)
    assert follows_firing_order(slots, orders) is follows
