"""Pins and the bench: what the router is told to keep, and what is refused."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.checks import bends_on_shelf, straights
from geomgen.design import lock as locks
from geomgen.design.fixed import fixed_parts
from geomgen.design.kept import numbers_now, with_kept
from geomgen.design.network import routing_problem
from geomgen.errors import SpecError, Verdict
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, angle_between, distance
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load

NAMES = tuple(f"runner {i}" for i in (1, 2, 3, 4))


@pytest.fixture(scope="module")
def spec(demo_file) -> HeaderSpec:
    return load(demo_file.read_bytes(), demo_file.name).required()


@pytest.fixture(scope="module")
def problem(spec):
    return routing_problem(spec, fixed_parts(spec))


@pytest.fixture(scope="module")
def lock(demo_resolved, problem) -> locks.Lock:
    """The demo's lock as this version writes it: with its starts."""
    found = locks.read(demo_resolved.lock, NAMES)
    assert found is not None
    return replace(found, starts=tuple(edge.start for edge in problem.edges))


def said(spec: HeaderSpec, **sections) -> HeaderSpec:
    return HeaderSpec.model_validate({**spec.model_dump(by_alias=True), **sections})


def kept(spec: HeaderSpec, problem, lock, **sections):
    return with_kept(said(spec, **sections), problem, lock)


def refusal(spec: HeaderSpec, problem, lock, **sections):
    with pytest.raises(SpecError) as caught:
        kept(spec, problem, lock, **sections)
    (complaint,) = caught.value.problems
    return complaint


def test_nothing_said_changes_nothing(spec, problem, lock) -> None:
    found = with_kept(spec, problem, lock)
    assert found.problem is problem
    assert found.pins == ()


def test_a_whole_runner_and_its_slot(spec, problem, lock, demo_design) -> None:
    found = kept(spec, problem, lock, pins=[{"runner": 2}])
    edge, others = found.problem.edges[1], [found.problem.edges[i] for i in (0, 2, 3)]
    assert edge.kept == (demo_design.runners[1].path,)
    assert edge.slots == (demo_design.runners[1].slot,)
    assert edge.length == problem.edges[1].length
    assert all(other.kept == () and other.slots is None for other in others)


@pytest.mark.parametrize("runner", [1, 2, 3, 4])
@pytest.mark.parametrize("bend", [1, 2])
def test_a_bend_where_it_stands(spec, problem, lock, demo_design, runner, bend) -> None:
    found = kept(spec, problem, lock, pins=[{"runner": runner, "bend": bend}])
    path = demo_design.runners[runner - 1].path
    (part,) = found.problem.edges[runner - 1].kept
    index = 2 * bend - 1  # straight, bend, straight, bend, straight
    (piece,) = part.pieces
    assert (piece.radius, piece.angle) == (path.pieces[index].radius, path.pieces[index].angle)
    assert distance(part.start.origin, path.frames[index].origin) < 1e-9
    assert distance(part.end.origin, path.frames[index + 1].origin) < 1e-9
    assert angle_between(part.end.z, path.frames[index + 1].z) < 1e-12
    assert found.problem.edges[runner - 1].slots is None
    assert [(p.runner, p.part) for p in found.pins] == [(f"runner {runner}", f"bend {bend}")]


def test_the_first_straight_begins_exactly_at_the_start(spec, problem, lock) -> None:
    edge = kept(spec, problem, lock, pins=[{"runner": 1, "straight": 1}]).problem.edges[0]
    first = lock.pieces[0][0]
    assert isinstance(first, Straight)
    assert edge.kept == (Centreline(edge.start, (first,)),)


def test_the_last_straight_holds_its_slot(spec, problem, lock, demo_design) -> None:
    edge = kept(spec, problem, lock, pins=[{"runner": 1, "straight": 3}]).problem.edges[0]
    assert edge.slots == (demo_design.runners[0].slot,)
    assert distance(edge.kept[-1].end.origin, problem.slots[edge.slots[0]].origin) < 1e-6


