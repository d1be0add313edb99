"""Rows, slip entries, spikes and cones of a merge, against plane-cylinder geometry and shapely."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point
from shapely.ops import unary_union

from geomgen.families import Asked, DoesNotFit, Layout, Start, TubeSize
from geomgen.families._merging import ConeSize, Merged, MergeSize, SlipSize, merge
from geomgen.families.merge import Spec, lay_out
from geomgen.geometry.frames import Frame, angle_between, distance, dot, norm, sub
from geomgen.geometry.frames import scale as times
from geomgen.recipe.nodes import Placed, RuledWall

TUBE = TubeSize(22.5, 21.0)
UP = (0.0, 1.0, 0.0)
HOME = Frame.facing((300.0, -330.0, 190.0), (0.97, -0.2, 0.1), UP)
SLIP = SlipSize(TubeSize(24.15, 22.65), 38.0, 72.0)


def merged(count: int, angle: float = 12.0, outlet: float = 63.5, **more: object) -> Merged:
    size = TubeSize(outlet / 2.0, outlet / 2.0 - 1.5)
    return merge(HOME, MergeSize(math.radians(angle), 3.0, size, **more), TUBE, count)


def laid(count: int, length_to: str = "first-join", **said: object) -> Layout:
    base = {
        "family": "merge",
        "at": [300, -330, 190],
        "direction": [0.97, -0.2, 0.1],
        "merge_angle": 12,
        "entry_gap": 3,
        "outlet": {"od": 63.5, "wall": 1.5, "length": 250},
    }
    starts = tuple(Start(i + 1, Frame((92.0 * i, 0.0, 55.0))) for i in range(count))
    asked = Asked(TUBE, starts, tuple(range(1, count + 1)), UP, counted=length_to)
    return lay_out(Spec.model_validate({**base, **said}), asked)


def row(count: int, angle: float = 12.0, **more: object) -> Merged:
    return merged(count, angle, {2: 50.0, 3: 57.0, 4: 63.5}[count], array="in-line", **more)


def rim(frame: Frame, radius: float) -> np.ndarray:
    turn = np.linspace(0.0, 2.0 * np.pi, 1441)
    ring = np.outer(np.cos(turn), frame.x) + np.outer(np.sin(turn), frame.y)
    return np.array(frame.origin) + radius * ring


def first_common(one: Frame, two: Frame, radius: float) -> float:
    """Least height over the home plane that two bores have in common, sampled.

    The bores' common points nearest the ports are on both skins: points of one skin that are
    no farther than the radius from the other axis.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, 361)
    along = np.linspace(-10.0, 90.0, 2001)
    ring = rim_of(one, radius, turn)
    best = np.inf
    for point in ring:
        points = point + along[:, None] * np.array(one.z)
        away = points - np.array(two.origin)
        out = away - (away @ np.array(two.z))[:, None] * np.array(two.z)
        inside = (out**2).sum(axis=1) <= radius**2
        if inside.any():
            heights = (points[inside] - np.array(HOME.origin)) @ np.array(HOME.z)
            best = min(best, float(heights.min()))
    return best


def rim_of(frame: Frame, radius: float, turn: np.ndarray) -> np.ndarray:
    ring = np.outer(np.cos(turn), frame.x) + np.outer(np.sin(turn), frame.y)
    return np.array(frame.origin) + radius * ring


@pytest.mark.parametrize("count", [2, 3, 4])
def test_tubes_in_line_lie_in_one_plane_and_aim_at_one_point(count: int) -> None:
    made = row(count)
    across = made.home.y
    for slot in made.slots:
        assert abs(dot(sub(slot.origin, made.home.origin), across)) < 1e-9
        assert abs(dot(slot.z, across)) < 1e-12
    outer = angle_between(made.slots[0].z, made.home.z)
    assert math.degrees(outer) == pytest.approx(12.0)
    leans = [angle_between(a.z, b.z) for a, b in pairwise(made.slots)]
    assert leans == pytest.approx([leans[0]] * len(leans))
    # Where two axes in a plane meet: the same point for every pair.
    meets = []
    for a, b in pairwise(made.slots):
        gap = sub(b.origin, a.origin)
        normal = sub(gap, times(b.z, dot(gap, b.z)))
        along = norm(normal) ** 2 / dot(normal, a.z)
        meets.append(a.moved(along).origin)
    assert all(distance(meets[0], other) < 1e-8 for other in meets)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_tubes_in_line_keep_the_entry_gap_at_their_rims(count: int) -> None:
    """From each rim to its neighbour's wall, sampled; a butted runner carries that wall back."""
    made = row(count)
    gaps = []
    for a, b in (*pairwise(made.slots), *pairwise(made.slots[::-1])):
        away = rim(a, TUBE.outer_radius) - np.array(b.origin)
        along = np.outer(away @ np.array(b.z), b.z)
        gaps.append(float(np.sqrt(((away - along) ** 2).sum(axis=1)).min()) - TUBE.outer_radius)
    # Rim to rim it is 3; square to the neighbour it is less by the cosine of their lean.
    assert 3.0 * math.cos(math.radians(24.0 / (count - 1))) - 0.1 < min(gaps) < 3.0 + 1e-6


