"""What the router is told of the shelf: steps, whole stock angles, grips; and of slots."""

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.checks import bends_on_shelf, slot_order
from geomgen.design import bends
from geomgen.design import lock as locks
from geomgen.design.fixed import fixed_parts
from geomgen.design.model import Stock
from geomgen.design.network import routing_problem
from geomgen.errors import SpecError, Verdict
from geomgen.families import Asked, Start, TubeSize
from geomgen.families.merge import Spec as Merge
from geomgen.families.merge import lay_out
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame
from geomgen.routing.problem import Shelf
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load


@cache
def demo() -> HeaderSpec:
    file = Path(__file__).parents[2] / "specs" / "brackenhall-20-sprint.yaml"
    return load(file.read_bytes(), file.name).required()


@pytest.fixture
def spec() -> HeaderSpec:
    return demo()


def bends_to_be_had(spec: HeaderSpec) -> Shelf:
    return bends.bends_to_be_had(spec, spec.runners.tube.od)


def stock_of(spec: HeaderSpec) -> tuple[Stock, ...]:
    return bends.stock_of(spec, (spec.runners.tube.od,))


def shelved(spec: HeaderSpec, *lines: dict, **keys: object) -> HeaderSpec:
    said = spec.model_dump(by_alias=True)
    said["shelf"] = {**said["shelf"], **({"bends": list(lines)} if lines else {}), **keys}
    return HeaderSpec.model_validate(said)


def elbow(angle: float, clr: float = 67.5) -> dict:
    return {"kind": "elbow", "clr": clr, "angle": angle, "cut": False}


def test_steps_and_most_bends_are_passed_on(spec):
    plain = bends_to_be_had(spec)
    assert (plain.most_bends, plain.angle_step) == (None, None)
    found = bends_to_be_had(shelved(spec, most_bends=4, angle_step=7.5))
    assert found.most_bends == 4
    assert found.angle_step == pytest.approx(math.radians(7.5))
    assert found.radii == plain.radii


def test_one_radius_of_several_lines_goes_to_the_largest_angle(spec):
    """A U-bend and a 90 bend of one radius: the router takes each radius once."""
    found = bends_to_be_had(
        shelved(
            spec,
            {"clr": 67.5, "angle": 90, "leg": 75},
            {"clr": 67.5, "angle": 180, "leg": 100},
            {"clr": 90, "angle": 90},
        )
    )
    assert [(r.clr, math.degrees(r.most)) for r in found.radii] == [(67.5, 180), (90, 90)]


def test_a_dies_grip_is_kept_between_bends_and_at_both_ends(spec):
    die = {"kind": "die", "clr": 67.5, "grip": 80}
    found = bends_to_be_had(shelved(spec, die, min_straight_at_collector=30))
    assert (found.straight, found.straight_at_start, found.straight_at_end) == (80, 80, 80)
    longer = bends_to_be_had(
        shelved(spec, die, min_straight_at_flange=95, min_straight_at_collector=85)
    )
    assert (longer.straight_at_start, longer.straight_at_end) == (95, 85)
    welded = bends_to_be_had(shelved(spec, min_straight_at_collector=45))
    assert (welded.straight, welded.straight_at_start, welded.straight_at_end) == (0, 10, 45)


@pytest.mark.parametrize(
    ("angles", "step", "most", "left_out"),
    [
        ((45, 90), 45, 90, 0),
        ((90,), 90, 90, 0),
        ((90, 180), 90, 180, 0),
        ((45,), 45, 45, 0),
        ((45, 90, 180), 45, 90, 1),
        ((45, 90, 135, 180), 45, 180, 0),
        ((30, 60, 90), 30, 90, 0),
        ((30, 45), 30, 30, 1),
    ],
)
def test_whole_stock_angles_are_steps(spec, angles, step, most, left_out):
    said = shelved(spec, *(elbow(angle) for angle in angles))
    found = bends_to_be_had(said)
    assert found.angle_step == pytest.approx(math.radians(step))
    (radius,) = found.radii
    assert radius.clr == 67.5
    assert math.degrees(radius.most) == pytest.approx(most)
    assert sum(not stock.used for stock in stock_of(said)) == left_out