def test_parts_that_touch_are_kept_as_one_in_order(spec, problem, lock, demo_design) -> None:
    pins = [{"runner": 3, "bend": 2}, {"runner": 3, "straight": 2}, {"runner": 3, "bend": 1}]
    edge = kept(spec, problem, lock, pins=pins).problem.edges[2]
    (part,) = edge.kept
    path = demo_design.runners[2].path
    assert part.length == pytest.approx(math.fsum(p.length for p in path.pieces[1:4]), abs=1e-9)
    assert distance(part.end.origin, path.frames[4].origin) < 1e-9
    every = [*pins, {"runner": 3, "straight": 1}, {"runner": 3, "straight": 3}]
    (all_of_it,) = kept(spec, problem, lock, pins=every).problem.edges[2].kept
    assert all_of_it.start == edge.start
    for a, b in zip(all_of_it.frames, path.frames, strict=True):
        assert distance(a.origin, b.origin) < 1e-9


@pytest.mark.parametrize(
    ("pin", "found", "allowed"),
    [
        ({"runner": 2, "bend": 3}, "bend 3 of runner 2", "bends 1 to 2"),
        ({"runner": 2, "straight": 4}, "straight 4 of runner 2", "straights 1, 2, 3"),
    ],
)
def test_a_pin_on_nothing(spec, problem, lock, pin, found, allowed) -> None:
    complaint = refusal(spec, problem, lock, pins=[{"runner": 1}, pin])
    assert complaint.path == ("pins", 1)
    assert complaint.found == found
    assert allowed in complaint.allowed


@pytest.mark.parametrize("pin", [{"runner": 2}, {"runner": 2, "bend": 1}])
def test_a_pin_without_a_lock(spec, problem, pin) -> None:
    complaint = refusal(spec, problem, None, pins=[pin])
    assert complaint.path == ("pins", 0)
    assert "no lock" in complaint.found
    assert "geomgen route" in complaint.remedy


def test_every_bad_pin_in_one_run(spec, problem, lock) -> None:
    with pytest.raises(SpecError) as caught:
        kept(spec, problem, lock, pins=[{"runner": 1, "bend": 9}, {"runner": 4, "bend": 9}])
    assert [c.path for c in caught.value.problems] == [("pins", 0), ("pins", 1)]


def test_a_whole_runner_of_another_length(spec, problem, lock) -> None:
    longer = replace(problem.edges[1], length=problem.edges[1].length + 5.0)
    edges = (problem.edges[0], longer, *problem.edges[2:])
    complaint = refusal(spec, replace(problem, edges=edges), lock, pins=[{"runner": 2}])
    assert "-5.00 mm off" in complaint.found


def test_a_whole_runner_whose_ends_moved(spec, problem, lock) -> None:
    aside = [slot.moved(4.0) for slot in problem.slots]
    complaint = refusal(spec, replace(problem, slots=tuple(aside)), lock, pins=[{"runner": 2}])
    assert "4.00 mm from where it ends" in complaint.found
    start = problem.edges[1].start
    port = replace(problem.edges[1], start=Frame(start.point((3.0, 0.0, 0.0)), start.x, start.z))
    edges = (problem.edges[0], port, *problem.edges[2:])
    complaint = refusal(spec, replace(problem, edges=edges), lock, pins=[{"runner": 2}])
    assert "3.00 mm from where it began" in complaint.found


def test_a_bend_stays_put_when_its_port_moves(spec, problem, lock) -> None:
    """What is pinned is pinned in space: the start in the lock counts, not today's."""
    where = kept(spec, problem, lock, pins=[{"runner": 2, "bend": 2}]).problem.edges[1].kept
    start = problem.edges[1].start
    port = replace(problem.edges[1], start=Frame(start.point((3.0, 0.0, 0.0)), start.x, start.z))
    moved = replace(problem, edges=(problem.edges[0], port, *problem.edges[2:]))
    assert kept(spec, moved, lock, pins=[{"runner": 2, "bend": 2}]).problem.edges[1].kept == where


