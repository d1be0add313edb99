"""Solids out of STEP files against the kernel's own distances (BRepExtrema) and classifier."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import step_shapes as shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
from OCP.BRepClass3d import BRepClass3d_SolidClassifier
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
from OCP.gp import gp_Pnt, gp_Pnt2d
from OCP.TopAbs import TopAbs_State
from OCP.TopoDS import TopoDS_Shape

from geomgen.geometry.solid_field import Solid
from geomgen.solids.errors import SolidError
from geomgen.solids.foreign import solid_from_step
from geomgen.solids.measure import Kind, explore, faces_of, solids_of, volume

EMPTY = b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"
MAKERS = {"casting": shapes.casting, "blended": shapes.blended}


@cache
def shape(name: str) -> TopoDS_Shape:
    return MAKERS[name]()


@cache
def step(name: str) -> bytes:
    return shapes.step_bytes(shape(name))


@cache
def measured(name: str) -> Solid:
    return solid_from_step(step(name))


def true_distance(name: str, p: tuple[float, float, float]) -> float:
    """By the kernel: to the nearest shell, negative inside."""
    point = gp_Pnt(*p)
    (solid,) = solids_of(shape(name))
    (shell,) = explore(solid, Kind.TopAbs_SHELL)
    away = BRepExtrema_DistShapeShape(BRepBuilderAPI_MakeVertex(point).Vertex(), shell).Value()
    state = BRepClass3d_SolidClassifier(solid, point, 1e-7).State()
    return -away if state == TopAbs_State.TopAbs_IN else away


@pytest.mark.parametrize("name", sorted(MAKERS))
@settings(max_examples=20)
@given(share=st.tuples(*[st.floats(-0.3, 1.3)] * 3))
def test_distance_is_bounded_by_the_kernels(name: str, share) -> None:
    solid = measured(name)
    low, high = np.array(solid.low), np.array(solid.high)
    p = low + np.array(share) * (high - low)
    true = true_distance(name, tuple(p.tolist()))
    lower, upper = solid.distance(p[None])[0], solid.at_most(p[None])[0]
    if true > 0.0:
        assert lower <= true + 1e-6
        # Few points are measured exactly within 60 mm; beyond that a grid answers, from below.
        assert lower >= true - 2.0 * solid.outside - (1e-6 if true < 58.0 else 0.05 * true)
        assert upper >= true - 1e-6
    elif true < -2.0 * solid.outside:
        assert lower < 0.0
        assert upper < solid.within


@pytest.mark.parametrize("name", sorted(MAKERS))
def test_no_point_of_the_true_surface_is_farther_off_than_stated(name: str) -> None:
    solid, worst = measured(name), 0.0
    rng = np.random.default_rng(5)
    for face in faces_of(shape(name)):
        surface = BRepAdaptor_Surface(face)
        inside = BRepTopAdaptor_FClass2d(face, 1e-9)
        u = rng.uniform(surface.FirstUParameter(), surface.LastUParameter(), 1500)
        v = rng.uniform(surface.FirstVParameter(), surface.LastVParameter(), 1500)
        points = [
            (p.X(), p.Y(), p.Z())
            for a, b in zip(u.tolist(), v.tolist(), strict=True)
            if inside.Perform(gp_Pnt2d(a, b)) != TopAbs_State.TopAbs_OUT
            for p in (surface.Value(a, b),)
        ]
        if points:
            (body,) = solid.bodies
            worst = max(worst, float(np.abs(body.skin.distance(np.array(points))).max()))
    assert worst <= solid.outside
    # The bound is of use: not many times what there is.
    assert solid.outside <= 2.0 * worst + 0.05


@pytest.mark.parametrize("name", sorted(MAKERS))
def test_no_point_of_a_triangle_is_farther_off_than_stated(name: str) -> None:
    solid = measured(name)
    rng = np.random.default_rng(6)
    chosen = rng.choice(len(solid.triangles), 120, replace=False)
    share = rng.dirichlet((1.0, 1.0, 1.0), len(chosen))
    points = np.einsum("mk,mkc->mc", share, solid.triangles[chosen])
    assert max(abs(true_distance(name, tuple(p))) for p in points.tolist()) <= solid.within


def test_volume_is_the_kernels_within_the_skin() -> None:
    (body,) = measured("casting").bodies
    assert body.skin.volume == pytest.approx(volume(shape("casting")), rel=0.01)


def test_a_file_in_inches_is_read_right() -> None:
    step = shapes.step_bytes(shapes.block((25.4, 0, 0), (50.8, 25.4, 12.7)), "INCH")
    assert b"'INCH'" in step
    solid = solid_from_step(step)
    assert solid.low == pytest.approx((25.4, 0, 0), abs=2e-3)
    assert solid.high == pytest.approx((76.2, 25.4, 12.7), abs=2e-3)


def test_several_solids_are_one_obstacle() -> None:
    block = shapes.block((0, 0, 0), (20, 20, 20))
    solid = solid_from_step(
        shapes.step_bytes(shapes.together(block, shapes.moved(block, (100.0, 0.0, 0.0))))
    )
    assert len(solid.bodies) == 2
    points = np.array([(60.0, 10.0, 10.0), (10.0, 10.0, 10.0), (110.0, 10.0, 10.0)])
    assert solid.distance(points) == pytest.approx((40.0, -10.0, -10.0), abs=0.01)


def test_a_hollow_is_free() -> None:
    hollow = BRepAlgoAPI_Cut(
        shapes.block((0, 0, 0), (60, 60, 60)), shapes.block((10, 10, 10), (40, 40, 40))
    ).Shape()
    solid = solid_from_step(shapes.step_bytes(hollow))
    points = np.array([(30.0, 30.0, 30.0), (5.0, 30.0, 30.0), (30.0, 30.0, 75.0)])
    assert solid.distance(points) == pytest.approx((20.0, -5.0, 15.0), abs=0.01)


def test_a_solid_measured_twice_is_the_same() -> None:
    from geomgen.geometry.solid_file import packed

    assert packed(solid_from_step(step("blended"))) == packed(measured("blended"))


@pytest.mark.parametrize(
    ("file", "why"),
    [
        (lambda: shapes.step_bytes(shapes.open_solid(shapes.casting())), "not closed|no solid"),
        (
            lambda: shapes.step_bytes(shapes.open_solid(shapes.casting(), solid=False)),
            "faces that bound no solid",
        ),
        (
            lambda: shapes.step_bytes(
                shapes.together(
                    shapes.block((0, 0, 0), (9, 9, 9)),
                    shapes.open_solid(shapes.block((20, 0, 0), (9, 9, 9)), solid=False),
                )
            ),
            "faces that bound no solid",
        ),
        (
            lambda: shapes.step_bytes(
                shapes.together(*(shapes.block((20 * k, 0, 0), (9, 9, 9)) for k in range(41)))
            ),
            "41 solids",
        ),
        (
            lambda: b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n",
            "no shape|cannot read",
        ),
        (lambda: b"", "no shape|cannot read"),
    ],
    ids=["open", "shell", "one of two", "too many", "empty", "nothing"],
)
def test_what_is_no_closed_solid_is_refused(file, why: str) -> None:
    with pytest.raises(SolidError, match=why):
        solid_from_step(file())
