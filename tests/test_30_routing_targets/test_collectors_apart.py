"""Tubes of different collectors keep clear throughout; junctions keep off what stands still."""

from dataclasses import replace

import numpy as np
import pytest

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame
from geomgen.routing.clear import clear
from geomgen.routing.ease import ends_for, strains
from geomgen.routing.junctions import stands
from geomgen.routing.problem import Body, Edge, Obstacle, Problem, Radius, Shelf, spared, together
from geomgen.routing.prove import body_gaps, tube_gaps

R, GAP = 20.0, 5.0
SHELF = Shelf((Radius(60.0, 3.1),), 0.1, 0.0, 0.0, 0.0)


def straight(at: tuple[float, float, float], length: float) -> Centreline:
    return Centreline(Frame(at), (Straight(length),))


def beside(apart: float, rings: tuple[tuple[int, ...], ...]) -> tuple[Problem, tuple]:
    """Two straight tubes side by side, all of each a last straight."""
    paths = (straight((0, 0, 0), 300.0), straight((apart, 0, 0), 300.0))
    edges = tuple(
        Edge(f"tube {i}", path.start, 300.0, R, i, slots=(i,)) for i, path in enumerate(paths)
    )
    slots = tuple(path.end for path in paths)
    return Problem(edges, slots, (), SHELF, GAP, (), (), (), rings=rings), paths


@pytest.mark.parametrize("apart", [2 * R + GAP + 0.1, 2 * R + GAP - 0.1, 30.0])
def test_only_tubes_of_one_collector_may_close_up_on_their_last_straights(apart) -> None:
    one, paths = beside(apart, ((0, 1),))
    assert clear(one, paths, (0, 1))
    two, paths = beside(apart, ((0,), (1,)))
    assert clear(two, paths, (0, 1)) == (apart > 2 * R + GAP)
    (gap,) = tube_gaps(two, paths, (0, 1))
    assert gap.gap <= apart - 2 * R <= gap.upper + 1e-9
    assert (gap.gap >= gap.needed) == (apart > 2 * R + GAP)


@pytest.mark.parametrize("apart", [2 * R + GAP + 0.1, 2 * R + GAP - 0.1])
def test_stubs_of_another_collector_count_too(apart) -> None:
    """The second tube ends early; its stub runs on beside the first."""
    problem, paths = beside(apart, ((0,), (1,)))
    short = straight((apart + 60.0, 0, 0), 20.0)
    stub = Body("stub", straight((apart, 0, 100.0), 80.0), R, slot=1)
    edges = (problem.edges[0], replace(problem.edges[1], start=short.start, length=20.0))
    problem = replace(problem, edges=edges, bodies=(stub,))
    whole = Centreline(short.start, short.pieces).joined(stub.path)
    assert whole.length == pytest.approx(100.0)
    near = replace(stub, path=straight((apart, 0, 20.0), 80.0))
    moved = replace(problem, bodies=(near,))
    laid = (paths[0], straight((apart, 0, 0), 20.0))
    assert clear(moved, laid, (0, 1)) == (apart > 2 * R + GAP)


def joint() -> tuple[Problem, tuple[Centreline, ...]]:
    """Tube 0 into a junction's stub, on through its cone, and tube 1 from there."""
    tube, on = straight((0, 0, 0), 200.0), straight((0, 0, 310.0), 200.0)
    bodies = (
        Body("stub", straight((0, 0, 200.0), 80.0), R, edge=1, slot=0, takes=(0,)),
        Body("cone", straight((0, 0, 280.0), 30.0), R, edge=1, takes=(0,)),
    )
    edges = (
        Edge("in", tube.start, 200.0, R, 0, slots=(0,)),
        Edge("on", on.start, 200.0, R, 0, slots=(1,)),
    )
    slots = (tube.end, on.end)
    rings = ((0,), (1,))
    return Problem(edges, slots, bodies, SHELF, GAP, (), (), (), rings=rings), (tube, on)