def test_a_lock_without_starts_serves_while_it_closes(spec, problem, lock) -> None:
    old = replace(lock, starts=())
    pins = [{"runner": 2, "bend": 2}]
    assert kept(spec, problem, old, pins=pins) == kept(spec, problem, lock, pins=pins)
    aside = replace(problem, slots=tuple(slot.moved(4.0) for slot in problem.slots))
    assert "no lock" in refusal(spec, aside, old, pins=pins).found


def test_a_pin_against_the_slot_that_the_spec_gives(spec, problem, lock) -> None:
    edges = tuple(replace(edge, slots=((i + 1) % 4,)) for i, edge in enumerate(problem.edges))
    taken = replace(problem, edges=edges)
    for pin in ({"runner": 2}, {"runner": 2, "straight": 3}):
        complaint = refusal(spec, taken, lock, pins=[pin])
        assert complaint.found == f"runner 2, which ends in slot {lock.slots[1]}"
        assert complaint.remedy.startswith("change runners.slots")


# Over and over


def renumbered(lock: locks.Lock, pins) -> locks.Lock:
    """As after a new solution that put a bend before the pinned first bend of runner 3."""
    first, bend, *rest = lock.pieces[2]
    extra = Bend(67.5, math.radians(20.0))
    start = lock.starts[2]
    pieces = (Straight(5.0), extra, first, bend, *rest)
    # The tube as a whole is moved so that the pinned bend stands where it stood.
    away = Centreline(start, pieces).frames[3]
    there = Centreline(start, lock.pieces[2]).frames[1]
    turned = _carried(start, away, there)
    starts = (*lock.starts[:2], turned, lock.starts[3])
    return replace(
        lock, pieces=(*lock.pieces[:2], pieces, lock.pieces[3]), starts=starts, pins=pins
    )


def _carried(start: Frame, a: Frame, b: Frame) -> Frame:
    """The start carried along by the motion that takes frame a to frame b."""

    def vector(v):
        local = tuple(sum(p * q for p, q in zip(v, axis, strict=True)) for axis in (a.x, a.y, a.z))
        return b.vector(local)

    return Frame(b.point(a.local(start.origin)), vector(start.x), vector(start.z))


def test_a_pin_means_the_same_piece_after_it_got_another_number(spec, problem, lock) -> None:
    pins = [{"runner": 3, "bend": 1}]
    first = kept(spec, problem, lock, pins=pins)
    later = renumbered(lock, first.pins)
    path = Centreline(later.starts[2], later.pieces[2])
    assert numbers_now(first.pins, "runner 3", path) == {"bend 1": "bend 2"}
    again = kept(spec, problem, later, pins=pins)
    assert again.problem.edges[2].kept == first.problem.edges[2].kept
    assert again.pins == first.pins
    # An old number beside a new one is refused; today's numbers are taken.
    mixed = refusal(spec, problem, later, pins=[*pins, {"runner": 3, "bend": 3}])
    assert mixed.path == ("pins", 0)
    assert "is bend 2 in the layout now" in mixed.found
    today = kept(spec, problem, later, pins=[{"runner": 3, "bend": 2}, {"runner": 3, "bend": 3}])
    assert [pin.part for pin in today.pins] == ["bend 2", "bend 3"]
    assert distance(today.pins[0].path.start.origin, first.pins[0].path.start.origin) < 1e-9
    both = kept(spec, problem, later, pins=[{"runner": 3, "bend": 1}, {"runner": 3, "bend": 2}])
    assert distance(both.pins[1].path.start.origin, first.pins[0].path.start.origin) < 1e-9
    # Pins of other runners are nobody's business.
    other = kept(spec, problem, later, pins=[*pins, {"runner": 1, "bend": 1}])
    assert other.problem.edges[2].kept == first.problem.edges[2].kept


