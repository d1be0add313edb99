"""Bend tables: the path is rebuilt from the CSV alone, by code that shares nothing with ours."""

import csv
import io
import math
from dataclasses import dataclass, field
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.design.model import Limits, Runner, Stock
from geomgen.exports import bend_table_csv
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, unit

Row = dict[str, str]


@dataclass(frozen=True)
class Stub:
    """As much of a design as the bend table reads."""

    runners: tuple[Runner, ...]
    name: str = "demo"
    revision: str = "A"
    stock: tuple[Stock, ...] = (Stock("U-bend", 67.5, math.pi, legs=(60.0, 60.0)),)
    limits: Limits = field(default_factory=lambda: Limits((("joint_straight", 10.0),)))

    @property
    def tubes(self) -> tuple[Runner, ...]:
        return self.runners

    def stock_of(self, tube: Runner) -> tuple[Stock, ...]:
        assert tube in self.runners
        return self.stock

    def stock_for(self, outer_radius: float) -> tuple[Stock, ...]:
        assert outer_radius in {tube.outer_radius for tube in self.runners}
        return self.stock

    @property
    def collector(self) -> SimpleNamespace:
        return SimpleNamespace(casting="")

    def bank_of(self, tube: Runner) -> str:
        assert tube in self.runners
        return ""


def runner(path: Centreline, cylinder: int = 1, material: str = "304") -> Runner:
    unused: dict[str, object] = dict.fromkeys(
        ("slot", "transition", "target", "account", "to_ends")
    )
    return Runner(
        cylinder=cylinder,
        outer_radius=22.5,
        inner_radius=21.0,
        material=material,
        path=path,
        **unused,  # type: ignore[arg-type]
    )


def tables(*runners: Runner) -> tuple[list[Row], list[Row]]:
    files = bend_table_csv.export(Stub(runners))  # type: ignore[arg-type]
    return tuple(  # type: ignore[return-value]
        list(csv.DictReader(io.StringIO(files[name].decode())))
        for name in ("bend_table_xyz.csv", "bend_table_lra.csv")
    )


def point(row: Row) -> np.ndarray:
    return np.array([float(row[f"{axis}_mm"]) for axis in "xyz"])


def turned(vector: np.ndarray, axis: np.ndarray, degrees: float) -> np.ndarray:
    """Rodrigues' rotation, right-hand rule."""
    a = math.radians(degrees)
    return (
        vector * math.cos(a)
        + np.cross(axis, vector) * math.sin(a)
        + axis * (axis @ vector) * (1 - math.cos(a))
    )


def rebuilt_from_lra(points: list[Row], bends: list[Row]) -> tuple[np.ndarray, np.ndarray]:
    """End point and direction: start, first direction and first plane from the points, the
    rest from length, rotation and angle. Clockwise seen along travel is a right-hand turn
    about the direction of travel."""
    here = point(points[0])
    travel = point(points[1]) - here
    travel /= np.linalg.norm(travel)
    normal = np.zeros(3)
    if len(points) > 2:
        normal = np.cross(travel, point(points[2]) - point(points[1]))
        normal /= np.linalg.norm(normal)
    for row in bends[:-1]:
        here = here + travel * float(row["straight_before_mm"])
        if row["rotation_deg"]:
            normal = turned(normal, travel, float(row["rotation_deg"]))
        radius, angle = float(row["clr_mm"]), float(row["angle_deg"])
        centre = here + radius * np.cross(normal, travel)
        here = centre + turned(here - centre, normal, angle)
        travel = turned(travel, normal, angle)
        assert float(row["arc_mm"]) == pytest.approx(radius * math.radians(angle), abs=2e-3)
    return here + travel * float(bends[-1]["straight_before_mm"]), travel


def rebuilt_from_xyz(points: list[Row]) -> tuple[float, list[float], list[float]]:
    """Length, straights and bend angles of the polyline with its corners rounded."""
    stops = [point(row) for row in points]
    radii = [float(row["clr_mm"]) for row in points[1:-1]]
    legs = [b - a for a, b in pairwise(stops)]
    lengths = [float(np.linalg.norm(leg)) for leg in legs]
    angles = [
        math.atan2(float(np.linalg.norm(np.cross(a, b))), float(a @ b)) for a, b in pairwise(legs)
    ]
    cut = [0.0, *[r * math.tan(a / 2) for r, a in zip(radii, angles, strict=True)], 0.0]
    straights = [length - cut[i] - cut[i + 1] for i, length in enumerate(lengths)]
    arcs = [r * a for r, a in zip(radii, angles, strict=True)]
    return sum(straights) + sum(arcs), straights, [math.degrees(a) for a in angles]


axes = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: sum(x * x for x in v) > 0.05)
bends = st.builds(
    Bend, st.sampled_from([57.15, 67.5, 90.0]), st.floats(0.15, 2.6), st.floats(-7.0, 7.0)
)
paths = st.builds(
    lambda at, z, first, rest: Centreline(
        Frame.facing(at, unit(z)),
        (Straight(first), *[p for b, s in rest for p in (b, Straight(s))]),
    ),
    st.tuples(*[st.floats(-500.0, 500.0)] * 3),
    axes,
    st.floats(10.0, 200.0),
    st.lists(st.tuples(bends, st.floats(0.0, 200.0)), min_size=1, max_size=5),
)


@given(paths)
def test_the_path_is_rebuilt_from_length_rotation_angle(path: Centreline) -> None:
    points, rows = tables(runner(path))
    end, travel = rebuilt_from_lra(points, rows)
    assert np.linalg.norm(end - np.array(path.end.origin)) < 0.01
    assert float(np.linalg.norm(np.cross(travel, np.array(path.end.z)))) < math.radians(0.0005)
    assert travel @ np.array(path.end.z) > 0.0


