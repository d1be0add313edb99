"""Where runners are cut: pieces that the shelf can give, fewest joints, straights before bends."""

import math
from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.checks import joints as check
from geomgen.design.joints import Joint, joints_of, stock_for, straights_of
from geomgen.design.model import Stock
from geomgen.errors import Verdict
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame

LEAST = 10.0
U_BEND = Stock("U-bend", 60.0, math.pi, legs=(100.0, 100.0))
J_BEND = Stock("J-bend", 60.0, math.pi / 2, legs=(40.0, 250.0))
ELBOW = Stock("elbow", 60.0, math.pi / 2)
DIE = Stock("die", 60.0, math.pi, made="bent")


def path(*parts: float) -> Centreline:
    """Straight, bend angle in degrees, straight, ..., straight."""
    pieces = [
        Straight(part) if i % 2 == 0 else Bend(60.0, math.radians(part), 0.7)
        for i, part in enumerate(parts)
    ]
    return Centreline(Frame(), tuple(pieces))


def test_a_runner_bent_on_a_die_is_one_piece():
    assert joints_of(path(50, 90, 90, 60, 50), (DIE,), LEAST) == ()


def test_two_whole_bends_are_joined_half_way_along_the_straight():
    """90 deg bends with 100 mm legs, 120 mm between them: 60 and 60."""
    whole = replace(U_BEND, most=math.pi / 2)
    (joint,) = joints_of(path(80, 90, 120, 90, 70), (whole,), LEAST)
    assert joint == Joint(1, 60.0, 60.0, (), True)


def test_half_way_gives_way_to_a_short_leg():
    """J-bends with legs of 40 and 250: 120 between them; the flange end wants 80, the far 200.

    The first bend keeps its long leg for the 80, so 40 reach into the straight; the second
    keeps its long leg for the 200, so 40 more: 80 are missing 40, and straight is let in,
    unless one long leg is turned inwards and straight is let in at an end. Both are two
    joints; between the bends both lie in straights.
    """
    found = joints_of(path(80, 90, 120, 90, 200), (J_BEND,), LEAST)
    assert len(found) == 2
    assert all(joint.clear for joint in found)
    (joint,) = joints_of(path(30, 90, 120, 90, 200), (J_BEND,), LEAST)
    assert joint == Joint(1, 80.0, 40.0, (), True)


def test_one_bend_cut_from_a_u_bend_has_one_oval_end():
    """50 mm at either end, one of them on the leg: one joint, at the bend, oval."""
    (joint,) = joints_of(path(50, 60, 50), (U_BEND,), LEAST)
    assert joint.cut == (1,)
    assert not joint.clear


def test_bends_that_touch_meet_round_end_to_oval_end_where_they_can():
    """Bend welded to bend: the leg of one is trimmed to nothing, which is round."""
    found = joints_of(path(50, 60, 0, 60, 50), (U_BEND,), LEAST)
    assert [joint.cut for joint in found if joint.straight == 1] in ([(1,)], [(2,)])
    assert all(len(joint.cut) < 2 for joint in found)


def test_elbows_of_their_whole_angle_are_round_at_both_ends():
    found = joints_of(path(50, 90, 40, 90, 50), (ELBOW,), LEAST)
    assert [(j.straight, j.before, j.behind, j.cut) for j in found] == [
        (0, 50.0, 0.0, ()),
        (1, 0.0, 40.0, ()),
        (1, 40.0, 0.0, ()),
        (2, 0.0, 50.0, ()),
    ]


def test_straight_that_is_let_in_is_never_too_short_to_hold():
    """Legs of 100 on 205 mm would leave 5 mm of tube to weld in: the legs give way, to 10."""
    whole = replace(U_BEND, most=math.pi / 2)
    one, two = joints_of(path(50, 90, 205, 90, 50), (whole,), LEAST)
    assert two.before - one.before == pytest.approx(LEAST)
    assert one.before == pytest.approx(two.behind)


def test_a_bend_is_made_of_the_line_that_has_its_whole_angle():
    shelf = (U_BEND, J_BEND, DIE)
    assert stock_for(Bend(60.0, math.pi / 2), shelf) is J_BEND
    assert stock_for(Bend(60.0, 1.0), shelf) is U_BEND
    assert stock_for(Bend(61.0, 1.0), shelf) is None


