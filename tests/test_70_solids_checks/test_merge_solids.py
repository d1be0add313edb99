"""Merges as solids: closed, apart, gas as one, copes and spikes where plane geometry has them."""

import math
from itertools import combinations

import numpy as np
import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.gp import gp_Pnt
from shapely.geometry import Point, Polygon

from geomgen.families import TubeSize
from geomgen.families._merging import ConeSize, Merged, MergeSize, SlipSize, merge
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame
from geomgen.recipe.nodes import Fuse, Tube
from geomgen.solids.build import build
from geomgen.solids.measure import is_closed, is_valid, solids_of, volume

TUBE = TubeSize(22.5, 21.0)
RUN = 80.0
SLIP = SlipSize(TubeSize(24.15, 22.65), 38.0)
CASES: dict[str, tuple[int, float, float, dict]] = {
    "3 on a circle, spike": (3, 12.0, 57.0, {"spike": "hollow"}),
    "4 on a circle, diffuser": (4, 10.0, 63.5, {"throat": 54.0, "cone": ConeSize(0.15)}),
    "6 on a circle, spike": (6, 12.0, 76.0, {"spike": "hollow"}),
    "8 on a circle, pyramid": (8, 11.0, 80.0, {"spike": "flat"}),
    "3 in line": (3, 12.0, 57.0, {"array": "in-line"}),
    "4 in line, slipped, mitred": (4, 14.0, 63.5, {"array": "in-line", "slip": SLIP}),
    "4 on a circle, slipped, bent": (
        4,
        10.0,
        57.0,
        {"slip": SlipSize(SLIP.tube, 38.0, 72.0), "throat": 60.0},
    ),
}


def made(case: str) -> tuple[int, float, Merged]:
    count, angle, outlet, more = CASES[case]
    size = TubeSize(outlet / 2.0, outlet / 2.0 - 1.5)
    found = merge(Frame(), MergeSize(math.radians(angle), 3.0, size, **more), TUBE, count)
    return count, math.radians(angle), found


def runners(merged: Merged, inner: float) -> list[Tube]:
    """The runners' last straights, as far as their slots."""
    return [
        Tube(Centreline(slot.moved(-RUN), (Straight(RUN),)), TUBE.outer_radius, inner)
        for slot in merged.slots
    ]


@pytest.mark.parametrize(
    "case", [case for case in CASES if not case.startswith("4 on a circle, d")]
)
def test_every_piece_is_one_solid_and_none_share_volume(case: str) -> None:
    _, _, merged = made(case)
    pieces = [(piece.slot, piece.node) for piece in merged.pieces()]
    pieces += enumerate(runners(merged, TUBE.inner_radius))
    shapes = [(slot, build(node)) for slot, node in pieces]
    for _, shape in shapes:
        assert len(solids_of(shape)) == 1
        assert is_closed(shape)
        assert is_valid(shape)
    for (i, a), (j, b) in combinations(shapes, 2):
        if 0 not in (i, j) and (i, j) != (None, None) and "circle" in case:
            continue  # like those of tube 0, by symmetry
        if None not in (i, j) and abs(i - j) > 1 and "line" in case:
            continue  # the half-way planes of others lie between
        common = BRepAlgoAPI_Common(a, b).Shape()
        assert abs(volume(common)) < 1e-3


@pytest.mark.parametrize("case", CASES)
def test_gas_is_one_solid_of_the_bores_volume(case: str) -> None:
    _, _, merged = made(case)
    before = [Tube(tube.centreline, TUBE.inner_radius) for tube in runners(merged, 0.0)]
    gas = build(Fuse((*before, *merged.gas)))
    assert len(solids_of(gas)) == 1
    assert is_closed(gas)
    assert is_valid(gas)
    bores = math.fsum(volume(build(node)) for node in (*before, *merged.gas))
    assert volume(gas) == pytest.approx(bores, rel=1e-6)
    # What the merge says of itself is within its own bar of the kernel's.
    own = bores - len(before) * math.pi * TUBE.inner_radius**2 * RUN
    assert merged.volume == pytest.approx(own, rel=1e-4)


