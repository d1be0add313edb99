"""The merge collector against plane-cylinder geometry, shapely and the kernel-free definitions."""

import math

import numpy as np
import pytest
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point
from shapely.ops import unary_union

from geomgen.families import Asked, DoesNotFit, Start, TubeSize
from geomgen.families.merge import Spec, lay_out
from geomgen.geometry.frames import Frame, angle_between, distance, dot, sub
from geomgen.profiles.loops import EllipseArc
from geomgen.recipe.nodes import Placed, RuledWall

TUBE = TubeSize(22.5, 21.0)
UP = (0.0, 1.0, 0.0)
BACKWARDS = {"clr": 95, "toward": [-0.97, 0.2, -0.1]}


def spec(**changes: object) -> Spec:
    said = {
        "family": "merge",
        "at": [300, -330, 190],
        "direction": [0.97, -0.2, 0.1],
        "merge_angle": 10,
        "outlet": {"od": 63.5, "wall": 1.5, "length": 250},
    }
    return Spec.model_validate({**said, **changes})


def asked(count: int) -> Asked:
    starts = tuple(Start(i + 1, Frame((92.0 * i, 0.0, 55.0))) for i in range(count))
    return Asked(TUBE, starts, tuple(range(1, count + 1)), UP)


CASES = [(4, 10.0), (4, 15.0), (3, 12.0), (2, 9.0), (5, 10.0), (6, 12.0), (8, 9.0)]


@pytest.fixture(scope="module", params=CASES)
def case(request: pytest.FixtureRequest):
    count, angle = request.param
    outlet = {2: 50.0, 3: 57.0, 4: 63.5, 5: 70.0, 6: 76.1, 8: 80.0}[count]
    said = spec(merge_angle=angle, outlet={"od": outlet, "wall": 1.5, "length": 250})
    return count, math.radians(angle), lay_out(said, asked(count))


def test_tubes_lean_by_the_merge_angle_and_meet_on_the_axis(case) -> None:
    _, angle, layout = case
    axis = layout.frame.z
    for slot in layout.slots:
        assert angle_between(slot.z, axis) == pytest.approx(angle, abs=1e-12)
        # The tube's axis and the collector's axis meet: their common normal has no length.
        away = sub(slot.origin, layout.frame.origin)
        n = np.cross(slot.z, axis)
        assert abs(float(np.dot(n, away))) < 1e-9
        assert abs(dot(away, axis)) < 1e-9


def test_entry_gap_is_between_the_rims(case) -> None:
    """Rims of neighbouring entry faces, sampled: the given gap of 2 mm, nowhere less."""
    count, _, layout = case
    turn = np.linspace(0, 2 * np.pi, 1441)

    def rim(slot) -> np.ndarray:
        x, y = np.array(slot.x), np.array(slot.y)
        return np.array(slot.origin) + 22.5 * (
            np.outer(np.cos(turn), x) + np.outer(np.sin(turn), y)
        )

    a, b = rim(layout.slots[0]), rim(layout.slots[1 % count])
    least = min(float(np.sqrt(((p - b) ** 2).sum(axis=1).min())) for p in a)
    assert least == pytest.approx(2.0, abs=0.01)


def test_first_join_is_the_first_common_point_of_neighbouring_bores(case) -> None:
    """Plane cut of a cylinder: every point of the bore on the half-way plane, sampled."""
    _, angle, layout = case
    home, slot = layout.frame, layout.slots[0]
    other = layout.slots[1]
    normal = np.array(other.origin) - np.array(slot.origin)
    normal /= np.linalg.norm(normal)  # square to the half-way plane, by symmetry
    middle = 0.5 * (np.array(other.origin) + np.array(slot.origin))
    turn = np.linspace(0, 2 * np.pi, 20001)
    x, y, z = (np.array(v) for v in (slot.x, slot.y, slot.z))
    ring = np.array(slot.origin) + 21.0 * (np.outer(np.cos(turn), x) + np.outer(np.sin(turn), y))
    along = ((middle - ring) @ normal) / (z @ normal)
    points = ring + along[:, None] * z
    stations = (points - np.array(home.origin)) @ np.array(home.z)
    assert dict(layout.ends[0])["first-join"] * math.cos(angle) == pytest.approx(
        float(stations.min()), abs=1e-5
    )


