"""Open stubs: bends by angle and by direction, slashes laid back on the solid, amounts."""

import math

import numpy as np
import pytest
from lay_back import off_edges
from pydantic import ValidationError

from geomgen.families import Asked, DoesNotFit, Start, TubeSize
from geomgen.families.stubs import Spec, lay_out
from geomgen.geometry.copes import PlaneCope, extremes, points
from geomgen.geometry.frames import Frame, Plane, angle_between, dot, sub
from geomgen.recipe.nodes import Fuse, Tube
from geomgen.solids.build import build
from geomgen.solids.measure import is_closed, is_valid, solids_of, volume

UP = (0.0, 1.0, 0.0)
TUBE = TubeSize(21.2, 19.6)
BEND = {"clr": 63.5, "angle": 55, "clock": 60}


def spec(**changes: object) -> Spec:
    stub = {"straight": 30, "bend": BEND, "tail": 120, "cut": {"angle": 40, "clock": 90}}
    return Spec.model_validate({"family": "stubs", "stub": stub, **changes})


def asked(count: int = 2) -> Asked:
    starts = tuple(Start(i + 1, Frame((88.0 * i, 0.0, 45.0))) for i in range(count))
    return Asked(TUBE, starts, tuple(range(1, count + 1)), UP)


def test_a_bend_goes_by_its_angle_to_the_side_of_its_clock():
    """From the way up, clockwise looking along the gas: out of the head, right is then -x."""
    for clock, side in ((0, (0, 1, 0)), (90, (-1, 0, 0)), (180, (0, -1, 0)), (270, (1, 0, 0))):
        bend = {"clr": 63.5, "angle": 55, "clock": clock}
        layout = lay_out(spec(stub={"straight": 30, "bend": bend, "tail": 50}), asked())
        way = layout.laid[0].end.z
        assert angle_between(way, (0, 0, 1)) == pytest.approx(math.radians(55))
        assert dot(way, side) == pytest.approx(math.sin(math.radians(55)))


def test_a_bend_goes_toward_a_direction():
    bend = {"clr": 63.5, "toward": [0.7, 0.35, 0.6]}
    layout = lay_out(spec(stub={"straight": 30, "bend": bend, "tail": 50}), asked())
    assert angle_between(layout.laid[0].end.z, (0.7, 0.35, 0.6)) < 1e-9


def test_lengths_count_to_the_centre_of_the_open_end():
    layout = lay_out(spec(), asked())
    for path, ends in zip(layout.laid, layout.ends, strict=True):
        wanted = 30 + 63.5 * math.radians(55) + 120
        assert {name for name, _ in ends} == {"entry", "first-join", "throat"}
        for _, length in ends:
            assert path.length + length == pytest.approx(wanted)


@pytest.mark.parametrize(("named", "place"), [([2, 3], "1"), ([1, 2, 1], "2")])
def test_a_stub_that_there_is_not_or_that_is_said_twice_is_refused(named, place):
    each = [{"cylinder": number, "straight": 80} for number in named]
    with pytest.raises(DoesNotFit, match=f"cylinder {named[-1]}") as caught:
        lay_out(spec(each=each), asked(2))
    assert caught.value.key == ("collector", "each", place, "cylinder")


def test_every_stub_is_a_gas_volume_with_its_own_end():
    layout = lay_out(spec(each=[{"cylinder": 2, "straight": 80}]), asked(3))
    assert [scroll.slots for scroll in layout.scrolls] == [(0,), (1,), (2,)]
    names = [end.name for scroll in layout.scrolls for end in scroll.outlets]
    assert names == ["OUTLET_1", "OUTLET_2", "OUTLET_3"]
    for scroll, path in zip(layout.scrolls, layout.laid, strict=True):
        gas = build(Fuse((Tube(path, TUBE.inner_radius), *scroll.gas)))
        assert len(solids_of(gas)) == 1
        assert is_closed(gas)
    # square ends have no piece of their own
    assert [piece.slot for piece in layout.pieces] == [0, 2]
    assert layout.laid[1].length == 80.0


@pytest.mark.parametrize(("angle", "clock"), [(40, 90), (15, 0), (60, -135)])
def test_the_slash_laid_back_lies_on_the_solid(angle, clock):
    """The sinusoid r tan(angle) cos(t - clock) of a plane cut; at most 0.02 mm."""
    stub = {"straight": 120, "cut": {"angle": angle, "clock": clock}}
    layout = lay_out(spec(stub=stub), asked(1))
    (piece,) = layout.pieces
    shape = build(piece.node)
    assert is_closed(shape)
    assert is_valid(shape)
    (end,) = layout.scrolls[0].outlets
    cope = PlaneCope(layout.slots[0], Plane(end.point, end.normal))
    t = np.linspace(0.0, 2.0 * np.pi, 41)
    for radius in (TUBE.outer_radius, TUBE.inner_radius):
        assert off_edges(shape, points(cope, radius, t)) < 0.02
    assert off_edges(shape, points(cope, TUBE.outer_radius - 0.05, t)) > 0.02
    low, high = extremes(cope, TUBE.outer_radius)
    assert high - low == pytest.approx(2 * TUBE.outer_radius * math.tan(math.radians(angle)))
    # the longest side is where its clock says, from the way up (which is y, seen along z)
    far = points(cope, TUBE.outer_radius, t)[np.argmax(points(cope, TUBE.outer_radius, t)[:, 2])]
    aside = sub(tuple(far), layout.slots[0].origin)
    wanted = (-math.sin(math.radians(clock)), math.cos(math.radians(clock)), 0.0)
    assert angle_between((aside[0], aside[1], 0.0), wanted) < math.radians(6)


def test_amounts_are_those_of_the_kernels_solids():
    layout = lay_out(spec(), asked())
    metal = sum(volume(build(piece.node)) for piece in layout.pieces)
    assert sum(v for _, v in layout.amounts.metal) == pytest.approx(metal, rel=1e-7)
    gas = sum(volume(build(node)) for scroll in layout.scrolls for node in scroll.gas)
    assert layout.amounts.gas == pytest.approx(gas, rel=1e-7)


@pytest.mark.parametrize(
    ("stub", "key"),
    [
        ({"straight": 0}, "straight"),
        ({"straight": 15, "cut": {"angle": 40}}, "straight"),
        ({"straight": 30, "bend": BEND, "tail": 10, "cut": {"angle": 40}}, "tail"),
        ({"straight": 30, "tail": 10}, "tail"),
        ({"straight": 30, "bend": {**BEND, "clr": 20}}, "bend"),
    ],
)
def test_what_leaves_no_stub_is_refused_by_its_key(stub, key):
    for said, where in ((spec(stub=stub), "stub"), (spec(each=[{"cylinder": 1, **stub}]), "each")):
        with pytest.raises(DoesNotFit) as caught:
            lay_out(said, asked())
        assert caught.value.key[1] == where
        assert key in caught.value.key
        assert caught.value.remedy


@pytest.mark.parametrize("bend", [{"clr": 60}, {"clr": 60, "angle": 30, "toward": [1, 0, 0]}])
def test_a_bend_says_one_way(bend):
    with pytest.raises(ValidationError):
        spec(stub={"straight": 30, "bend": bend})