@pytest.mark.parametrize("count", [3, 4])
def test_first_join_in_line_is_the_first_common_point_of_any_two_bores(count: int) -> None:
    made = row(count)
    found = min(first_common(a, b, TUBE.inner_radius) for a, b in pairwise(made.slots))
    assert dict(made.facts)["first_join_from_entry_mm"] == pytest.approx(found, abs=0.1)


@pytest.mark.parametrize("slip", [None, SLIP])
@pytest.mark.parametrize("end", ["entry", "first-join", "throat"])
def test_the_end_that_is_counted_is_as_far_from_every_tube(end: str, slip: object) -> None:
    """Each slot lies that far from the end's plane along its own axis, turn and all."""
    made = row(4, counted=end, slip=slip)
    lengths = [dict(ends)[end] for ends in made.ends_at]
    assert lengths == pytest.approx([lengths[0]] * 4, abs=1e-9)
    throat = dict(made.facts)["throat_from_entry_mm"]
    stubs = [envelope.path for envelope in made.envelopes if envelope.name == "stub"]
    for path, ends in zip(stubs, made.ends_at, strict=True):
        assert path.length == pytest.approx(dict(ends)["throat"], abs=1e-9)
        assert made.home.local(path.end.origin)[2] == pytest.approx(throat, abs=1e-9)
    others = {"entry", "first-join", "throat"} - {end}
    if slip is None:
        assert any(
            max(dict(e)[o] for e in made.ends_at) - min(dict(e)[o] for e in made.ends_at) > 0.5
            for o in others
        )


@settings(max_examples=12, deadline=None)
@given(
    count=st.integers(2, 4),
    angle=st.floats(7.0, 20.0),
    ratio=st.floats(1.15, 1.4),
    slip=st.sampled_from([None, SlipSize(SLIP.tube, 38.0)]),
)
def test_lobes_in_line_are_the_outline_of_the_cut_tubes(
    count: int, angle: float, ratio: float, slip: SlipSize | None
) -> None:
    """Union of the slanting cuts of all tubes (ellipses r by r / cos), by shapely.

    Of the cone no section is smaller than its ends, which have one area, unless the bores
    hardly overlap at the throat.
    """
    outlet = 2.0 * ratio * 21.0 + 3.0
    made = merged(count, angle, outlet, array="in-line", slip=slip)
    own = TUBE if slip is None else slip.tube
    wall = made.cone[0]
    assert isinstance(wall, Placed)
    assert isinstance(wall.node, RuledWall)
    at = made.exit.moved(-dict(made.facts)["cone_length_mm"])
    for sections, radius in (
        (wall.node.outer, own.outer_radius),
        (wall.node.inner, own.inner_radius),
    ):
        shapes = []
        for envelope in (e for e in made.envelopes if e.name == "stub"):
            way = envelope.path.end.z
            x, y, _ = at.local(envelope.path.end.origin)
            shape = scale(Point(0, 0).buffer(1.0, quad_segs=180), radius / dot(way, at.z), radius)
            shapes.append(translate(rotate(shape, 0.0), x, y))
        union = unary_union(shapes)
        loop = sections[0].loop
        assert len(loop) == 2 * count - 2
        outline = [arc.at(f) for arc in loop for f in np.linspace(0, 1, 60, endpoint=False)]
        assert max(Point(p).distance(union.exterior) for p in outline) < 2e-3
        for a, b in pairwise((*loop, loop[0])):
            assert math.dist(a.end, b.start) < 1e-9
    areas = [row_.area for row_ in made.stations if row_.what in ("throat", "cone", "outlet")]
    assert areas[0] == pytest.approx(union.area, rel=1e-4)
    if areas[0] < 0.9 * count * math.pi * own.inner_radius**2:
        assert min(areas) >= 0.9999 * areas[0]


