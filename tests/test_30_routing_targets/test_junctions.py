"""Free junctions: four tubes into two pairs, each pair's one tube on to a last pair."""

import math
from dataclasses import replace

import numpy as np
import pytest

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.routing.clear import clear
from geomgen.routing.junctions import Joined, Junction, route_joined
from geomgen.routing.problem import Body, Edge, Obstacle, Problem, Radius, Shelf

R, R2 = 21.0, 24.0
ASIDE = 0.5 * (2.0 * R + 3.0)


def pair(at: Frame, aside: float) -> tuple[Frame, Frame]:
    """Two slots side by side across a junction's x, leaning together by 10 degrees."""
    lean = math.radians(10.0)
    one, two = (
        Frame.facing(
            at.point((s * aside, 0.0, 0.0)), at.vector((-s * math.sin(lean), 0.0, math.cos(lean)))
        )
        for s in (1.0, -1.0)
    )
    return one, two


def manifold(poses: tuple[Frame, ...]) -> Problem:
    """An invented four: cylinders 1 and 4, 2 and 3 go together; all primaries 380 mm."""
    ports = [Frame((92.0 * i, 0.0, 50.0)) for i in range(4)]
    last = Frame.facing((420.0, -420.0, 240.0), (0.9, -0.4, 0.0), (0.0, 0.0, 1.0))
    ends = [pair(pose, ASIDE) for pose in poses]
    final = pair(last, 0.5 * (2.0 * R2 + 3.0))
    joined = {0: 0, 3: 0, 1: 1, 2: 1}
    primaries = [
        Edge(
            f"runner {i + 1}",
            port,
            380.0,
            R,
            (0, 2, 3, 1)[i],
            slots=(2 * joined[i], 2 * joined[i] + 1),
        )
        for i, port in enumerate(ports)
    ]
    secondaries = [
        Edge(f"secondary {k + 1}", pose.moved(110.0), 300.0, R2, k, slots=(4, 5))
        for k, pose in enumerate(poses)
    ]
    bodies = [
        Body(
            f"merge {k + 1}",
            Centreline(pose.moved(30.0), (Straight(80.0),)),
            2 * R,
            edge=4 + k,
            takes=(2 * k, 2 * k + 1),
        )
        for k, pose in enumerate(poses)
    ]
    head = Obstacle("block", Box((-200.0, -500.0, -300.0), (500.0, 300.0, 5.0)), 10.0)
    return Problem(
        edges=(*primaries, *secondaries),
        slots=(*ends[0], *ends[1], *final),
        bodies=tuple(bodies),
        shelf=Shelf((Radius(57.0, math.pi),), math.radians(8), 0.0, 5.0, 0.0),
        gap=5.0,
        obstacles=(head,),
        studs=(),
        places=(),
        rings=((0, 1), (2, 3), (4, 5)),
    )


WAY = (0.5, -0.8, 0.2)
JUNCTIONS = (
    Junction(
        "merge 1", Frame.facing((180.0, -190.0, 220.0), (0.5, -0.8, 0.2)), (70.0, 50.0, 50.0), 0.4
    ),
    Junction(
        "merge 2", Frame.facing((120.0, -190.0, 120.0), (0.5, -0.8, 0.2)), (70.0, 50.0, 40.0), 0.4
    ),
)


@pytest.fixture(scope="module")
def joined() -> Joined:
    found = route_joined(JUNCTIONS, manifold)
    assert found is not None
    return found


def test_junctions_stay_in_their_room(joined: Joined) -> None:
    for junction, pose in zip(JUNCTIONS, joined.poses, strict=True):
        off = np.abs(np.array(pose.origin) - np.array(junction.middle.origin))
        assert (off <= np.array(junction.room) + 1e-9).all()
        assert angle_between(pose.z, junction.middle.z) <= junction.lean + 1e-9


def test_primaries_and_secondaries_have_their_lengths_and_ends(joined: Joined) -> None:
    problem, routed = joined.problem, joined.routed
    assert problem == manifold(joined.poses)
    for edge, path, slot in zip(problem.edges, routed.paths, routed.slots, strict=True):
        assert edge.slots is not None
        assert slot in edge.slots
        assert abs(path.length - edge.length) <= 0.01
        assert distance(path.start.origin, edge.start.origin) < 1e-9
        assert distance(path.end.origin, problem.slots[slot].origin) < 1e-6
        assert angle_between(path.end.z, problem.slots[slot].z) < 1e-6
    assert sorted(routed.slots) == list(range(6))


def test_it_is_proven_clear(joined: Joined) -> None:
    assert clear(joined.problem, joined.routed.paths, joined.routed.slots)


def test_no_room_for_a_junction_is_told() -> None:
    far = tuple(
        replace(j, middle=Frame.facing((2000.0, 0.0, 300.0), (1.0, 0.0, 0.0)), room=(1.0, 1.0, 1.0))
        for j in JUNCTIONS
    )
    assert route_joined(far, manifold) is None
