"""Certificates of impossibility: each holds where it should and nowhere else."""

import math
from dataclasses import replace

import pytest

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box, Cylinder
from geomgen.geometry.frames import Frame
from geomgen.routing.certificates import below_floor, end_blocked, ends_too_near, sealed
from geomgen.routing.problem import Body, Edge, Impossible, Obstacle, Problem, Radius, Shelf
from geomgen.routing.solve import route

R = 21.0


def problem(pitch: float = 110.0, length: float = 620.0, *obstacles: Obstacle) -> Problem:
    starts = [Frame((pitch * i, 0.0, 50.0)) for i in range(2)]
    slots = tuple(
        Frame.facing((250.0, -300.0 + 52.0 * i, 190.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
        for i in range(2)
    )
    return Problem(
        tuple(Edge(f"runner {i + 1}", f, length, R, i) for i, f in enumerate(starts)),
        slots,
        tuple(
            Body("stub", Centreline(s, (Straight(60.0),)), R, slot=i) for i, s in enumerate(slots)
        ),
        Shelf((Radius(63.0, math.pi),), math.radians(8), 0.0, 10.0, 5.0),
        6.0,
        obstacles,
        (),
        (),
    )


def cage(opening: float) -> tuple[Obstacle, ...]:
    """Six plates round both ports, with a square window in the front one."""
    lo, hi = (-60.0, -60.0, 20.0), (170.0, 60.0, 160.0)
    t = 30.0
    mid_x, half = 0.5 * (lo[0] + hi[0]), opening / 2
    boxes = [
        Box((lo[0] - t, lo[1] - t, lo[2] - t), (lo[0], hi[1] + t, hi[2] + t)),
        Box((hi[0], lo[1] - t, lo[2] - t), (hi[0] + t, hi[1] + t, hi[2] + t)),
        Box((lo[0] - t, lo[1] - t, lo[2] - t), (hi[0] + t, lo[1], hi[2] + t)),
        Box((lo[0] - t, hi[1], lo[2] - t), (hi[0] + t, hi[1] + t, hi[2] + t)),
        Box((lo[0] - t, lo[1] - t, lo[2] - t), (hi[0] + t, hi[1] + t, lo[2])),
        Box((lo[0] - t, lo[1] - t, hi[2]), (mid_x - half, hi[1] + t, hi[2] + t)),
        Box((mid_x + half, lo[1] - t, hi[2]), (hi[0] + t, hi[1] + t, hi[2] + t)),
        Box((mid_x - half, lo[1] - t, hi[2]), (mid_x + half, -half, hi[2] + t)),
        Box((mid_x - half, half, hi[2]), (mid_x + half, hi[1] + t, hi[2] + t)),
    ]
    return tuple(Obstacle(f"plate {i}", box, 2.0) for i, box in enumerate(boxes))


def test_floor_is_named_and_true() -> None:
    found = below_floor(problem(length=330.0))
    assert isinstance(found, Impossible)
    assert (found.kind, found.edge) == ("floor", "runner 1")
    straight = min(math.dist((0, 0, 50), (250, -300 + 52 * i, 190)) for i in range(2))
    assert found.floor >= straight
    assert below_floor(problem(length=found.floor + 120.0)) is None


@pytest.mark.parametrize(
    ("name", "at_start", "begins"),
    [
        ("runner 1", None, "the transition"),
        ("runner 1", 0.0, "the end of what is tacked"),
        ("secondary 1", 0.0, "its merge"),
    ],
)
def test_floor_says_where_the_tube_begins(name: str, at_start: float | None, begins: str) -> None:
    asked = problem(length=330.0)
    first = replace(asked.edges[0], name=name, at_start=at_start)
    found = below_floor(replace(asked, edges=(first, *asked.edges[1:])))
    assert isinstance(found, Impossible)
    assert f"from {begins} to the nearest slot" in found.reason


@pytest.mark.parametrize(("pitch", "holds"), [(47.9, True), (48.1, False)])
def test_pitch_below_od_plus_gap(pitch: float, holds: bool) -> None:
    found = ends_too_near(problem(pitch))
    assert (found is not None) is holds
    if found is not None:
        assert found.kind == "pitch"
        assert "runner 1 and runner 2" in found.reason


@pytest.mark.parametrize(("room", "holds"), [(29.9, True), (30.1, False)])
def test_mandatory_straight_in_an_obstacle(room: float, holds: bool) -> None:
    bar = Cylinder((-100.0, -room - 5.0, 55.0), (300.0, -room - 5.0, 55.0), 5.0)
    found = end_blocked(problem(110.0, 620.0, Obstacle("rail", bar, 9.0)))
    assert (found is not None) is holds
    if found is not None:
        assert (found.kind, found.edge) == ("end-blocked", "runner 1")
        assert "rail" in found.reason


def test_mandatory_straight_before_a_slot() -> None:
    box = Box((230.0, -270.0, 180.0), (249.0, -255.0, 200.0))
    found = end_blocked(problem(110.0, 620.0, Obstacle("post", box, 5.0)))
    assert found is not None
    assert found.edge.startswith("slot")


def test_one_window_lets_out() -> None:
    """What the same cage seals without it is handed on by the router, below."""
    assert sealed(problem(110.0, 620.0, *cage(100.0))) is None


def test_a_narrow_window_that_a_cell_cannot_see_claims_nothing() -> None:
    """46 mm square for a 42 mm tube with 2 mm gaps: one line of centres is allowed."""
    assert sealed(problem(110.0, 620.0, *cage(46.5))) is None


def test_the_router_hands_certificates_on() -> None:
    assert isinstance(route(problem(47.0)), Impossible)
    answer = route(replace(problem(110.0, 620.0, *cage(0.001)), bodies=()))
    assert isinstance(answer, Impossible)
    assert answer.kind == "sealed"
