"""The 4-2-1 demo: from its lock, byte for byte; what depends on its junctions' poses."""

import json
import math
from dataclasses import replace

import pytest

from geomgen.checks import pairing, runner_gap, slot_order
from geomgen.design import lock as locks
from geomgen.design.fixed import fixed_parts
from geomgen.design.laying import lay_out, task
from geomgen.design.model import Design
from geomgen.design.no_route import NoRoute
from geomgen.design.resolve import Resolved, resolve
from geomgen.errors import SpecError, Verdict
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import distance
from geomgen.report.result_json import Facts, document
from geomgen.routing.failure import moved
from geomgen.routing.junctions import out_of_reach
from geomgen.routing.problem import Impossible, NotFound
from geomgen.routing.solve import quiet
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load


@pytest.fixture(scope="module")
def text(demo_file) -> str:
    return demo_file.with_name("larkfield-18-pairs.lock.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def spec(demo_file) -> HeaderSpec:
    file = demo_file.with_name("larkfield-18-pairs.yaml")
    return load(file.read_bytes(), file.name).required()


@pytest.fixture(scope="module")
def resolved(spec, text) -> Resolved:
    return resolve(spec, text)


@pytest.fixture(scope="module")
def design(resolved) -> Design:
    return resolved.design


def said(spec: HeaderSpec, **sections) -> HeaderSpec:
    return HeaderSpec.model_validate({**spec.model_dump(by_alias=True), **sections})


def test_the_lock_holds_with_its_junctions_and_reads_back_to_the_last_bit(spec, text, resolved):
    assert not resolved.solved
    asked = task(spec, text, {})
    assert asked.old is not None
    assert len(asked.old.junctions) == 2
    assert locks.write(asked.old, asked.names) == text
    for pose, body in zip(asked.old.junctions, ("cone 1", "cone 2"), strict=True):
        (cone,) = [b for b in resolved.design.problem.bodies if b.name == body]
        away = distance(cone.path.start.origin, pose.origin)
        assert cone.path.start.origin == pytest.approx(pose.moved(away).origin, abs=1e-12)


@pytest.mark.parametrize("key", ["at", "z"])
def test_a_lock_whose_junction_was_moved_by_hand_is_not_used(spec, text, key) -> None:
    """Its tubes then begin and end elsewhere."""
    asked = task(spec, text, {})
    assert asked.old is not None
    one, two = asked.old.junctions
    turned = one.shifted((0.0, 0.1, 0.0)) if key == "at" else replace(one, x=one.y)
    edited = locks.write(replace(asked.old, junctions=(turned, two)), asked.names)
    again = task(spec, edited, {})
    from geomgen.design.laying import held

    assert held(again, edited) is None


def test_both_kinds_of_tube_have_their_lengths(design) -> None:
    assert [r.account.total for r in design.runners] == pytest.approx([381.0] * 4, abs=0.01)
    # 850 (180 + 56) / 4800 - 18 in, in mm: the book less its port and its primaries.
    wanted = (850.0 * 236.0 / 4800.0 - 18.0) * 25.4
    assert [s.account.total for s in design.secondaries] == pytest.approx([wanted] * 2, abs=0.01)
    assert [s.cylinders for s in design.secondaries] == [(1, 4), (2, 3)]


def test_pairing_passes_and_a_wrong_one_fails(design) -> None:
    found = pairing.run(design)
    assert {f.subject: f.verdict for f in found} == {"1+4": Verdict.PASS, "2+3": Verdict.PASS}
    assert all(f.value == pytest.approx(360) for f in found)
    wrong = replace(design.collector, groups=((1, 3), (2, 4), (1, 2, 3, 4)))
    found = pairing.run(replace(design, collector=wrong))
    assert {f.verdict for f in found} == {Verdict.FAIL}
    assert all(f.value == pytest.approx(180) and f.limit == pytest.approx(360) for f in found)
    assert "180 deg after 1" in found[0].message
    assert "1+4 and 2+3" in found[0].remedy


@pytest.mark.parametrize(
    ("order", "groups", "verdicts"),
    [
        # A cross-plane eight's bank: 90 deg apart must not share, 270 is the best there is.
        ((1, 8, 4, 3, 6, 5, 7, 2), ((5, 7), (1, 3)), ("fail", "pass")),
        ((1, 8, 4, 3, 6, 5, 7, 2), ((1, 5), (3, 7)), ("pass", "pass")),
        # A six in threes at 240, or less.
        ((1, 5, 3, 6, 2, 4), ((1, 2, 3), (4, 5, 6)), ("pass", "pass")),
        ((1, 5, 3, 6, 2, 4), ((1, 2, 4), (3, 5, 6)), ("fail", "fail")),
        # In pairs it could have 360; at 240 no two valves are open together.
        ((1, 5, 3, 6, 2, 4), ((1, 2), (4, 5), (3, 6)), ("warn", "warn", "fail")),
        # A five has no better than 144: what is as good as can be passes.
        ((1, 2, 4, 5, 3), ((1, 4), (2, 3, 5)), ("pass", "pass")),
    ],
)
def test_pairing_of_other_engines(design, order, groups, verdicts) -> None:
    everyone = tuple(sorted(c for group in groups for c in group))
    runners = tuple(replace(design.runners[0], cylinder=c) for c in everyone)
    collector = replace(design.collector, groups=(*groups, everyone))
    other = replace(design, firing_order=order, runners=runners, collector=collector)
    assert tuple(str(f.verdict) for f in pairing.run(other)) == verdicts


def test_no_groups_no_pairing(demo_design) -> None:
    assert pairing.run(demo_design) == ()


def test_a_primary_may_be_pinned_in_its_own_merge_only(spec) -> None:
    runners = {**spec.runners.model_dump(), "slots": {1: 2}}
    with pytest.raises(SpecError) as refused:
        task(said(spec, runners=runners), None, {})
    assert refused.value.problems[0].path == ("runners", "slots", "1")
    runners = {**spec.runners.model_dump(), "slots": {1: 1}}
    asked = task(said(spec, runners=runners), None, {})
    assert asked.problem.edges[0].slots == (1,)


def test_places_are_told_only_where_they_are_pinned(design) -> None:
    assert slot_order.run(design) == ()


def test_a_primary_on_a_secondary_is_found_whatever_is_straight(design) -> None:
    """No part of a tube is exempt from tubes of another merge, not even its last straight."""
    primary, secondary = design.runners[0], design.secondaries[1]
    at = secondary.path.start.moved(60.0).origin
    last = primary.path.pieces[-1]
    assert isinstance(last, Straight)
    shift = tuple(a - b for a, b in zip(at, primary.path.end.moved(-5.0).origin, strict=True))
    laid = Centreline(primary.path.start.shifted(shift), primary.path.pieces)
    wrong = replace(design, runners=(replace(primary, path=laid), *design.runners[1:]))
    subjects = {f.subject for f in runner_gap.run(wrong) if f.verdict is Verdict.FAIL}
    assert "runner 1 / secondary 2" in subjects


def test_the_collector_moves_as_one(design) -> None:
    """Everything behind the ports keeps its place to everything else."""
    by = (0.0, 5.0, -2.0)
    old, new = design.problem, moved(design.problem, by)
    for a, b in zip(old.slots, new.slots, strict=True):
        assert a.shifted(by) == b
    for a, b in zip(old.edges, new.edges, strict=True):
        assert b.start == (a.start.shifted(by) if a.name.startswith("secondary") else a.start)
    for a, b in zip(old.bodies, new.bodies, strict=True):
        kept = a.name.startswith("transition")
        assert b.path.start == (a.path.start if kept else a.path.start.shifted(by))


def test_result_has_secondaries_and_groups(design) -> None:
    tree = json.loads(json.dumps(document(design, Facts(()))))
    assert [row["cylinders"] for row in tree["secondaries"]] == [[1, 4], [2, 3]]
    for row in tree["secondaries"]:
        parts = row["junction_mm"] + row["tube_mm"] + row["stub_mm"]
        assert parts == pytest.approx(row["length_mm"], abs=1e-9)
    groups = tree["collector"]["groups"]
    assert [g["cylinders"] for g in groups] == [[1, 4], [2, 3], [1, 2, 3, 4]]
    assert [g["least_interval_deg"] for g in groups] == pytest.approx([360, 360, 180])


def test_gas_of_the_design_is_what_its_facts_say(design) -> None:
    facts = dict(design.collector.facts)
    bore = math.pi * design.secondaries[0].inner_radius ** 2
    assert facts["secondary_tube_mm"] == pytest.approx(design.secondaries[0].path.length, abs=0.01)
    assert facts["secondary_volume_cc"] == pytest.approx(
        bore * design.secondaries[0].path.length / 1000.0, rel=1e-4
    )


def far(spec: HeaderSpec, **more) -> HeaderSpec:
    """Both merges two metres away, where no tube of the spec's lengths goes."""
    places = [{"at": [2000 + 200 * k, -200, 200], **more} for k in (0, 1)]
    return said(spec, collector={**spec.collector.model_dump(by_alias=True), "merges": places})


def test_what_is_impossible_is_said_in_the_lengths_that_were_asked(spec) -> None:
    with pytest.raises(NoRoute) as refused:
        resolve(far(spec, room=0, direction=[1, 0, 0]), None)
    assert isinstance(refused.value.answer, Impossible)
    assert "runner 1 is asked to be 381.0 mm" in str(refused.value)
    assert refused.value.problem.path == ("runners", "length")
    assert "collector.merges" in refused.value.problem.remedy


def test_nothing_is_called_impossible_while_merges_may_stand_elsewhere(spec) -> None:
    with pytest.raises(NoRoute) as refused:
        resolve(far(spec, room=20), None)
    assert isinstance(refused.value.answer, NotFound)
    assert "of merge 1 and merge 2 no places were found" in str(refused.value)
    assert "proves nothing" in str(refused.value)
    assert refused.value.problem.path == ("collector", "merges")
    assert "begin 270 mm apart" in refused.value.problem.found


def test_ports_and_last_merge_too_far_apart_are_impossible_wherever_merges_stand(spec) -> None:
    """End to end in one straight line: what the tubes and the merge reach, by hand."""
    collector = spec.collector.model_dump(by_alias=True)
    away = said(spec, collector={**collector, "at": [1500, -470, 190], "direction": [1, 0, 0]})
    asked = task(away, None, {})
    with pytest.raises(NoRoute) as refused:
        lay_out(asked, quiet)
    answer = refused.value.answer
    assert isinstance(answer, Impossible)
    assert (answer.kind, answer.edge) == ("floor", "secondary 1")
    assert refused.value.problem.path == ("collector", "secondary", "length")
    # The port of cylinder 1 is at the origin, and no slot of the last merge is far from its axis.
    tubes = {edge.name: edge for edge in asked.problem.edges}
    begin, link = tubes["runner 1"].start.origin, tubes["secondary 1"]
    slots = asked.problem.slots
    end = min(math.dist(begin, slots[s].origin) for s in link.slots or ())
    merge = max(
        math.dist(slots[s].origin, link.start.origin) for s in tubes["runner 1"].slots or ()
    )
    assert answer.floor == pytest.approx(end - tubes["runner 1"].length - merge)
    assert end == pytest.approx(math.dist(begin, (1500, -470, 190)), abs=60.0)
    # A secondary as long as that, and not a bit longer, is not refused by it.
    taken = asked.fixed.layout.links[0].length - link.length
    enough = {**collector["secondary"], "length": answer.floor + taken + 0.01}
    longer = {**collector, "at": [1500, -470, 190], "direction": [1, 0, 0], "secondary": enough}
    assert out_of_reach(task(said(spec, collector=longer), None, {}).problem) is None


def test_a_secondary_shorter_than_its_merges_is_refused_at_its_key(spec) -> None:
    collector = spec.collector.model_dump(by_alias=True)
    short = {**collector, "secondary": {**collector["secondary"], "length": 100}}
    with pytest.raises(SpecError) as refused:
        task(said(spec, collector=short), None, {})
    assert refused.value.problems[0].path == ("collector", "secondary", "length")


def test_no_common_length_is_sought_beside_secondaries(spec) -> None:
    runners = {**spec.runners.model_dump(), "length": "shortest"}
    with pytest.raises(SpecError) as refused:
        task(said(spec, runners=runners), None, {})
    assert refused.value.problems[0].path == ("runners", "length")


def test_only_the_book_parts_a_length(spec) -> None:
    runners = {**spec.runners.model_dump(), "tuned_by": "acoustic-front"}
    with pytest.raises(SpecError) as refused:
        task(said(spec, runners=runners), None, {})
    assert refused.value.problems[0].path == ("runners", "tuned_by")


def test_collector_volumes_add_up(design) -> None:
    facts = dict(design.collector.facts)
    outlet = facts["outlet_volume_cc"]
    assert outlet == pytest.approx(math.pi * 30.25**2 * 150.0 / 1000.0)
    assert facts["collector_volume_cc"] == pytest.approx(facts["merge_volume_cc"] + outlet)
    # Two bores of 51 mm into one of 60.5: more than one of them, less than both, all the way.
    length = facts["collector_length_mm"] - facts["outlet_length_mm"]
    one = math.pi * 25.5**2 * length / 1000.0
    assert one < facts["merge_volume_cc"] < 2.0 * one


def test_junctions_elsewhere_are_as_if_laid_out_there(spec, text) -> None:
    """Only what moves is made anew, and nothing else would have come out otherwise."""
    asked = task(spec, text, {})
    assert asked.old is not None
    assert asked.fixed == fixed_parts(spec, asked.old.junctions)