def test_two_in_line_are_two_on_a_circle() -> None:
    one, two = merged(2, outlet=50.0), merged(2, outlet=50.0, array="in-line")
    assert one.length == pytest.approx(two.length, abs=1e-6)
    for a, b in zip(one.slots, two.slots, strict=True):
        assert distance(a.origin, b.origin) < 1e-9


def test_place_0_of_a_level_row_is_to_the_right_along_the_gas() -> None:
    layout = laid(4, array="in-line")
    right = np.cross(layout.frame.z, UP)
    places = [float(np.dot(sub(s.origin, layout.frame.origin), right)) for s in layout.slots]
    assert places == sorted(places, reverse=True)
    assert abs(dot(layout.frame.x, UP)) < 1e-12
    assert layout.in_line


@pytest.mark.parametrize("count", [5, 6, 7, 8])
def test_from_five_on_the_tubes_leave_an_open_centre(count: int) -> None:
    """A circle that touches all tubes at the entry: R (1 / sin(180 / n) - 1), gap left aside.

    For six it is as large as a tube (one coin fits between six).
    """
    made = merge(HOME, MergeSize(math.radians(10.0), 0.0, TubeSize(39.0, 37.0)), TUBE, count)
    opening = dict(made.facts)["centre_opening_mm"]
    wanted = 2.0 * 22.5 * (1.0 / math.sin(math.pi / count) - 1.0)
    # Leaning tubes are ellipses in the entry plane, which takes R (1 / cos 10 deg - 1) off twice.
    assert opening == pytest.approx(wanted, abs=2.5)
    assert opening > 0.6 * 22.5


@pytest.mark.parametrize("more", [{}, {"array": "in-line"}])
@pytest.mark.parametrize("clr", [None, 72.0])
def test_slip_tubes_take_parallel_runners_and_turn_in_behind_them(
    clr: float | None, more: dict
) -> None:
    made = merged(4, slip=SlipSize(SLIP.tube, 38.0, clr), **more)
    # Tubes stand on pitch: an outside and the entry gap apart.
    near = [min(distance(a.origin, b.origin) for b in made.slots if b is not a) for a in made.slots]
    assert near == pytest.approx([2.0 * 24.15 + 3.0] * 4, abs=0.02)
    stubs = [e for e in made.envelopes if e.name == "stub"]
    socks = [e for e in made.envelopes if e.name == "slip"]
    for slot, sock in zip(made.slots, socks, strict=True):
        assert sock.around
        assert distance(sock.path.end.origin, slot.origin) < 1e-9
        assert abs(made.home.local(sock.path.start.origin)[2]) < 1e-9
    for slot, ends, envelope in zip(made.slots, made.ends_at, stubs, strict=True):
        assert angle_between(slot.z, made.home.z) < 1e-12
        inside = made.home.local(slot.origin)[2]
        assert inside >= 38.0 - 1e-9
        assert dict(ends)["entry"] == pytest.approx(-inside)
        # It leaves some straight beyond the runner's end, then turns by its lean.
        if clr is not None:
            assert envelope.path.pieces[0].length >= 3.0 - 1e-9
        lean = envelope.path.total_angle
        assert angle_between(envelope.path.end.z, made.home.z) == pytest.approx(lean)
        if clr is not None and lean > 1e-9:
            assert [bend.radius for bend in envelope.path.bends] == [clr]
    assert max(e.path.total_angle for e in stubs) == pytest.approx(math.radians(12))


def test_last_straights_are_as_long_as_runners_are_inside() -> None:
    layout = laid(4, entry="slip", slip={"od": 48.3, "wall": 1.5, "overlap": 40})
    assert layout.inside == pytest.approx(40.0)
    assert laid(4).inside == 0.0


def test_sizes_a_step_apart_in_gauges_slide_or_do_not() -> None:
    """1-7/8 in tube in 2 in tube: 18 ga (0.049 in) leaves 0.027 in, 16 ga (0.065 in) lacks 0.005.

    Source: Birmingham wire gauge; the trade study has the same two figures.
    """
    runner = TubeSize(1.875 * 25.4 / 2.0, 22.3)
    starts = tuple(Start(i + 1, Frame((92.0 * i, 0.0, 55.0))) for i in range(4))
    asked = Asked(runner, starts, (1, 3, 4, 2), UP)

    def said(wall: str) -> Spec:
        return Spec.model_validate(
            {
                "family": "merge",
                "at": [0, 0, 0],
                "direction": [1, 0, 0],
                "entry": "slip",
                "slip": {"od": "2 in", "wall": wall},
                "outlet": {"od": 70, "wall": 1.5},
            }
        )

    facts = dict(lay_out(said("0.049 in"), asked).facts)
    assert facts["slip_clearance_mm"] == pytest.approx(0.027 * 25.4, abs=1e-9)
    with pytest.raises(DoesNotFit) as caught:
        lay_out(said("0.065 in"), asked)
    assert caught.value.key == ("collector", "slip", "od")


