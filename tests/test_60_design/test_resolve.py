"""The demo resolved: targets, datum, transitions, routes, lock."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from geomgen.design import lock as locks
from geomgen.design.fixed import fixed_parts
from geomgen.design.network import routing_problem
from geomgen.design.resolve import NoRoute, resolve
from geomgen.errors import SpecError
from geomgen.geometry.frames import angle_between, distance
from geomgen.profiles.loops import Arc, area, perimeter
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load


def changed(spec: HeaderSpec, **sections: dict) -> HeaderSpec:
    said = spec.model_dump(by_alias=True)
    for key, changes in sections.items():
        said[key] = {**said[key], **changes}
    return HeaderSpec.model_validate(said)


@pytest.fixture(scope="module")
def spec(demo_file) -> HeaderSpec:
    return load(demo_file.read_bytes(), demo_file.name).required()


def test_tuned_length_is_the_book_rules(demo_design) -> None:
    """850 * ED / N - 3 inches from the port face (A. G. Bell, 1981, second hand)."""
    by_hand = (850 * (180 + 62) / 7000 - 3) * 25.4
    for runner in demo_design.runners:
        assert runner.target == pytest.approx(by_hand, abs=1e-6)
    assert demo_design.tuning.rule == "book"


def test_lengths_are_within_the_bar(demo_design) -> None:
    for runner in demo_design.runners:
        assert abs(runner.account.total - runner.target) <= 0.01


def test_length_is_counted_from_the_gasket_face_to_the_first_join(demo_design) -> None:
    """Rebuilt along the line: port face, plate, slant of the transition, tube, stub."""
    stub = demo_design.runners[0].account.stub
    for runner in demo_design.runners:
        port = np.array(runner.transition.entry.origin)
        behind_plate = port + np.array([0, 0, 10.0])
        round_end = np.array(runner.transition.exit.origin)
        total = 10.0 + float(np.linalg.norm(round_end - behind_plate)) + runner.path.length + stub
        assert total == pytest.approx(runner.account.total, abs=1e-9)
        assert dict(runner.to_ends)["entry"] == pytest.approx(total - stub, abs=1e-9)


def test_oval_sockets_perimeter_is_the_tubes(demo_design) -> None:
    """A slot 48 x 40 over the wall: 2 * 8 + pi * 40, against pi * 45: within 0.3 %."""
    for runner in demo_design.runners:
        skin = runner.transition.metal.outer[0].loop
        assert perimeter(skin) == pytest.approx(16 + 40 * math.pi, abs=1e-9)
        assert abs(perimeter(skin) / (45 * math.pi) - 1) < 0.003


def test_roof_stays_in_line(demo_design) -> None:
    for port, runner in zip(demo_design.ports, demo_design.runners, strict=True):
        roof_of_port = port.frame.origin[1] + 37 / 2
        assert runner.transition.exit.origin[1] + 21.0 == pytest.approx(roof_of_port)


def test_transition_areas_against_shapely(demo_design) -> None:
    """Sections of the ruled wall, built point by point along its rulings."""
    bend = demo_design.runners[0].transition
    near, far = bend.bore

    def at(piece, f):
        if isinstance(piece, Arc):
            return piece.at(f)
        return tuple(a + f * (b - a) for a, b in zip(piece.start, piece.end, strict=True))

    rows = [row for row in bend.areas if row.what == "transition"]
    for row in rows:
        t = (row.station - bend.plate) / bend.along
        ring = []
        for p, q in zip(near, far, strict=True):
            for f in np.linspace(0, 1, 600, endpoint=False):
                (x0, y0), (x1, y1) = at(p, f), at(q, f)
                ring.append((x0 + t * (x1 - x0), y0 + t * (y1 - y0)))
        assert row.area == pytest.approx(Polygon(ring).area, rel=2e-5)
    assert bend.areas[0].area == pytest.approx(area(near))


def test_every_runner_ends_in_its_own_slot(demo_design) -> None:
    assert sorted(r.slot for r in demo_design.runners) == [0, 1, 2, 3]
    for runner in demo_design.runners:
        slot = demo_design.problem.slots[runner.slot]
        assert distance(runner.path.end.origin, slot.origin) < 1e-6
        assert angle_between(runner.path.end.z, slot.z) < 1e-8


def test_neighbours_round_the_collector_follow_the_firing_order(demo_design) -> None:
    around = demo_design.collector.cylinders * 2
    order = (1, 3, 4, 2)
    assert any(around[i : i + 4] in (order, order[::-1], (1, 2, 4, 3)) for i in range(4)), around


def test_tail_runs_along_the_crank(demo_design) -> None:
    assert angle_between(demo_design.collector.outlet.z, (1, 0, 0)) < 1e-9


def test_lock_is_used_while_its_inputs_hold(spec, demo_resolved) -> None:
    again = resolve(spec, demo_resolved.lock)
    assert not again.solved
    assert again.design == demo_resolved.design
    assert again.lock == demo_resolved.lock


def test_lock_outlives_what_the_routes_do_not_depend_on(spec, demo_resolved) -> None:
    renamed = spec.model_copy(update={"revision": "B", "title": "another"})
    assert not resolve(renamed, demo_resolved.lock).solved


@pytest.mark.parametrize(
    "change",
    [
        lambda said: said["limits"].update(runner_gap=6.5),
        lambda said: said["obstacles"][0].update(gap=11),
        lambda said: said["collector"].update(roll=1),
        lambda said: said["runners"].update(length=671),
        lambda said: said["heads"][0]["studs"].update(protrusion=29),
        lambda said: said["shelf"].update(min_angle=9),
        lambda said: said["flange"].update(thickness=10.5),
    ],
)
def test_lock_does_not_outlive_its_inputs(spec, demo_resolved, change) -> None:
    said = spec.model_dump(by_alias=True)
    change(said)
    inputs = locks.fingerprint(HeaderSpec.model_validate(said), _lengths(said), {})
    held = locks.read(demo_resolved.lock, tuple(f"runner {i}" for i in (1, 2, 3, 4)))
    assert held is not None
    assert held.inputs != inputs


def _lengths(said: dict) -> tuple[float, ...]:
    length = said["runners"]["length"]
    return ((850 * 242 / 7000 - 3) * 25.4 if length == "tuned" else float(length),) * 4


@pytest.mark.parametrize(
    "spoil",
    [
        lambda _: "",
        lambda _: "}{",
        lambda _: "- 1\n- 2\n",
        lambda text: text.replace("slot: 0", "slot: 1"),
        lambda text: text.replace("slot: 0", "slot: zero"),
        lambda text: text.replace("angle: ", "angle: 1"),
        lambda text: text.replace("straight: ", "straight: -"),
        lambda text: text.replace("runner 1", "runner 7"),
        lambda text: text.replace("straight", "bent"),
        lambda text: text.replace("format: 1", "format: 99"),
        lambda text: text.replace("{straight: ", "{straight: .nan, x: "),
        lambda text: text[: len(text) // 2],
    ],
)
def test_a_spoilt_lock_is_never_used(demo_resolved, spoil) -> None:
    problem = demo_resolved.design.problem
    held = locks.read(spoil(demo_resolved.lock), tuple(e.name for e in problem.edges))
    assert held is None or locks.paths(held, problem) is None


def test_lock_text_holds_every_digit(demo_resolved) -> None:
    problem = demo_resolved.design.problem
    names = tuple(edge.name for edge in problem.edges)
    held = locks.read(demo_resolved.lock, names)
    assert held is not None
    paths = locks.paths(held, problem)
    assert paths is not None
    for path, runner in zip(paths, demo_resolved.design.runners, strict=True):
        assert path == runner.path


@pytest.mark.parametrize("shift", [-7.0, 7.0])
def test_demo_solves_at_other_lengths(spec, demo_design, shift) -> None:
    wanted = demo_design.runners[0].target + shift
    found = resolve(changed(spec, runners={"length": wanted}))
    assert found.solved
    for runner in found.design.runners:
        assert abs(runner.account.total - wanted) <= 0.01


def test_demo_solves_without_its_lock_and_finds_no_worse_answer(spec, demo_resolved) -> None:
    """Other processors round differently; the layout may move, its worth may not."""
    found = resolve(spec)
    assert found.solved
    assert found.design.collector.in_order
    assert found.design.score <= demo_resolved.design.score + 0.05


def test_too_short_says_the_least_length(spec) -> None:
    with pytest.raises(NoRoute, match=r"impossible: runner 1 .*least length is \d+\.\d mm"):
        resolve(changed(spec, runners={"length": 400.0}))


def test_shorter_than_plate_and_stub_is_a_complaint_about_the_key(spec) -> None:
    with pytest.raises(SpecError) as caught:
        resolve(changed(spec, runners={"length": 60.0}))
    assert caught.value.problems[0].path == ("runners", "length")


def test_tuned_without_a_cam_is_a_complaint(spec) -> None:
    said = spec.model_dump(by_alias=True)
    said["engine"]["cam"] = None
    with pytest.raises(SpecError, match="cam"):
        resolve(HeaderSpec.model_validate(said))


def test_length_from_the_valve_takes_off_the_port(spec) -> None:
    found = resolve(changed(spec, runners={"length": 755.0, "length_from": "valve"}))
    assert found.design.runners[0].account.total == pytest.approx(755.0 - 85.0, abs=0.01)


def test_each_cylinder_may_have_its_own_length(spec) -> None:
    wanted = (650.0, 660.0, 670.0, 680.0)
    found = resolve(changed(spec, runners={"length": wanted}))
    for runner, length in zip(found.design.runners, wanted, strict=True):
        assert runner.account.total == pytest.approx(length, abs=0.01)


def test_lengths_go_by_cylinder_number_whatever_the_order_along_the_head(spec) -> None:
    said = changed(spec, runners={"length": (650.0, 660.0, 670.0, 680.0)}).model_dump(by_alias=True)
    said["heads"][0]["cylinders"] = (4, 3, 2, 1)
    turned = HeaderSpec.model_validate(said)
    fixed = fixed_parts(turned)
    assert [port.cylinder for port in fixed.ports] == [4, 3, 2, 1]
    assert fixed.targets == (680.0, 670.0, 660.0, 650.0)
    edges = routing_problem(turned, fixed).edges
    assert edges[0].name == "runner 4"
    assert edges[0].length - edges[3].length == pytest.approx(30.0)
    said["runners"]["length"] = (650.0, 60.0, 670.0, 680.0)
    short = HeaderSpec.model_validate(said)
    with pytest.raises(SpecError) as caught:
        routing_problem(short, fixed_parts(short))
    assert caught.value.problems[0].path == ("runners", "length", 1)


def test_design_is_hashable_and_frozen(demo_design) -> None:
    hash(demo_design.assembly)
    with pytest.raises(AttributeError):
        demo_design.name = "other"  # type: ignore[misc]
    assert replace(demo_design, name="x").part_name == "x"
