"""Routing under rotation, translation and mirror.

Floors, cheap certificates, clearances, scores and the list of paths of two bends depend on
distances and angles only, so they are held tightly. Draws of three bends and more turn about
the axes of the world, so a search for those must only succeed in any position.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from proven import shortfall
from routing_bundles import CLR, SHELF, bundle
from scipy.spatial.transform import Rotation

from geomgen.geometry.centreline import Bend, Centreline
from geomgen.geometry.fields import Box, Cylinder, Field, HalfSpace
from geomgen.geometry.frames import Frame, Vec, angle_between, distance
from geomgen.routing.floor import floor_of, pose_to_point
from geomgen.routing.problem import (
    Impossible,
    Obstacle,
    Problem,
    Radius,
    Routed,
    ToolPlace,
)
from geomgen.routing.prove import clearances, free_places
from geomgen.routing.score import follows_firing_order, layout_score
from geomgen.routing.solve import EFFORTS, barred, route
from geomgen.routing.two_bends import two_bends


@dataclass(frozen=True)
class Isometry:
    """A rotation or mirror, then a shift."""

    matrix: tuple[Vec, Vec, Vec]
    shift: Vec

    @property
    def sense(self) -> float:
        return float(np.sign(np.linalg.det(np.array(self.matrix))))

    def vector(self, v: Vec) -> Vec:
        x, y, z = (float(c) for c in np.array(self.matrix) @ np.array(v))
        return (x, y, z)

    def point(self, p: Vec) -> Vec:
        x, y, z = self.vector(p)
        return (x + self.shift[0], y + self.shift[1], z + self.shift[2])

    def frame(self, f: Frame) -> Frame:
        """Axes x and z go along; y, which completes them, changes sides in a mirror."""
        return Frame(self.point(f.origin), self.vector(f.x), self.vector(f.z))

    def path(self, path: Centreline) -> Centreline:
        pieces = tuple(
            replace(piece, roll=self.sense * piece.roll) if isinstance(piece, Bend) else piece
            for piece in path.pieces
        )
        return Centreline(self.frame(path.start), pieces)

    def box(self, box: Box) -> Box:
        """The box of its corners: the box itself when axes go to axes."""
        corners = itertools.product(*zip(box.low, box.high, strict=True))
        moved = np.array([self.point((x, y, z)) for x, y, z in corners])
        low, high = moved.min(axis=0), moved.max(axis=0)
        return Box(tuple(map(float, low)), tuple(map(float, high)))  # type: ignore[arg-type]

    def field(self, field: Field) -> Field:
        if isinstance(field, Cylinder):
            return Cylinder(self.point(field.begin), self.point(field.end), field.radius)
        if isinstance(field, HalfSpace):
            return HalfSpace(self.point(field.point), self.vector(field.normal))
        assert isinstance(field, Box)
        assert np.isin(np.abs(np.array(self.matrix)), (0.0, 1.0)).all()
        return self.box(field)

    def problem(self, problem: Problem) -> Problem:
        return replace(
            problem,
            edges=tuple(
                replace(
                    edge,
                    start=self.frame(edge.start),
                    kept=tuple(self.path(part) for part in edge.kept),
                )
                for edge in problem.edges
            ),
            slots=tuple(self.frame(slot) for slot in problem.slots),
            bodies=tuple(replace(b, path=self.path(b.path)) for b in problem.bodies),
            obstacles=tuple(replace(o, field=self.field(o.field)) for o in problem.obstacles),
            places=tuple(
                replace(p, fields=tuple(self.field(f) for f in p.fields), within=self.box(p.within))
                for p in problem.places
            ),
        )


def _rows(matrix: NDArray[np.float64]) -> tuple[Vec, Vec, Vec]:
    a, b, c = (tuple(float(v) for v in row) for row in matrix)
    return (a, b, c)  # type: ignore[return-value]


MIRROR = Isometry(_rows(np.diag([-1.0, 1.0, 1.0])), (0.0, 0.0, 0.0))


@st.composite
def isometries(draw: st.DrawFn) -> Isometry:
    """Any rotation, mirrored or not, and a shift of up to a metre."""
    about = draw(st.tuples(*[st.floats(-math.pi, math.pi)] * 3))
    matrix = Rotation.from_rotvec(about).as_matrix()
    if draw(st.booleans()):
        matrix = matrix @ np.diag([-1.0, 1.0, 1.0])
    shift = draw(st.tuples(*[st.floats(-1000.0, 1000.0)] * 3))
    return Isometry(_rows(matrix), shift)


@st.composite
def axis_moves(draw: st.DrawFn) -> Isometry:
    """Axes to axes, which boxes can follow."""
    order = draw(st.permutations([0, 1, 2]))
    signs = draw(st.tuples(*[st.sampled_from([-1.0, 1.0])] * 3))
    matrix = np.zeros((3, 3))
    for row, (column, sign) in enumerate(zip(order, signs, strict=True)):
        matrix[row, column] = sign
    return Isometry(_rows(matrix), (12.5, -40.0, 3.25))


def open_bundle() -> Problem:
    """The bundle with a plane for its block, so that it can be turned by any angle."""
    problem = bundle()
    block = Obstacle("block", HalfSpace((0.0, 0.0, 5.0), (0.0, 0.0, 1.0)), 10.0)
    lane = Cylinder((-30.0, 60.0, 10.0), (-30.0, 60.0, 90.0), 9.0)
    place = ToolPlace("1a", "socket", (lane,), 1.5, Box((-39, 51, 10), (-21, 69, 90)))
    return replace(problem, obstacles=(block, problem.obstacles[1]), studs=("1a",), places=(place,))


@pytest.fixture(scope="module")
def routed() -> Routed:
    answer = route(open_bundle())
    assert isinstance(answer, Routed)
    return answer


positions = st.tuples(*[st.floats(-400.0, 400.0)] * 3)
directions = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: math.hypot(*v) > 0.1)


@given(isometries(), positions, directions, positions, directions)
def test_floors_stay(iso: Isometry, p: Vec, z: Vec, q: Vec, w: Vec) -> None:
    a, b = Frame.facing(p, z), Frame.facing(q, w)
    # Where the point grazes the turning circle the shortest path jumps by a whole turn.
    away = np.array(q) - np.array(p)
    for frame in (a, b):
        along = float(away @ np.array(frame.z))
        across = math.sqrt(max(float(away @ away) - along**2, 0.0))
        if abs(math.hypot(along, across - CLR) - CLR) < 1e-4:
            return
    there = floor_of(iso.frame(a), iso.frame(b), CLR)
    assert there == pytest.approx(floor_of(a, b, CLR), abs=1e-6)
    point = pose_to_point(iso.frame(a), iso.point(q), CLR)
    assert point == pytest.approx(pose_to_point(a, q, CLR), abs=1e-6)


@settings(max_examples=15)
@given(iso=isometries())
def test_proven_gaps_and_scores_stay(routed: Routed, iso: Isometry) -> None:
    problem = open_bundle()
    moved = iso.problem(problem)
    paths = tuple(iso.path(path) for path in routed.paths)
    for path, slot in zip(paths, routed.slots, strict=True):
        assert distance(path.end.origin, moved.slots[slot].origin) < 1e-8
        assert angle_between(path.end.z, moved.slots[slot].z) < 1e-9
    here = clearances(problem, routed.paths, routed.slots)
    there = clearances(moved, paths, routed.slots)
    assert [(c.subject, c.other, c.needed) for c in here] == [
        (c.subject, c.other, c.needed) for c in there
    ]
    for one, two in zip(here, there, strict=True):
        assert two.gap == pytest.approx(one.gap, abs=1e-6)
        assert two.upper == pytest.approx(one.upper, abs=1e-6)
    assert shortfall(moved, paths, routed.slots) <= 1e-6
    assert layout_score(paths, True) == layout_score(routed.paths, True)
    # The box about a tool is only a first look: how roomy a free place is may come out less.
    for one_place, two_place in zip(
        free_places(problem, routed.paths), free_places(moved, paths), strict=True
    ):
        assert one_place[:2] == two_place[:2]
        assert (one_place[2] >= 0.0) == (two_place[2] >= 0.0)


def _impossible() -> list[tuple[str, Problem]]:
    problem = open_bundle()
    wall = Obstacle("wall", HalfSpace((0.0, -160.0, 0.0), (0.0, 1.0, 0.0)), 5.0)
    near = tuple(
        replace(edge, start=Frame((40.0 * i, 0.0, 50.0))) for i, edge in enumerate(problem.edges)
    )
    elbow = replace(SHELF, radii=(Radius(CLR, math.radians(40)),), most_bends=2)
    stepped = replace(SHELF, angle_step=math.radians(15), most_bends=2)
    short = tuple(replace(edge, length=330.0) for edge in problem.edges)
    return [
        ("floor", replace(problem, edges=short)),
        ("pitch", replace(problem, edges=near)),
        ("end-blocked", replace(problem, obstacles=(*problem.obstacles, wall))),
        ("turn", replace(problem, shelf=elbow)),
        ("too-few-bends", replace(problem, shelf=stepped)),
    ]


@pytest.mark.parametrize(("kind", "problem"), _impossible(), ids=lambda v: v if v else "")
@settings(max_examples=12)
@given(iso=isometries())
def test_certificates_stay(kind: str, problem: Problem, iso: Isometry) -> None:
    here, there = barred(problem), barred(iso.problem(problem))
    assert isinstance(here, Impossible)
    assert isinstance(there, Impossible)
    assert there.kind == here.kind == kind
    assert (there.edge, there.target) == (here.edge, here.target)
    assert there.floor == pytest.approx(here.floor, abs=1e-6)


@settings(max_examples=25)
@given(isometries(), positions, directions, st.floats(450.0, 900.0))
def test_paths_of_two_bends_move_along(iso: Isometry, p: Vec, z: Vec, length: float) -> None:
    a, b = Frame(), Frame.facing(p, z)
    corners, radii = two_bends(a, (b,), length, SHELF, 10.0, 40)[0]
    there, again = two_bends(iso.frame(a), (iso.frame(b),), length, SHELF, 10.0, 40)[0]
    # A crossing that lies on a grid line may fall to either side of it.
    moved = np.array([[iso.point(tuple(c)) for c in row] for row in corners]).reshape(-1, 6)
    assert abs(len(moved) - len(there)) <= 2
    assert set(radii.ravel()) == set(again.ravel()) or not len(radii)
    lost = 0
    for row in moved:
        if not len(there) or np.abs(there.reshape(-1, 6) - row).max(axis=1).min() > 1e-3:
            lost += 1
    assert lost <= 2


@given(st.permutations(list(range(5))), st.integers(0, 4), st.booleans())
def test_firing_order_has_no_hand(slots: list[int], turn: int, flip: bool) -> None:
    orders = (0, 3, 1, 2, 4)
    moved = tuple(((-s if flip else s) + turn) % 5 for s in slots)
    assert follows_firing_order(moved, orders) == follows_firing_order(tuple(slots), orders)


def _held(problem: Problem, answer: object) -> Routed:
    assert isinstance(answer, Routed)
    assert shortfall(problem, answer.paths, answer.slots) <= 0.0
    for path, edge in zip(answer.paths, problem.edges, strict=True):
        assert abs(path.length - edge.length) <= 0.01
    return answer


@settings(max_examples=8)
@given(iso=isometries())
def test_routed_wherever_it_stands(routed: Routed, iso: Isometry) -> None:
    moved = iso.problem(open_bundle())
    answer = _held(moved, route(moved))
    # Other draws, another answer: one bend or a right angle a tube at most.
    assert abs(answer.score - routed.score) <= 1.0 * len(moved.edges)


@settings(max_examples=6)
@given(iso=axis_moves())
def test_routed_with_a_box_for_its_block(iso: Isometry) -> None:
    moved = iso.problem(bundle())
    _held(moved, route(moved))


@settings(max_examples=6)
@given(iso=isometries())
def test_a_search_of_two_bends_has_the_same_answer(iso: Isometry) -> None:
    """Nothing is drawn about an axis there, so the answer itself goes along."""
    shelf = replace(SHELF, most_bends=2)
    problem = replace(open_bundle(), shelf=shelf)
    here, moved = _held(problem, route(problem, efforts=EFFORTS[:1])), iso.problem(problem)
    there = _held(moved, route(moved, efforts=EFFORTS[:1]))
    assert there.slots == here.slots
    assert there.score == pytest.approx(here.score, abs=1e-3)


def test_the_mirror_image_has_a_score_as_good(routed: Routed) -> None:
    mirrored = MIRROR.problem(open_bundle())
    answer = _held(mirrored, route(mirrored))
    assert answer.score == pytest.approx(routed.score, abs=0.5)


def test_a_kept_tube_goes_along(routed: Routed) -> None:
    """A kept tube is mirrored with its clocks: rolls change sides."""
    problem = open_bundle()
    edges = (replace(problem.edges[0], kept=(routed.paths[0],)), *problem.edges[1:])
    mirrored = MIRROR.problem(replace(problem, edges=edges))
    answer = _held(mirrored, route(mirrored))
    ends = zip(answer.paths[0].frames, MIRROR.path(routed.paths[0]).frames, strict=True)
    assert all(distance(a.origin, b.origin) < 1e-8 for a, b in ends)


def test_a_mirrored_helix_is_the_other_hand() -> None:
    """Against a known case: the mirror of a path, walked from its own frames."""
    path = Centreline(
        Frame((1.0, 2.0, 3.0)), (Bend(CLR, 0.7, 0.3), Bend(CLR, 0.9, 1.1), Bend(CLR, 0.4, -0.5))
    )
    for here, there in zip(path.frames, MIRROR.path(path).frames, strict=True):
        x, y, z = here.origin
        assert distance(there.origin, (-x, y, z)) < 1e-12