bends = st.lists(
    st.tuples(st.sampled_from([30.0, 60.0, 90.0]), st.sampled_from([0.0, 5.0, 30.0, 120.0, 260.0])),
    min_size=1,
    max_size=5,
)
shelves = st.sampled_from([(U_BEND,), (J_BEND,), (U_BEND, J_BEND), (ELBOW,), (J_BEND, ELBOW)])


@given(st.sampled_from([20.0, 90.0, 180.0]), bends, shelves)
def test_every_piece_can_be_cut_from_its_line(first, rest, shelf):
    """From the joints alone: what straight each bend keeps, against its line's legs."""
    tube = path(first, *[part for pair in rest for part in pair])
    found = joints_of(tube, shelf, LEAST)
    straights = straights_of(tube)
    assert straights == pytest.approx([first, *[s for _, s in rest]])
    for joint in found:
        assert joint.before + joint.behind == pytest.approx(straights[joint.straight])
        assert min(joint.before, joint.behind) >= -1e-9
    for number, bend in enumerate(tube.bends, 1):
        line = stock_for(bend, shelf)
        before = [j.behind for j in found if j.straight == number - 1]
        behind = [j.before for j in found if j.straight == number]
        kept = (
            min(before, default=straights[number - 1]),
            min(behind, default=straights[number]),
        )
        if number > 1:
            assert before, "two bends in one piece"
        legs = sorted(line.legs)
        if abs(bend.angle - line.most) < 1e-9:
            assert sorted(kept)[0] <= legs[0] + 1e-6
            assert sorted(kept)[1] <= legs[1] + 1e-6
        else:
            assert min(kept) <= 1e-6
            assert max(kept) <= legs[1] + 1e-6


@given(st.sampled_from([20.0, 90.0, 180.0]), bends, shelves)
def test_no_choice_of_ends_is_better(first, rest, shelf):
    """All choices, counted by hand: a straight beyond what reaches into it takes one more."""
    tube = path(first, *[part for pair in rest for part in pair])
    straights = straights_of(tube)
    choices = []
    for bend in tube.bends:
        line = stock_for(bend, shelf)
        a, b = sorted(line.legs)
        whole = abs(bend.angle - line.most) < 1e-9
        # Reach before and behind, and which of the two ends is cut.
        choices.append([(a, b, ""), (b, a, "")] if whole else [(b, 0.0, "|"), (0.0, b, "^")])
    best = (math.inf, math.inf)
    for chosen in product(*choices):
        pairs = list(pairwise(chosen))
        reach = [chosen[0][0], *[x[1] + y[0] for x, y in pairs], chosen[-1][1]]
        short = sum(s > r + 1e-6 for s, r in zip(straights, reach, strict=True))
        double = sum(
            s == 0.0 and x[2] == "|" and y[2] == "^"
            for s, (x, y) in zip(straights[1:-1], pairs, strict=True)
        )
        best = min(best, (double, short + len(chosen) - 1))
    found = joints_of(tube, shelf, LEAST)
    assert (sum(len(joint.cut) > 1 for joint in found), len(found)) == best


def test_the_check_counts_and_warns_where_cut_bends_meet(demo_design):
    found = check.run(demo_design)
    assert all(f.verdict is Verdict.PASS for f in found)
    assert all("oval end" in f.message for f in found)
    # Nothing on the shelf has this radius: both ends of every bend are cut.
    odd = Centreline(Frame(), (Straight(50), Bend(99, 1), Straight(0), Bend(99, 1), Straight(9)))
    runner = replace(demo_design.runners[0], path=odd)
    spoilt = replace(demo_design, runners=(runner, *demo_design.runners[1:]))
    worst = check.run(spoilt)[0]
    assert worst.verdict is Verdict.WARN
    assert worst.value == 1.0
    assert "bends 1 and 2" in worst.message
    assert worst.remedy


def test_a_one_piece_runner_says_so(demo_design):
    design = replace(demo_design, stock=(Stock("die", 67.5, math.pi, made="bent"),))
    assert {f.message for f in check.run(design)} == {"bent in one piece"}