@given(
    st.lists(
        st.tuples(
            st.sampled_from([57.0, 67.5, 90.0]), st.sampled_from([15, 22.5, 30, 45, 60, 90, 135])
        ),
        min_size=1,
        max_size=7,
    )
)
def test_no_bend_is_promised_that_is_not_on_the_shelf(lines):
    """Every multiple of the step up to each radius's largest angle is one of its lines."""
    said = shelved(demo(), *(elbow(angle, clr) for clr, angle in lines))
    found = bends_to_be_had(said)
    step = math.degrees(found.angle_step)
    for radius in found.radii:
        own = {angle for clr, angle in lines if clr == radius.clr}
        count = round(math.degrees(radius.most) / step)
        assert count >= 1
        for k in range(1, count + 1):
            assert any(abs(k * step - angle) < 1e-6 for angle in own)
    used = [stock for stock in stock_of(said) if stock.used]
    assert used
    for stock in used:
        times = math.degrees(stock.angles[0]) / step
        assert abs(times - round(times)) < 1e-6


def test_whole_angles_beside_bends_that_may_be_cut_are_left_out(spec):
    said = shelved(spec, {"clr": 67.5, "angle": 180, "leg": 100}, elbow(45, 57.0))
    found = bends_to_be_had(said)
    assert [r.clr for r in found.radii] == [67.5]
    assert found.angle_step is None
    assert [stock.used for stock in stock_of(said)] == [True, False]


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"most_bends": 2}, "most_bends", "straights and rolls must take up"),
        ({"angle_step": 10.0}, "angle_step", "a step that divides 45 deg"),
        ({"min_angle": 95.0}, "min_angle", "at most 90 deg"),
    ],
)
def test_whole_angles_that_cannot_be_laid_out_are_refused(spec, keys, key, words):
    said = shelved(spec, elbow(45), elbow(90))
    said = said.model_copy(update={"shelf": said.shelf.model_copy(update=keys)})
    with pytest.raises(SpecError, match=words) as caught:
        bends_to_be_had(said)
    assert caught.value.problems[0].path == ("shelf", key)


def test_a_step_of_the_spec_that_divides_the_stock_angles_is_met(spec):
    said = shelved(spec, elbow(45), elbow(90), angle_step=5.0)
    assert bends_to_be_had(said).angle_step == pytest.approx(math.radians(45.0))


def test_lines_for_another_tube_are_no_stock(spec):
    said = shelved(spec, {"clr": 67.5, "angle": 180, "leg": 100}, {"kind": "elbow", "nps": "1-1/2"})
    assert [stock.clr for stock in stock_of(said)] == [67.5]


def with_bends(design, *bends: Bend):
    path = design.runners[0].path
    pieces = (Straight(50.0), *(p for bend in bends for p in (bend, Straight(50.0))))
    runner = replace(design.runners[0], path=Centreline(path.start, pieces))
    return replace(design, runners=(runner, *design.runners[1:]))


def test_the_check_holds_bends_against_steps_and_whole_angles(demo_design, spec):
    said = shelved(spec, elbow(45), elbow(90), elbow(120, 90.0))
    shelf = bends_to_be_had(said)
    design = replace(
        demo_design,
        stock=stock_of(said),
        problem=replace(demo_design.problem, shelf=shelf),
    )
    right = Bend(67.5, math.radians(90.0)), Bend(67.5, math.radians(45.0), 1.0)
    found = bends_on_shelf.run(with_bends(design, *right))
    assert found[0].verdict is Verdict.PASS
    for wrong in (Bend(67.5, math.radians(60.0)), Bend(67.5, math.radians(135.0))):
        assert bends_on_shelf.run(with_bends(design, wrong))[0].verdict is Verdict.FAIL
    (unused,) = [f for f in found if f.subject.startswith("shelf /")]
    assert unused.verdict is Verdict.WARN
    assert "CLR 90 mm" in unused.subject


def test_the_check_holds_bends_against_the_step_asked_for(demo_design):
    shelf = replace(demo_design.problem.shelf, angle_step=math.radians(5.0))
    design = replace(demo_design, problem=replace(demo_design.problem, shelf=shelf))
    for angle, verdict in ((35.0, Verdict.PASS), (36.0, Verdict.FAIL)):
        bent = with_bends(design, Bend(67.5, math.radians(angle)))
        assert bends_on_shelf.run(bent)[0].verdict is verdict