def test_a_diffuser_is_as_long_as_its_angle_makes_it() -> None:
    """L = (D - d) / 2 / tan(angle / 2): 50 to 60.5 mm bore at 9 deg is 66.7 mm."""
    layout = laid(4, throat=50, diffuser={"angle": 9})
    facts = dict(layout.facts)
    assert facts["cone_length_mm"] == pytest.approx(10.5 / 2.0 / math.tan(math.radians(4.5)))
    assert facts["diffuser_included_deg"] == pytest.approx(9.0)
    assert facts["throat_bore_mm"] == pytest.approx(50.0)
    assert facts["area_ratio"] == pytest.approx(4 * 42.0**2 / 50.0**2)
    narrow = dict(laid(4, throat=64, diffuser={"length": 60}).facts)
    assert narrow["reducer_included_deg"] == pytest.approx(
        2.0 * math.degrees(math.atan(3.5 / 2.0 / 60.0))
    )
    assert "reducer_included_deg" not in facts
    assert {"reducer_included_deg", "diffuser_included_deg"}.isdisjoint(dict(laid(4).facts))


def test_collector_length_and_volume_are_those_of_its_parts() -> None:
    """From the entry face on the axis of tube 0 to the outlet's end; bores by pi r2 L."""
    plain, slipped = laid(4), laid(4, entry="slip", slip={"od": 48.3, "wall": 1.5, "clr": 72})
    for layout in (plain, slipped):
        facts = dict(layout.facts)
        first = next(e.path for e in layout.envelopes if e.name == "stub")
        inside = -dict(layout.ends[0])["entry"]
        whole = inside + first.length + facts["cone_length_mm"] + 250.0
        assert facts["collector_length_mm"] == pytest.approx(whole)
        tail = math.pi * 30.25**2 * 250.0 / 1000.0
        assert facts["collector_volume_cc"] - facts["merge_volume_cc"] == pytest.approx(tail)
        # Less than four whole tubes and the cone, more than the throat all the way.
        bore = 21.0 if layout is plain else 22.65
        most = 4 * math.pi * bore**2 * first.length
        assert (
            facts["throat_area_mm2"] * first.length < 1000 * facts["merge_volume_cc"] < most * 1.2
        )


@pytest.mark.parametrize(
    ("count", "said", "key"),
    [
        (9, {}, "array"),
        (5, {"array": "in-line"}, "array"),
        (2, {"spike": True, "outlet": {"od": 50, "wall": 1.5}}, "spike"),
        (3, {"spike": True, "array": "in-line"}, "spike"),
        (4, {"slip": {"od": 48.3, "wall": 1.5}}, "entry"),
        (4, {"entry": "slip"}, "slip"),
        (4, {"entry": "slip", "slip": {"od": 48.3, "wall": 1.5, "clr": 20}}, "slip"),
        (4, {"entry": "slip", "slip": {"od": 48.3, "wall": 1.5, "clr": 900}}, "entry_gap"),
        (4, {"diffuser": {"angle": 9}}, "diffuser"),
    ],
)
def test_what_cannot_be_made_is_refused_by_its_key(count: int, said: dict, key: str) -> None:
    with pytest.raises(DoesNotFit) as caught:
        laid(count, **said)
    assert caught.value.key[:2] == ("collector", key)
    assert caught.value.remedy


def test_a_spike_is_said_in_a_word_or_at_length() -> None:
    names = [
        [piece.name for piece in laid(4, **said).pieces if "spike" in piece.name]
        for said in ({}, {"spike": False}, {"spike": True}, {"spike": {"sides": "flat"}})
    ]
    assert names == [[], [], ["spike"], ["spike_pyramid"]]


def test_cone_size_by_length_is_kept() -> None:
    assert dict(merged(4, cone=ConeSize(length=77.0)).facts)["cone_length_mm"] == 77.0