@pytest.mark.parametrize("case", ["3 on a circle, spike", "6 on a circle, spike", "3 in line"])
def test_copes_are_sinusoids_that_lie_on_the_tubes(case: str) -> None:
    """Plane through a cylinder: z = (h - r (a cos t + b sin t)) / c on the unrolled tube.

    Laid back on the solid it is on its skin to 0.02 mm wherever it is the nearest of the cuts.
    Half-way planes by symmetry: through the middle of two slots, square to what joins them.
    """
    count, _, merged = made(case)
    slots = merged.slots
    neighbours = [(0, 1)] if case == "3 in line" else [(0, 1), (0, count - 1)]
    turn = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    frame = slots[0]
    x, y, z, o = (np.array(v) for v in (frame.x, frame.y, frame.z, frame.origin))
    shape = build(merged.stubs[0][0])
    trim = dict(merged.facts)["throat_from_entry_mm"]
    seen = 0
    for radius in (TUBE.outer_radius, TUBE.inner_radius):
        ends = [(trim - o[2] - radius * (x[2] * np.cos(turn) + y[2] * np.sin(turn))) / z[2]]
        for i, j in neighbours:
            a, b = slots[i], slots[j]
            if case == "3 in line":  # begin at their own distances from the point they aim at
                apex = np.array([0.0, 0.0, a.origin[2] + a.origin[0] / math.tan(math.radians(12))])
                one = (np.array(a.origin) - apex) / np.linalg.norm(np.array(a.origin) - apex)
                two = (np.array(b.origin) - apex) / np.linalg.norm(np.array(b.origin) - apex)
            else:
                apex, one, two = np.zeros(3), np.array(a.origin), np.array(b.origin)
            normal = (two - one) / np.linalg.norm(two - one)
            h = float((apex - o) @ normal)
            across = radius * (x @ normal * np.cos(turn) + y @ normal * np.sin(turn))
            ends.append((h - across) / float(z @ normal))
        copes = np.array(ends)
        nearest = copes.min(axis=0)
        seen += int((copes.argmin(axis=0) > 0).sum())
        for t, along in zip(turn, nearest, strict=True):
            point = o + radius * (np.cos(t) * x + np.sin(t) * y) + along * z
            vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*map(float, point))).Vertex()
            skin = [BRepExtrema_DistShapeShape(vertex, edge).Value() for edge in edges_of(shape)]
            assert min(skin) < 0.02
    assert seen > 10


def edges_of(shape):
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_EDGE)
    while walk.More():
        yield walk.Current()
        walk.Next()


@pytest.mark.parametrize("case", ["3 on a circle, spike", "6 on a circle, spike"])
def test_a_hollow_spike_is_the_star_between_the_tubes(case: str) -> None:
    """Sections by shapely: a polygon less ellipses R by R / cos. Volume: Simpson's sum of them."""
    count, angle, merged = made(case)
    assert merged.spike is not None
    name, node = merged.spike
    assert name == "spike"
    length = dict(merged.facts)["spike_length_mm"]
    rho = math.hypot(*merged.slots[0].origin[:2])
    # It ends where the tubes' insides leave half a millimetre about the axis.
    tip = rho - length * math.tan(angle) - 22.5 / math.cos(angle)
    assert tip == pytest.approx(0.5, abs=1e-9)

    def star(at: float) -> float:
        middle = rho - at * math.tan(angle)
        ring = np.linspace(0.0, 2.0 * np.pi, 2000)
        left = Polygon(polygon)
        for i in range(count):
            turn = 2.0 * math.pi * i / count
            u = middle + 22.5 / math.cos(angle) * np.cos(ring)
            v = 22.5 * np.sin(ring)
            points = np.column_stack(
                (u * math.cos(turn) - v * math.sin(turn), u * math.sin(turn) + v * math.cos(turn))
            )
            left = left.difference(Polygon(points))
        parts = getattr(left, "geoms", [left])
        return next(part.area for part in parts if part.contains(Point(0.0, 0.0)))

    # Neighbours are nearest where the half-way plane's ellipse has its lowest point; the flats
    # stand a tenth of the radius nearer the axis.
    slope = math.cos(angle) / math.tan(math.pi / count)
    flat = 22.5 * slope / math.hypot(1.0, slope) / math.sin(math.pi / count) - 2.25
    around = flat / math.cos(math.pi / count)
    polygon = [
        (around * math.cos(2 * math.pi * i / count), around * math.sin(2 * math.pi * i / count))
        for i in range(count)
    ]
    stations = np.linspace(0.0, length, 81)
    areas = np.array([star(float(at)) for at in stations])
    weights = np.ones(81)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    wanted = float((weights * areas).sum()) * (length / 80.0) / 3.0
    assert volume(build(node)) == pytest.approx(wanted, rel=1e-4)


def test_a_pyramid_touches_every_tube_along_one_line() -> None:
    """Of n sides, apothems a and b at its ends: n tan(180 / n) (a^3 - b^3) / (3 tan(lean))."""
    count, angle, merged = made("8 on a circle, pyramid")
    assert merged.spike is not None
    assert merged.spike[0] == "spike_pyramid"
    rho = math.hypot(*merged.slots[0].origin[:2])
    base = rho - 22.5 / math.cos(angle)
    wanted = count * math.tan(math.pi / count) / 3.0 * (base**3 - 0.5**3) / math.tan(angle)
    shape = build(merged.spike[1])
    assert volume(shape) == pytest.approx(wanted, rel=1e-9)
    for metal, _ in merged.stubs:
        assert BRepExtrema_DistShapeShape(shape, build(metal)).Value() < 1e-6


def test_runners_slide_clear_of_their_slip_tubes() -> None:
    """Half the diametral clearance lies between them all round, by the kernel."""
    _, _, merged = made("4 in line, slipped, mitred")
    tubes = [build(node) for node in runners(merged, TUBE.inner_radius)]
    for (_, metal, _), tube in zip(merged.sockets, tubes, strict=True):
        gap = BRepExtrema_DistShapeShape(build(metal), tube).Value()
        assert gap == pytest.approx((22.65 - 22.5), abs=1e-6)