@given(paths)
def test_the_path_is_rebuilt_from_points(path: Centreline) -> None:
    points, rows = tables(runner(path))
    length, straights, angles = rebuilt_from_xyz(points)
    assert length == pytest.approx(path.length, abs=0.01)
    assert point(points[-1]) == pytest.approx(np.array(path.end.origin), abs=1e-4)
    assert straights == pytest.approx([float(r["straight_before_mm"]) for r in rows], abs=0.01)
    assert angles == pytest.approx([float(r["angle_deg"]) for r in rows[:-1]], abs=0.002)


def test_a_wrong_sign_would_be_seen() -> None:
    """A path whose second bend turns clockwise as seen along travel, worked by hand.

    Travel along z, first bend towards x; then travel is along x. The plane's towards-side
    is -z. A quarter turn clockwise about +x takes -z to +y (right-hand: -z -> y).
    """
    path = Centreline(
        Frame(),
        (
            Straight(50.0),
            Bend(60.0, math.pi / 2),
            Straight(40.0),
            Bend(60.0, math.pi / 2, math.pi / 2),
        ),
    )
    points, rows = tables(runner(path))
    assert rows[1]["rotation_deg"] == "90.00000"
    assert "clockwise is +" in rows[1]["rotation_sense"]
    assert point(points[-1]) == pytest.approx([60.0 + 40.0 + 60.0, 60.0, 110.0], abs=1e-4)
    spoilt = [dict(row) for row in rows]
    spoilt[1]["rotation_deg"] = "-90.00000"
    assert np.linalg.norm(rebuilt_from_lra(points, spoilt)[0] - point(points[-1])) > 100.0


def test_the_first_clock_is_where_the_second_leg_goes_in_the_flanges_face() -> None:
    """From the points alone: ports face along z, so x to the right is 0 and y up is 90."""
    path = Centreline(
        Frame((12.0, -3.0, 55.0)), (Straight(20.0), Bend(60.0, 1.4, -7.4), Straight(50.0))
    )
    points, rows = tables(runner(path))
    corner, end = point(points[1]), point(points[2])
    azimuth = math.degrees(math.atan2(end[1] - corner[1], end[0] - corner[0]))
    clock = rows[0]["rotation_sense"].split(" clock ")[1].split(" against the head's x")[0]
    assert float(clock) == pytest.approx(azimuth, abs=1e-4)


def test_rotations_are_the_short_way_round() -> None:
    path = Centreline(Frame(), (Bend(60.0, 1.0, 9.0), Bend(60.0, 1.0, 3.5), Straight(1.0)))
    _, rows = tables(runner(path))
    assert [row["rotation_deg"] for row in rows] == ["", f"{math.degrees(3.5) - 360:.5f}", ""]


def test_every_row_carries_what_a_shop_needs() -> None:
    path = Centreline(Frame(), (Straight(5.0), Bend(67.5, 1.0), Straight(5.0)))
    for table in tables(runner(path, 1), runner(path, 2)):
        assert [row["part"] for row in table] == sorted(row["part"] for row in table)
        assert {row["part"] for row in table} == {"runner_1", "runner_2"}
        for row in table:
            assert (row["manifold"], row["revision"], row["material"]) == ("demo", "A", "304")
            assert (row["od_mm"], row["wall_mm"], row["quantity"]) == ("45.000000", "1.500000", "1")


def test_no_cell_reads_as_a_formula() -> None:
    path = Centreline(Frame(), (Straight(5.0), Bend(67.5, 1.0), Straight(5.0)))
    for table in tables(runner(path, material="=1+1")):
        for row in table:
            for column, cell in row.items():
                if not column.endswith(("_mm", "_deg")):
                    assert not cell.startswith(("=", "+", "-", "@")), column


def test_columns_name_their_units() -> None:
    columns = (*bend_table_csv.XYZ_COLUMNS, *bend_table_csv.LRA_COLUMNS)
    bare = {"manifold", "revision", "part", "material", "quantity", "point", "what", "bend"}
    for column in columns:
        words = {"rotation_sense", "made_from", "joints_before"}
        assert column.endswith(("_mm", "_deg")) or column in bare | words


def test_each_bend_says_what_it_is_made_from_and_where_the_joints_are() -> None:
    """A U-bend cut to 1 rad twice, 100 mm between: worked by hand.

    Legs of 60 cover the 50 before the first bend and the 50 behind the last, so both cut
    ends lie inwards, and the 100 between them are let in: oval at either end.
    """
    path = Centreline(
        Frame(),
        (Straight(50.0), Bend(67.5, 1.0), Straight(100.0), Bend(67.5, 1.0), Straight(50.0)),
    )
    _, rows = tables(runner(path))
    assert [row["made_from"] for row in rows] == ["U-bend", "U-bend", ""]
    assert rows[1]["joints_before"].split("; ") == [
        "0.0 mm behind bend 1 and 100.0 mm before bend 2, bend 1 cut in the bend (oval)",
        "100.0 mm behind bend 1 and 0.0 mm before bend 2, bend 2 cut in the bend (oval)",
    ]
    assert (rows[0]["joints_before"], rows[2]["joints_before"]) == ("", "")
    odd = Centreline(Frame(), (Straight(50.0), Bend(61.0, 1.0), Straight(50.0)))
    assert tables(runner(odd))[1][0]["made_from"] == "nothing on the shelf"