def test_pins_in_the_lock_to_the_last_digit(spec, problem, lock) -> None:
    pins = [{"runner": 3, "bend": 1}, {"runner": 3, "straight": 3}, {"runner": 1, "bend": 2}]
    found = kept(spec, problem, lock, pins=pins).pins
    again = locks.read(locks.write(replace(lock, pins=found), NAMES), NAMES)
    assert again is not None
    assert again == replace(lock, pins=found)


def test_a_lock_that_moved_a_pinned_part_does_not_hold(spec, problem, lock) -> None:
    standing = kept(spec, problem, lock, pins=[{"runner": 3, "bend": 1}]).problem
    assert locks.paths(lock, standing) is not None
    (part,) = standing.edges[2].kept
    aside = replace(standing.edges[2], kept=(Centreline(part.start.moved(0.01), part.pieces),))
    edges = (*standing.edges[:2], aside, standing.edges[3])
    assert locks.paths(lock, replace(standing, edges=edges)) is None


@pytest.mark.parametrize(
    "spoil",
    [
        lambda text: text.replace("part: bend 1, at: [", "part: bend 1, at: [x"),
        lambda text: text.replace("runner: runner 3", "runner: runner 9"),
        lambda text: text.replace("pins:\n", "pins: 3\n#"),
        lambda text: text.replace("start: {at: [", "start: {at: [.inf, "),
        lambda text: text.replace("x: [1.0,", "x: [0.9,"),
        lambda text: text.replace("{straight: ", "{straight: 1.0e+300, x: ", 1),
        lambda text: text.replace(
            "    pieces:\n", "    pieces:\n" + "      - {straight: 0}\n" * 300
        ),
    ],
)
def test_spoilt_pins_spoil_the_lock(spec, problem, lock, spoil) -> None:
    pins = kept(spec, problem, lock, pins=[{"runner": 3, "bend": 1}]).pins
    text = locks.write(replace(lock, pins=pins), NAMES)
    assert spoil(text) != text
    assert locks.read(spoil(text), NAMES) is None


# The bench

TACKED = [{"straight": 52.5}, {"bend": 67.5, "angle": 81.5, "clock": -64}]


def test_what_is_tacked_is_a_prefix_to_the_last_digit(spec, problem, lock) -> None:
    bench = [{"runner": 2, "tacked": [*TACKED, {"straight": 20}, {"straight": 12.25}]}]
    for beside in (lock, None):  # the bench needs no lock
        edge = kept(spec, problem, beside, bench=bench).problem.edges[1]
        pieces = (
            Straight(52.5),
            Bend(67.5, math.radians(81.5), math.radians(-64.0)),
            Straight(32.25),
        )
        assert edge.kept == (Centreline(edge.start, pieces),)
        assert edge.length == problem.edges[1].length
        assert edge.slots is None


@pytest.mark.parametrize(
    ("clock", "way"), [(0, (1, 0, 0)), (90, (0, 1, 0)), (180, (-1, 0, 0)), (-90, (0, -1, 0))]
)
def test_the_first_clock_as_one_looks_at_the_flange(spec, problem, clock, way) -> None:
    """0 to the right, 90 up, 180 left, -90 down; a right angle of bend lies in the face."""
    bench = [{"runner": 1, "tacked": [{"bend": 67.5, "angle": 90, "clock": clock}]}]
    long = replace(problem, edges=tuple(replace(e, length=1200.0) for e in problem.edges))
    (part,) = kept(spec, long, None, bench=bench).problem.edges[0].kept
    assert part.end.z == pytest.approx(way, abs=1e-12)


