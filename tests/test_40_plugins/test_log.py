"""Logs: lengths along them, saddles laid back on the kernel's solids, amounts beside its own."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lay_back import off_edges
from pydantic import ValidationError

from geomgen.families import Asked, DoesNotFit, Start, TubeSize
from geomgen.families._logging import Log, set_on
from geomgen.families.log import Spec, _alone, lay_out
from geomgen.geometry.copes import points
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.recipe.nodes import Cut, Fuse, Tube
from geomgen.solids.build import build
from geomgen.solids.measure import (
    area,
    faces_of,
    is_closed,
    is_valid,
    solids_of,
    surface_kind,
    volume,
)

UP = (0.0, 1.0, 0.0)
TUBE = TubeSize(21.1, 18.33)
DOWN = {"bend": {"clr": 57.15, "toward": [0, -1, 0]}}
OUTLET = {"at": 0.5, "direction": [0, -0.5, 1], "od": 48.3, "wall": 2.77, "length": 40}


def spec(**changes: object) -> Spec:
    said = {
        "family": "log",
        "at": [0, -110, 110],
        "tube": {"nps": "2", "wall": 3.91},
        "stub": DOWN,
        "outlet": OUTLET,
    }
    return Spec.model_validate({**said, **changes})


def asked(count: int = 4, *, lean: float = 0.0, tube: TubeSize = TUBE) -> Asked:
    way = (math.sin(lean), 0.0, math.cos(lean))
    starts = tuple(
        Start(i + 1, Frame.facing((88.0 * i, 0.0, 45.0), way, (1, 0, 0))) for i in range(count)
    )
    return Asked(tube, starts, tuple(range(1, count + 1)), UP)


SHAPES = {
    "elbows down to a log": (spec(), asked(2)),
    "straight on, off the axis and leaning": (spec(at=[0, 5, 120], stub={}), asked(2, lean=0.5)),
    "outlet at its end": (
        spec(
            outlet={
                "at": "end",
                "nps": "2",
                "wall": 3.91,
                "length": 30,
                "bend": {"clr": 76.2, "toward": [0, -1, 0]},
                "tail": 20,
            }
        ),
        asked(2),
    ),
    "outlet leaning along the log, then turned": (
        spec(
            outlet={
                **OUTLET,
                "direction": [0.7, 0, 1],
                "bend": {"clr": 72.4, "toward": [0, -1, 0]},
                "tail": 25,
            }
        ),
        asked(2),
    ),
}


@pytest.fixture(scope="module", params=list(SHAPES))
def laid(request):
    said, ask = SHAPES[request.param]
    return ask, lay_out(said, ask)


def test_every_piece_is_one_closed_solid_of_planes_cylinders_and_tori(laid):
    _, layout = laid
    for piece in layout.pieces:
        shape = build(piece.node)
        assert len(solids_of(shape)) == 1, piece.name
        assert is_closed(shape), piece.name
        assert is_valid(shape), piece.name
        kinds = {surface_kind(face) for face in faces_of(shape)}
        assert kinds <= {"plane", "cylinder", "torus"}, piece.name


def test_amounts_are_those_of_the_kernels_solids(laid):
    """Metal and gas piece by piece; the gas fused has their sum, and the skin that is said."""
    ask, layout = laid
    metal = sum(volume(build(piece.node)) for piece in layout.pieces)
    assert sum(v for _, v in layout.amounts.metal) == pytest.approx(metal, rel=1e-7)
    (scroll,) = layout.scrolls
    gas = build(Fuse(scroll.gas))
    assert len(solids_of(gas)) == 1
    assert is_closed(gas)
    assert layout.amounts.gas == pytest.approx(volume(gas), rel=1e-7)
    bores = len(layout.slots) * math.pi * ask.tube.inner_radius**2
    end = {row.what: row.area for row in layout.areas}["outlet end"]
    assert layout.amounts.wall == pytest.approx(area(gas) - bores - end, rel=1e-4)


def test_outside_area_is_that_of_the_metal_made_one(laid):
    """Skin of everything fused, less the gas's side and the rims of the open ends."""
    ask, layout = laid
    whole = build(Fuse(tuple(piece.node for piece in layout.pieces)))
    assert len(solids_of(whole)) == 1
    rings = len(layout.slots) * math.pi * (ask.tube.outer_radius**2 - ask.tube.inner_radius**2)
    end = {row.what: row.area for row in layout.areas}["outlet end"]
    outlet = next(e for e in layout.envelopes if e.name == "outlet")
    rings += math.pi * outlet.radius**2 - end
    wanted = area(whole) - rings - layout.amounts.wall
    assert layout.amounts.outside == pytest.approx(wanted, rel=1e-4)


