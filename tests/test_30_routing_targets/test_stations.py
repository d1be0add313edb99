"""Stretches that are wanted on straights: measured here by walking along the pieces."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from routing_bundles import SHELF, alone, bundle, dense

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.distance import points_at
from geomgen.geometry.frames import Frame, distance
from geomgen.routing import stations
from geomgen.routing.attempt import EFFORTS, attempt
from geomgen.routing.contacts import SHAPE_ROOM
from geomgen.routing.draws import draw, plans
from geomgen.routing.layout import layout
from geomgen.routing.paths import measure
from geomgen.routing.problem import Problem, Routed, Station
from geomgen.routing.solve import route, search
from geomgen.routing.tacked import advanced

WANTED = (Station(170.0, 20.0, 3.0), Station(400.0, 20.0, 3.0))


def wanting(problem: Problem, *wanted: Station) -> Problem:
    edges = tuple(replace(edge, stations=wanted) for edge in problem.edges)
    return replace(problem, edges=edges)


def free(path: Centreline, one: Station, room: float) -> list[tuple[float, float]]:
    """Between which places the middle of a stretch may be, on each straight; none has room behind
    the other where it is too short."""
    runs, at = [], 0.0
    for i, piece in enumerate(path.pieces):
        if isinstance(piece, Straight):
            before = 0.0 if i == 0 else room
            behind = 0.0 if i == len(path.pieces) - 1 else room
            half = one.length / 2.0
            runs.append((at + before + half, at + piece.length - behind - half))
        at += piece.length
    return runs


def straight(path: Centreline, one: Station) -> bool:
    """Whether a stretch is straight where it is wanted, by its points alone."""
    at = np.linspace(one.at - one.length / 2.0, one.at + one.length / 2.0, 21)
    points = points_at(path, at)
    ends = float(np.linalg.norm(points[-1] - points[0]))
    return abs(ends - one.length) < 1e-6


def test_tubes_are_straight_where_it_is_wanted():
    plain = bundle(3)
    before = route(plain)
    assert isinstance(before, Routed)
    wanted = wanting(plain, *WANTED)
    assert not all(straight(path, one) for path in before.paths for one in WANTED)
    found = route(wanted)
    assert isinstance(found, Routed)
    for path, edge in zip(found.paths, plain.edges, strict=True):
        assert path.length == pytest.approx(edge.length, abs=0.01)
        assert all(straight(path, one) for one in WANTED)
    assert stations.astray(wanted, found.paths) == ()
    assert stations.price(wanted, found.paths) == 0.0


def test_they_keep_a_least_straight_from_bends():
    wanted = wanting(bundle(2), *WANTED)
    wanted = replace(wanted, shelf=replace(SHELF, straight=8.0))
    found = route(wanted)
    assert isinstance(found, Routed)
    longer = tuple(replace(one, length=one.length + 16.0) for one in WANTED)
    assert all(straight(path, one) for path in found.paths for one in longer)


def corner(one: Station) -> Problem:
    """A tube that one bend leads to its end and no other is allowed, so that nothing can move."""
    end = Frame.facing((200.0, 0.0, 250.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    length = (250.0 - 63.0) + 63.0 * math.pi / 2.0 + (200.0 - 63.0)
    return wanting(alone(Frame(), end, length, replace(SHELF, most_bends=1)), one)


@pytest.mark.parametrize(("at", "moved"), [(187.0 - 10.0, 0.0), (187.0 - 7.5, 2.5), (190.0, 13.0)])
def test_what_cannot_be_straight_is_priced_and_stops_nothing(at, moved):
    problem = corner(Station(at, 20.0, 3.0))
    found = route(problem)
    assert isinstance(found, Routed)
    assert stations.moved(problem, found.paths)[0][0] == pytest.approx(moved, abs=1e-6)
    assert stations.astray(problem, found.paths) == ((0,) if moved > 3.0 else ())
    wanted = 0.1 * moved + (2.0 if moved > 3.0 else 0.0)
    assert stations.price(problem, found.paths) == pytest.approx(wanted, abs=1e-6)
    assert found.score == pytest.approx(2.0 + wanted, abs=1e-6)  # a bend, and a right angle


@given(st.integers(0, 400), st.floats(40.0, 560.0), st.floats(5.0, 60.0), st.floats(0.0, 10.0))
@settings(max_examples=30)
def test_how_far_a_stretch_is_from_its_straight(skip, at, long, room):
    """Of drawn paths; exact where some straight is long enough for it."""
    problem = bundle(1)
    (edge,) = problem.edges
    shelf = replace(SHELF, straight=room)
    plan = plans(edge, problem.slots[0], shelf, 3)[-1]
    batch = draw(plan, edge.length, shelf, 1, skip)
    path = batch.path(0)
    assert path.length > 0.0
    if min(p.length for p in path.pieces) < 0.0:
        return
    one = Station(at, long, 0.0)
    edge = replace(edge, length=path.length, stations=(one,))
    asked = replace(problem, edges=(edge,), shelf=shelf)
    ((value,),) = stations.aside(asked, 0, batch.radii, measure(batch))
    ((again,),) = stations.moved(asked, (path,))
    assert value == pytest.approx(again, abs=1e-6)
    on = max(min(at, path.length - long / 2.0 - 0.05), long / 2.0 + 0.05)
    runs = free(path, one, room)
    places = [abs(min(max(on, low), high) - on) for low, high in runs if low <= high]
    assert value <= min(places, default=math.inf) + 1e-9
    if len(places) == len(runs):
        assert value == pytest.approx(min(places), abs=1e-9)
    if value == 0.0:
        assert min(places) == 0.0


@given(st.integers(0, 200), st.floats(60.0, 540.0))
@settings(max_examples=30)
def test_slopes_are_those_of_the_values(skip, at):
    problem = wanting(bundle(1), Station(at, 20.0, 3.0))
    (edge,) = problem.edges
    batch = draw(plans(edge, problem.slots[0], SHELF, 3)[-1], edge.length, SHELF, 1, skip)
    value, gradient = stations.limits(problem, layout(problem, (batch,)), SHAPE_ROOM)
    ((lack,),) = stations.aside(problem, 0, batch.radii, measure(batch))
    assert max(0.0, -float(value.min()) - SHAPE_ROOM) == pytest.approx(lack, abs=1e-9)
    for number, move in enumerate(batch.form.moves):
        ahead = replace(batch, corners=batch.corners + 1e-3 * move)
        after, _ = stations.limits(problem, layout(problem, (ahead,)), SHAPE_ROOM)
        change = (after - value) / 1e-3
        # another straight may be the nearest a little farther on
        if np.abs(change).max() < 10.0:
            assert change == pytest.approx(gradient[:, :, number], abs=2e-2)


def test_what_is_tacked_shifts_stretches():
    problem = wanting(bundle(1), *WANTED)
    (edge,) = problem.edges
    made = Centreline(edge.start, (Straight(120.0), Bend(63.0, 1.2)))
    kept = replace(problem, edges=(replace(edge, kept=(made,)),))
    (left,) = advanced(kept).edges
    assert [one.at for one in left.stations] == [pytest.approx(400.0 - made.length)]
    found = route(kept)
    assert isinstance(found, Routed)
    (path,) = found.paths
    assert distance(dense(path)[0], edge.start.origin) < 1e-9
    assert straight(path, WANTED[1])


def test_they_keep_off_the_end_of_the_tube():
    one = Station(600.0, 20.0, 3.0, end=40.0)
    problem = wanting(bundle(2), one)
    found = route(problem)
    assert isinstance(found, Routed)
    for path in found.paths:
        assert straight(path, replace(one, at=620.0 - 40.0 - 10.0))


def test_nothing_changes_where_nothing_is_wanted():
    plain = search(bundle(3), EFFORTS[0]).routed
    again = search(wanting(bundle(3)), EFFORTS[0]).routed
    assert plain == again


def test_a_round_that_steps_keep_from_finding_anything_is_done_without_them():
    """Two bends leave one number free, and these lengths little of it."""
    short = bundle(2, 480.0)
    short = replace(short, shelf=replace(SHELF, most_bends=2))
    problem = wanting(short, Station(240.0, 20.0, 3.0), Station(288.0, 20.0, 3.0))
    assert attempt(problem, EFFORTS[0]).routed is None
    plain, found = search(short, EFFORTS[0]), search(problem, EFFORTS[0])
    assert plain.routed is not None
    assert found.routed is not None
    assert found.routed.paths == plain.routed.paths
    more = stations.price(problem, plain.routed.paths)
    assert more > 2.0
    assert found.routed.score == pytest.approx(plain.routed.score + more, abs=1e-9)
    assert found.tried == 2 * plain.tried