def test_the_check_counts_bends(demo_design):
    shelf = replace(demo_design.problem.shelf, most_bends=2)
    design = replace(demo_design, problem=replace(demo_design.problem, shelf=shelf))
    bend = Bend(67.5, 1.0)
    for count, verdict in ((2, Verdict.PASS), (3, Verdict.FAIL)):
        found = bends_on_shelf.run(with_bends(design, *[bend] * count))[0]
        assert found.verdict is verdict
        assert ("at most 2 are wanted" in found.message) is (verdict is Verdict.FAIL)


def test_a_runner_in_another_place_than_its_own_fails(demo_design):
    slot = demo_design.runners[1].slot
    for own, verdict in ((slot, Verdict.PASS), (slot + 1, Verdict.FAIL)):
        edges = list(demo_design.problem.edges)
        edges[1] = replace(edges[1], slots=(own,))
        design = replace(demo_design, problem=replace(demo_design.problem, edges=tuple(edges)))
        (found,) = [f for f in slot_order.run(design) if f.subject == "runner 2"]
        assert found.verdict is verdict
    assert [f.subject for f in slot_order.run(demo_design)] == ["collector"]


def test_pinned_places_become_the_only_slots(spec):
    said = spec.model_dump(by_alias=True)
    said["runners"]["slots"] = {1: 2, 4: 0}
    changed = HeaderSpec.model_validate(said)
    problem = routing_problem(changed, fixed_parts(changed))
    assert [edge.slots for edge in problem.edges] == [(2,), None, None, (0,)]


UP = (0.0, 1.0, 0.0)


def asked(count: int) -> Asked:
    starts = tuple(Start(i + 1, Frame((92.0 * i, 0.0, 55.0))) for i in range(count))
    return Asked(TubeSize(22.5, 21.0), starts, tuple(range(1, count + 1)), UP)


def clocks(**keys: object) -> list[float]:
    """Each place's clocking in degrees clockwise from the top, looking along the gas."""
    way, right = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    layout = lay_out(
        Merge.model_validate(
            {
                "family": "merge",
                "at": (10, 20, 30),
                "direction": tuple(way),
                "outlet": {"od": 63.5, "wall": 1.5},
                **keys,
            }
        ),
        asked(4),
    )
    assert np.cross(way, UP) == pytest.approx(right)
    found = []
    for slot in layout.slots:
        out = np.subtract(slot.origin, (10, 20, 30))
        found.append(round(math.degrees(math.atan2(out @ right, out @ np.array(UP))), 6) % 360.0)
    return found


def test_square_and_diamond_stand_as_they_are_described():
    assert clocks() == pytest.approx([45, 135, 225, 315])
    assert clocks(array="round") == clocks(array="square") == clocks()
    assert clocks(array="diamond") == pytest.approx([90, 180, 270, 0], abs=1e-9)
    assert clocks(array="diamond", roll=10) == pytest.approx([100, 190, 280, 10])


def test_square_is_for_four_tubes():
    from geomgen.families import DoesNotFit

    said = {"family": "merge", "at": (0, 0, 0), "direction": (1, 0, 0), "array": "square"}
    merge = Merge.model_validate({**said, "outlet": {"od": 63.5, "wall": 1.5}})
    with pytest.raises(DoesNotFit) as caught:
        lay_out(merge, asked(3))
    assert caught.value.key == ("collector", "array")


@pytest.mark.parametrize(
    "change",
    [
        lambda said: said["shelf"].update(angle_step=5),
        lambda said: said["shelf"].update(most_bends=4),
        lambda said: said["runners"].update(slots={1: 0}),
        lambda said: said["collector"].update(array="diamond"),
        lambda said: said["tools"][0].update(wobble=12),
        lambda said: said["limits"].update(nut_start=15),
    ],
)
def test_new_keys_are_inputs_where_they_are_said_and_only_there(spec, demo_resolved, change):
    """The committed lock was made before any of these keys was known."""
    held = locks.read(demo_resolved.lock, tuple(f"runner {i}" for i in (1, 2, 3, 4)))
    assert held is not None
    lengths = fixed_parts(spec).targets
    assert locks.fingerprint(spec, lengths, {}) == held.inputs
    said = spec.model_dump(by_alias=True)
    change(said)
    assert locks.fingerprint(HeaderSpec.model_validate(said), lengths, {}) != held.inputs