@pytest.mark.parametrize(("offset", "lean"), [(0.0, 0.0), (6.0, 0.0), (0.0, 0.6), (-4.0, -0.5)])
def test_the_unrolled_saddle_laid_back_lies_on_the_solid(offset, lean):
    """Outside and bore of the stub, and the hole in the log; at most 0.02 mm."""
    log = Log((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), TubeSize(30.15, 26.24))
    z = (math.sin(lean), 0.0, -math.cos(lean))
    leg = Frame((0.0, offset, 100.0), (math.cos(lean), 0.0, math.sin(lean)), z)
    on, _ = set_on(log, leg, TUBE, "stub", ("collector",), 5.0)
    rod = Tube(log.path(-150.0, 150.0), 30.15)
    stub = build(Cut(Tube(on.path, TUBE.outer_radius, TUBE.inner_radius), (rod,)))
    body = build(Cut(Tube(log.path(-150, 150), 30.15, 26.24), (Tube(on.path, TUBE.inner_radius),)))
    t = np.linspace(0.0, 2.0 * np.pi, 41)
    assert off_edges(stub, points(on.outer, TUBE.outer_radius, t)) < 0.02
    assert off_edges(stub, points(on.outer, TUBE.inner_radius, t)) < 0.02
    assert off_edges(body, points(on.outer, TUBE.inner_radius, t)) < 0.02
    assert off_edges(body, points(on.inner, TUBE.inner_radius, t)) < 0.02
    # and the measure itself tells a curve that is off
    assert off_edges(stub, points(on.outer, TUBE.outer_radius - 0.05, t)) > 0.02


def test_lengths_run_along_stub_and_log():
    """Elbow, saddle and log by hand: the axes of all stubs meet the log's at 88 mm pitch."""
    layout = lay_out(spec(), asked())
    for path, ends in zip(layout.laid, layout.ends, strict=True):
        # lead 7.85, a quarter turn of CLR 57.15, then down to the axis 110 mm below
        lead = 110.0 - 45.0 - 57.15
        entry = path.length + dict(ends)["entry"]
        assert entry == pytest.approx(lead + 57.15 * math.pi / 2.0 + 110.0 - 57.15, abs=1e-9)
    ways = [dict(e)["throat"] - dict(e)["entry"] for e in layout.ends]
    assert ways == pytest.approx([132.0, 44.0, 44.0, 132.0])
    first = [dict(e)["first-join"] - dict(e)["entry"] for e in layout.ends]
    assert first == pytest.approx([88.0, 0.0, 0.0, 88.0])
    for path, slot in zip(layout.laid, layout.slots, strict=True):
        assert distance(path.end.origin, slot.origin) < 1e-9
        assert angle_between(path.end.z, slot.z) < 1e-9


def test_lengths_to_the_logs_own_end():
    said = spec(outlet={"at": "end", "nps": "2", "wall": 3.91, "length": 30}, overhang=10)
    layout = lay_out(said, asked())
    ways = [dict(e)["throat"] - dict(e)["entry"] for e in layout.ends]
    # saddles reach 21.1 beyond the last axis, the log 10 more
    assert ways == pytest.approx([88.0 * k + 31.1 for k in (3, 2, 1, 0)], abs=1e-6)
    first = [dict(e)["first-join"] - dict(e)["entry"] for e in layout.ends]
    assert first == pytest.approx([88.0, 0.0, 0.0, 0.0])


@pytest.mark.parametrize("size", [{}, {"nps": "2"}, {"wall": 3.91}])
def test_the_logs_own_end_has_the_logs_size_without_being_told(size):
    """ASME B36.10M: a 2 in pipe is 60.3 OD."""
    said = spec(outlet={"at": "start", "length": 30, **size})
    assert (said.outlet.od, said.outlet.wall) == (60.3, 3.91)
    assert Spec.model_validate(said.model_dump()) == said
    with pytest.raises(ValidationError):
        spec(outlet={**OUTLET, **size, "od": None, "wall": None} | size)


@settings(max_examples=30)
@given(st.lists(st.floats(-300, 300), min_size=2, max_size=6))
def test_gas_joins_other_gas_between_its_stub_and_the_outlet(ways):
    """Beside a walk in small steps: the first place that some other cylinder's way passes too."""
    for i, way in enumerate(ways):
        others = ways[:i] + ways[i + 1 :]
        found = _alone(way, others)
        steps = np.linspace(way, 0.0, 401)
        common = [
            abs(way - p)
            for p in steps
            if p == 0.0 or any(min(o, 0.0) <= p <= max(o, 0.0) for o in others)
        ]
        assert found == pytest.approx(min(common), abs=abs(way) / 400.0 + 1e-9)