@given(st.floats(-180.0, 180.0), st.floats(20.0, 170.0), st.floats(20.0, 170.0))
def test_the_clock_is_the_turn_between_planes(clock: float, first: float, second: float) -> None:
    """Rodrigues: the second plane is the first turned about the straight, seen along the gas."""
    path = Centreline(
        Frame(),
        (
            Bend(60.0, math.radians(first), 0.3),
            Straight(80.0),
            Bend(60.0, math.radians(second), math.radians(clock)),
        ),
    )
    into, out = path.frames[1], path.frames[3]
    normal = path.frames[0].rolled(0.3).y  # square to the first plane; clockwise seen along z
    c, s = math.cos(math.radians(clock)), math.sin(math.radians(clock))
    axis = into.z
    cross = (
        axis[1] * normal[2] - axis[2] * normal[1],
        axis[2] * normal[0] - axis[0] * normal[2],
        axis[0] * normal[1] - axis[1] * normal[0],
    )
    turned = tuple(c * n + s * x for n, x in zip(normal, cross, strict=True))
    assert sum(a * b for a, b in zip(turned, out.z, strict=True)) == pytest.approx(0.0, abs=1e-9)


def test_more_tacked_than_the_runner_is_long(spec, problem, lock) -> None:
    bench = [{"runner": 2, "tacked": [*TACKED, {"straight": 600}]}]
    complaint = refusal(spec, problem, lock, bench=bench)
    assert complaint.path == ("bench", 0, "tacked")
    assert "748.5 mm of runner 2" in complaint.found
    assert f"{problem.edges[1].length:.1f} mm" in complaint.allowed


def test_a_pin_beyond_what_is_tacked_and_one_within(spec, problem, lock, demo_design) -> None:
    path = demo_design.runners[1].path
    bench = [{"runner": 2, "tacked": [{"straight": 60}]}]
    edge = kept(spec, problem, lock, bench=bench, pins=[{"runner": 2, "bend": 2}]).problem.edges[1]
    assert [len(part.pieces) for part in edge.kept] == [1, 1]
    assert distance(edge.kept[1].start.origin, path.frames[3].origin) < 1e-9
    within = refusal(spec, problem, lock, bench=bench, pins=[{"runner": 2, "straight": 1}])
    assert within.path == ("pins", 0)
    assert "60.0 mm that are tacked" in within.found


def test_tacked_tube_off_the_shelf_only_warns(demo_design) -> None:
    """Once as designed anew, which fails; once as tacked, which warns."""
    runner = demo_design.runners[0]
    straight, bend, *rest = runner.path.pieces
    odd = Centreline(runner.path.start, (Straight(4.0), replace(bend, radius=70.0), *rest))
    changed = replace(demo_design, runners=(replace(runner, path=odd), *demo_design.runners[1:]))
    edge = replace(demo_design.problem.edges[0], kept=(Centreline(odd.start, odd.pieces[:2]),))
    edges = (edge, *demo_design.problem.edges[1:])
    tacked = replace(changed, problem=replace(demo_design.problem, edges=edges))
    assert straight.length > 10.0
    for check in (bends_on_shelf, straights):
        assert check.run(changed)[0].verdict is Verdict.FAIL
        assert check.run(tacked)[0].verdict is Verdict.WARN
        assert check.run(tacked)[0].remedy == "it is there already"


# Inputs


def test_pins_and_bench_are_inputs_and_nothing_said_is_none(spec) -> None:
    bare = locks.fingerprint(spec, (670.0,) * 4, {})
    pinned = locks.fingerprint(said(spec, pins=[{"runner": 2}]), (670.0,) * 4, {})
    other = locks.fingerprint(said(spec, pins=[{"runner": 3}]), (670.0,) * 4, {})
    bench = [{"runner": 2, "tacked": TACKED}]
    tacked = locks.fingerprint(said(spec, bench=bench), (670.0,) * 4, {})
    assert len({bare, pinned, other, tacked}) == 4
    assert locks.fingerprint(said(spec, pins=[], bench=[]), (670.0,) * 4, {}) == bare


def test_the_committed_lock_holds(demo_resolved) -> None:
    """New keys with defaults leave its hash alone."""
    assert not demo_resolved.solved