def test_a_junction_and_the_tube_that_it_sends_on_may_touch() -> None:
    """30 mm of cone between a stub and the next tube are less than two radii and the gap."""
    problem, paths = joint()
    assert clear(problem, paths, (0, 1))
    assert all(gap.gap >= gap.needed for gap in tube_gaps(problem, paths, (0, 1)))


def test_a_tube_that_comes_back_to_its_own_junction_is_found() -> None:
    """Half a turn and more along, nothing keeps it from meeting the stub but the check."""
    problem, (tube, _) = joint()
    # Not a path that could be laid: only its far end matters, which lies beside the stub.
    from geomgen.geometry.centreline import Bend

    half = 3.14159265
    pieces = (Straight(20.0), Bend(20.0, half, 0.0), Straight(150.0))
    back = Centreline(Frame((0, 0, 310.0)), pieces)
    low = replace(problem, shelf=replace(SHELF, radii=(Radius(20.0, 3.2),)))
    edges = (low.edges[0], replace(low.edges[1], length=back.length))
    low = replace(low, edges=edges, slots=(low.slots[0], back.end))
    assert not clear(low, (tube, back), (0, 1))
    (gap,) = tube_gaps(low, (tube, back), (0, 1))
    assert gap.gap == pytest.approx(40.0 - 2 * R, abs=0.05)


def test_whose_last_straight_is_spared() -> None:
    problem = joint()[0]
    assert together(problem, 0, 0)
    assert not together(problem, 0, 1)
    stub, cone = problem.bodies
    assert spared(problem, stub, 0)
    assert not spared(problem, cone, 1)
    loose = Body("outlet", stub.path, R)
    assert spared(problem, loose, 1)
    assert not spared(problem, replace(loose, slot=0), 1)
    assert not spared(problem, replace(loose, takes=(0,)), 1)
    gaps = {(g.subject, g.other) for g in body_gaps(problem, joint()[1], (0, 1))}
    assert gaps == {("in", "cone")}


def test_junctions_keep_off_obstacles_and_other_bodies() -> None:
    problem = joint()[0]
    assert stands(problem)
    # Distances to fields are bounded from below, within half a mm.
    for x, ok in ((R + 9.9, False), (R + 10.5, True)):
        block = Obstacle("block", Box((x, -50, 200), (x + 50, 50, 300)), 10.0)
        assert stands(replace(problem, obstacles=(block,))) == ok
    for x, ok in ((2 * R + GAP - 0.1, False), (2 * R + GAP + 0.1, True)):
        other = Body("transition", straight((x, 0, 240.0), 40.0), R, edge=0)
        assert stands(replace(problem, bodies=(*problem.bodies, other))) == ok


def test_ends_are_carried_as_the_problem_itself_carries_them() -> None:
    from test_junctions import JUNCTIONS, manifold

    middles = tuple(junction.middle for junction in JUNCTIONS)
    poses = tuple(
        tuple(
            Frame(m.origin, m.x, m.z).shifted((3.0 * i, -2.0, 5.0 * k)).rolled(0.3 * (i + k))
            for k, m in enumerate(middles)
        )
        for i in range(3)
    )
    _, ends = ends_for(manifold, middles, poses)
    for i, choice in enumerate(poses):
        problem = manifold(choice)
        frames = [edge.start for edge in problem.edges] + list(problem.slots)
        for frame, (at, way) in zip(frames, (*ends.starts, *ends.slots), strict=True):
            assert np.allclose(at[i], frame.origin, atol=1e-9)
            assert np.allclose(way[i], frame.z, atol=1e-12)


def test_what_a_tube_cannot_reach_is_ranked_behind_what_it_can() -> None:
    from test_junctions import JUNCTIONS, manifold

    middles = tuple(junction.middle for junction in JUNCTIONS)
    far = tuple(m.shifted((0.0, -700.0, 0.0)) for m in middles)
    clash = (middles[0], middles[0])
    problem, ends = ends_for(manifold, middles, (middles, far, clash))
    good, beyond, clashing = strains(problem, ends)
    assert good < beyond
    assert good < clashing