@settings(max_examples=8)
@given(st.floats(0.15, 0.85))
def test_an_outlet_may_stand_anywhere(share):
    layout = lay_out(spec(outlet={**OUTLET, "at": share, "direction": [0, -1, 0]}), asked())
    facts = dict(layout.facts)
    assert facts["outlet_from_first_end_mm"] == pytest.approx(share * facts["log_length_mm"])
    axis = layout.outlet.origin[0] - layout.frame.origin[0]
    assert axis == pytest.approx(share * facts["log_length_mm"])
    ways = [dict(e)["throat"] - dict(e)["entry"] for e in layout.ends]
    assert max(ways) >= facts["log_length_mm"] / 2.0 - 31.2


def test_bores_that_castings_are_measured_by_give_the_od():
    said = spec(tube={"bore": 46, "wall": 5})
    assert said.tube.od == 56.0
    assert spec(tube={"dn": 50, "wall": 3.91}).tube.od == 60.3  # ASME B36.10M
    again = Spec.model_validate(said.model_dump())
    assert again == said


@pytest.mark.parametrize(
    "tube",
    [
        {"wall": 3},
        {"od": 60, "bore": 50, "wall": 3},
        {"od": 6, "wall": 3},
        {"nps": "7", "wall": 3},
        {"bore": 50},
    ],
)
def test_sizes_that_say_nothing_or_two_things_are_refused(tube):
    with pytest.raises(ValidationError):
        spec(tube=tube)


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"at": [0, -60, 110]}, ("collector", "at")),
        ({"at": [0, -110, 80]}, ("collector", "at")),
        ({"at": [0, 30, 120], "stub": {}}, ("collector", "stub")),
        ({"tube": {"od": 42, "wall": 3}}, ("collector", "stub")),
        ({"at": [0, 0, 120], "direction": [0, 0, 1], "stub": {}}, ("collector", "stub")),
        ({"stub": {"lead": 10}}, ("collector", "stub", "lead")),
        (
            {"stub": {"bend": {"clr": 20, "toward": [0, -1, 0]}}},
            ("collector", "stub", "bend", "clr"),
        ),
        ({"outlet": {**OUTLET, "direction": None}}, ("collector", "outlet", "direction")),
        ({"outlet": {**OUTLET, "at": 0.02}}, ("collector", "outlet", "at")),
        ({"outlet": {**OUTLET, "at": 400}}, ("collector", "outlet", "at")),
        ({"outlet": {**OUTLET, "od": 60.2}}, ("collector", "outlet")),
        ({"outlet": {**OUTLET, "direction": [0, 1, 0], "at": 0.37}}, ("collector", "outlet", "at")),
        ({"outlet": {**OUTLET, "length": 0}}, ("collector", "outlet", "length")),
        ({"outlet": {"at": "end", "od": 50, "wall": 2}}, ("collector", "outlet", "od")),
        ({"cast": {"material": "SiMo"}}, ("collector", "cast", "material")),
    ],
)
def test_what_does_not_go_together_is_refused_by_its_key(changes, key):
    with pytest.raises(DoesNotFit) as caught:
        lay_out(spec(**changes), asked())
    assert caught.value.key == key
    assert caught.value.remedy


def test_one_port_needs_a_direction():
    with pytest.raises(DoesNotFit) as caught:
        lay_out(spec(), asked(1))
    assert caught.value.key == ("collector", "direction")
    layout = lay_out(
        spec(direction=[1, 0, 0], outlet={**OUTLET, "direction": [0, -1, 0]}), asked(1)
    )
    assert [dict(e)["first-join"] for e in layout.ends] == [dict(e)["throat"] for e in layout.ends]


def test_stubs_that_differ():
    said = spec(each=[{"cylinder": 2, "bend": {"clr": 45, "toward": [0, -1, 0]}}])
    layout = lay_out(said, asked())
    assert [path.bends[0].radius for path in layout.laid] == [57.15, 45.0, 57.15, 57.15]
    bend = {"clr": 45, "toward": [0, -1, 0]}
    for named in ([2, 9], [9, 2], [2, 2]):
        with pytest.raises(DoesNotFit) as caught:
            lay_out(spec(each=[{"cylinder": n, "bend": bend} for n in named]), asked())
        place = "0" if named[0] == 9 else "1"
        assert caught.value.key == ("collector", "each", place, "cylinder")