def test_lobed_throat_has_the_outlet_bores_area(case) -> None:
    _, _, layout = case
    areas = {row.what: row.area for row in layout.areas}
    assert areas["throat"] == pytest.approx(areas["outlet"], rel=1e-9)


def test_lobes_are_the_outline_of_the_cut_tubes(case) -> None:
    """The union of the slanting cuts of all bores (ellipses r by r/cos), by shapely."""
    count, angle, layout = case
    (cone,) = [piece.node for piece in layout.pieces if piece.name == "cone"]
    assert isinstance(cone, Placed)
    assert isinstance(cone.node, RuledWall)
    for sections, radius in ((cone.node.outer, 22.5), (cone.node.inner, 21.0)):
        lobes = sections[0].loop
        ellipses = []
        for arc in lobes:
            assert isinstance(arc, EllipseArc)
            assert arc.minor == pytest.approx(radius)
            assert arc.major == pytest.approx(radius / math.cos(angle))
            shape = scale(Point(0, 0).buffer(1.0, quad_segs=720), arc.major, arc.minor)
            shape = rotate(shape, math.degrees(arc.tilt), origin=(0, 0))
            ellipses.append(translate(shape, *arc.centre))
        outline = [arc.at(f) for arc in lobes for f in np.linspace(0, 1, 400, endpoint=False)]
        union = unary_union(ellipses)
        assert max(Point(p).distance(union.exterior) for p in outline) < 1e-3
        assert len(lobes) == count
    facts = dict(layout.facts)
    assert facts["throat_area_mm2"] == pytest.approx(union.area, rel=1e-4)


def test_area_of_the_cone_never_dips(case) -> None:
    _, _, layout = case
    cone = [row.area for row in layout.areas if row.what in ("throat", "cone", "outlet")]
    assert min(cone) >= 0.99 * cone[0]


def test_roll_turns_the_array_clockwise_along_the_gas() -> None:
    plain, rolled = lay_out(spec(), asked(4)), lay_out(spec(roll=30), asked(4))
    for a, b in zip(plain.slots, rolled.slots, strict=True):
        away_a, away_b = (np.array(sub(s.origin, plain.frame.origin)) for s in (a, b))
        turn = math.atan2(
            float(np.dot(np.cross(away_a, away_b), plain.frame.z)), float(np.dot(away_a, away_b))
        )
        assert math.degrees(turn) == pytest.approx(30.0)


def test_outlet_bend_turns_into_the_wanted_direction() -> None:
    outlet = {"od": 63.5, "wall": 1.5, "length": 250, "bend": {"clr": 95, "toward": [1, 0, 0]}}
    layout = lay_out(spec(outlet=outlet), asked(4))
    assert angle_between(layout.outlet.z, (1, 0, 0)) < 1e-9


def test_pieces_follow_on_from_one_another() -> None:
    layout = lay_out(spec(), asked(4))
    throat = dict(layout.facts)["throat_from_entry_mm"]
    length = dict(layout.facts)["cone_length_mm"]
    (outlet,) = [e for e in layout.envelopes if e.name == "outlet"]
    assert distance(outlet.path.start.origin, layout.frame.moved(throat + length).origin) < 1e-9


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"outlet": {"od": 120, "wall": 1.5}}, ("collector", "outlet", "od")),
        ({"throat": 30}, ("collector", "throat")),
        (
            {
                "outlet": {
                    "od": 63.5,
                    "wall": 1.5,
                    "bend": BACKWARDS,
                }
            },
            ("collector", "outlet", "bend", "toward"),
        ),
    ],
)
def test_what_cannot_be_closed_is_refused_by_its_key(changes: dict, key: tuple) -> None:
    with pytest.raises(DoesNotFit) as caught:
        lay_out(spec(**changes), asked(4))
    assert caught.value.key == key
    assert caught.value.remedy
