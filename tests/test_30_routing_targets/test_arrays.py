"""Slots in any array, and ports on two heads: the router asks only where they are."""

import math

import pytest

from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame, Vec, angle_between, distance
from geomgen.routing.assignments import in_order
from geomgen.routing.clear import clear
from geomgen.routing.problem import Body, Edge, Obstacle, Problem, Radius, Routed, Shelf
from geomgen.routing.prove import with_stub
from geomgen.routing.solve import route

R = 19.0
PITCH = 2.0 * R + 8.0
LEAN = math.radians(8.0)
SHELF = Shelf((Radius(57.0, math.pi),), math.radians(8), 0.0, 5.0, 0.0)
FIRING = (0, 2, 3, 1)  # 1-3-4-2


def leaning(home: Frame, x: float, y: float) -> Frame:
    """A slot at (x, y) of an array, leaning towards its middle as far as it is out of it."""
    out = math.hypot(x, y)
    sine = math.sin(LEAN * out / PITCH)
    way = (-sine * x / out, -sine * y / out, math.sqrt(1.0 - sine * sine)) if out else (0, 0, 1)
    return Frame.facing(home.point((x, y, 0.0)), home.vector(way))


def array(kind: str, home: Frame) -> tuple[Frame, ...]:
    """Four slots, in order round the collector; in line: from one end to the other."""
    half, across = 0.5 * PITCH, PITCH / math.sqrt(2.0)
    places = {
        "square": [(half, half), (-half, half), (-half, -half), (half, -half)],
        "diamond": [(across, 0.0), (0.0, across), (-across, 0.0), (0.0, -across)],
        "in line": [((i - 1.5) * PITCH, 0.0) for i in range(4)],
        "round": [
            (1.2 * PITCH * math.cos(a), 1.2 * PITCH * math.sin(a)) for a in (0.3, 1.6, 3.0, 4.9)
        ],
    }
    return tuple(leaning(home, x, y) for x, y in places[kind])


def four(kind: str, lean: float = 0.0, roll: float = 0.0) -> Problem:
    """An invented four into one collector; its ports may lean apart, each its own way."""
    ways: list[Vec] = [(lean * (i - 1.5), -0.5 * lean, 1.0) for i in range(4)]
    ports = [Frame.facing((88.0 * i, 0.0, 45.0), way) for i, way in enumerate(ways)]
    home = Frame.facing((330.0, -360.0, 210.0), (0.9, -0.35, 0.0), (0.0, 0.0, 1.0)).rolled(roll)
    edges = tuple(
        Edge(f"runner {i + 1}", port, 610.0, R, FIRING[i]) for i, port in enumerate(ports)
    )
    block = Obstacle("block", Box((-200.0, -600.0, -300.0), (460.0, -70.0, 5.0)), 10.0)
    return Problem(edges, array(kind, home), (), SHELF, 5.0, (block,), (), ())


@pytest.mark.parametrize("kind", ["square", "diamond", "in line", "round"])
def test_four_tubes_go_into_any_array(kind: str) -> None:
    problem = four(kind)
    found = route(problem)
    assert isinstance(found, Routed)
    assert clear(problem, found.paths, found.slots)
    assert sorted(found.slots) == [0, 1, 2, 3]
    assert found.in_order == in_order(problem, found.slots)


@pytest.mark.parametrize(("lean", "roll"), [(0.12, 0.0), (0.0, 0.7), (-0.1, 2.5)])
def test_ports_may_lean_each_its_own_way_and_the_collector_may_roll(
    lean: float, roll: float
) -> None:
    problem = four("square", lean, roll)
    found = route(problem)
    assert isinstance(found, Routed)
    assert clear(problem, found.paths, found.slots)


def test_two_heads_are_laid_out_together_each_into_its_own_collector() -> None:
    """A vee twice two: both banks in one frame, tubes of one kept clear of those of the other."""
    edges, slots = [], []
    for bank, side in enumerate((1.0, -1.0)):
        out = (side * math.sin(0.8), 0.0, math.cos(0.8))
        home = Frame.facing((side * 260.0, -330.0, 60.0), (side * 0.2, -1.0, 0.0))
        for i in range(2):
            port = Frame.facing((side * 120.0, 0.0, 90.0), out).point((0.0, 95.0 * i, 0.0))
            edges.append(
                Edge(
                    f"runner {2 * i + bank + 1}",
                    Frame.facing(port, out),
                    520.0,
                    R,
                    i,
                    slots=(2 * bank, 2 * bank + 1),
                )
            )
        slots += [leaning(home, s * 0.5 * PITCH, 0.0) for s in (1.0, -1.0)]
    gearbox = Obstacle("gearbox", Box((-90.0, -500.0, -200.0), (90.0, 200.0, 70.0)), 10.0)
    problem = Problem(
        tuple(edges),
        tuple(slots),
        (),
        SHELF,
        5.0,
        (gearbox,),
        (),
        (),
        rings=((0, 1), (2, 3)),
    )
    found = route(problem)
    assert isinstance(found, Routed)
    assert clear(problem, found.paths, found.slots)
    assert {found.slots[0], found.slots[1]} == {0, 1}
    assert {found.slots[2], found.slots[3]} == {2, 3}


def test_a_path_goes_on_through_a_stub_that_turns() -> None:
    """The stub's bend lies where the stub has it, however the path before it is rolled."""
    slot = Frame.facing((10.0, 20.0, 30.0), (0.0, 1.0, 0.0))
    turn = Centreline(slot, (Straight(12.0), Bend(60.0, 0.2, 1.1), Straight(70.0)))
    start = slot.moved(-50.0).rolled(0.7)
    path = Centreline(start, (Straight(50.0),))
    edge = Edge("runner 1", start, 50.0, R, 0)
    body = Body("stub", turn, R, slot=0)
    whole = with_stub(Problem((edge,), (slot,), (body,), SHELF, 5.0, (), (), ()), path, 0)
    assert distance(whole.end.origin, turn.end.origin) < 1e-9
    assert angle_between(whole.end.z, turn.end.z) < 1e-9


@pytest.mark.parametrize("row", [(1, 4, 2, 3), (4, 2, 3, 1), (3, 2, 4, 1)])
def test_a_row_is_in_order_from_any_cylinder_on(row: tuple[int, ...]) -> None:
    """Along a row all but one of the pairs that fire in turn stand side by side."""
    places = {cylinder: place for place, cylinder in enumerate(row)}
    turn = sorted(places, key=lambda cylinder: FIRING[cylinder - 1])
    beside = [
        abs(places[a] - places[b]) == 1 for a, b in zip(turn, (*turn[1:], turn[0]), strict=True)
    ]
    assert beside.count(False) == 1
    slots = tuple(places[c] for c in (1, 2, 3, 4))
    assert in_order(four("in line"), slots)
