"""Parts of a tube in space: picked by number, joined again, found in another path; moves."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.design.moved import SPACING, Layout, farthest, moves, to_path
from geomgen.design.standing import (
    bend_part,
    joined,
    legs,
    place_of,
    straight_part,
    with_prefix,
)
from geomgen.geometry.centreline import Bend, Centreline, Straight, sample
from geomgen.geometry.frames import Frame, distance, unit

angles = st.floats(-math.pi, math.pi)
straights = st.builds(Straight, st.floats(5.0, 300.0))
bends = st.builds(Bend, st.sampled_from((50.0, 67.5)), st.floats(0.15, 3.0), angles)


@st.composite
def paths(draw) -> Centreline:
    """A tube of one to four bends somewhere in space."""
    z = unit(draw(st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(0.2, 1))))
    at = draw(st.tuples(*(st.floats(-300, 300),) * 3))
    pieces = [draw(straights)]
    for _ in range(draw(st.integers(1, 4))):
        pieces.append(draw(bends))
        pieces += [draw(straights) for _ in range(draw(st.integers(0, 2)))]
    return Centreline(Frame.facing(at, z).rolled(draw(angles)), tuple(pieces))


@given(paths())
def test_every_part_is_found_where_it_stands(path: Centreline) -> None:
    places = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
    for number, place in enumerate(places, 1):
        part = bend_part(path, number)
        assert part is not None
        assert place_of(path, part) == (place,)
        assert distance(part.end.origin, path.frames[place + 1].origin) < 1e-9
    assert bend_part(path, len(places) + 1) is None
    assert bend_part(path, 0) is None
    for number, leg in enumerate(legs(path), 1):
        part = straight_part(path, number)
        assert (part is None) == (leg.length == 0.0)
        if part is not None:
            assert place_of(path, part) == leg.pieces
    assert straight_part(path, len(places) + 2) is None


@given(paths())
def test_legs_are_the_straights_of_the_bend_table(path: Centreline) -> None:
    """Counted again by hand: bends split the tube, straights in a row are one."""
    lengths = [0.0]
    for piece in path.pieces:
        if isinstance(piece, Bend):
            lengths.append(0.0)
        else:
            lengths[-1] += piece.length
    assert [leg.length for leg in legs(path)] == lengths


@given(paths())
def test_all_parts_joined_are_the_tube_again(path: Centreline) -> None:
    parts = []
    for number, leg in enumerate(legs(path), 1):
        parts += [straight_part(path, number)] if leg.length else []
        parts += [bend_part(path, number)] if number <= len(path.bends) else []
    (whole,) = joined(tuple(parts), path.start)
    assert whole.start == path.start
    assert whole.length == pytest.approx(path.length, abs=1e-9)
    stations = np.linspace(0.0, path.length, 50)
    for s in stations:
        piece = min(whole.length, float(s))
        assert float(to_path(np.array([_point(path, piece)]), whole)[0]) < 1e-9


def _point(path: Centreline, station: float):
    """By stepping through the pieces in closed form, independent of the vectorised code."""
    for frame, piece in zip(path.frames, path.pieces, strict=False):
        if station > piece.length:
            station -= piece.length
            continue
        if isinstance(piece, Straight):
            return frame.moved(station).origin
        turned = frame.rolled(piece.roll)
        a = station / piece.radius
        return turned.point((piece.radius * (1 - math.cos(a)), 0.0, piece.radius * math.sin(a)))
    return path.end.origin


@given(paths(), angles)
def test_another_roll_of_the_start_is_the_same_tube(path: Centreline, roll: float) -> None:
    again = path.based_on(path.start.rolled(roll))
    for a, b in zip(path.frames[1:], again.frames[1:], strict=True):
        assert distance(a.origin, b.origin) < 1e-9


@given(paths(), st.floats(1e-4, 0.1))
def test_what_moved_is_not_found(path: Centreline, off: float) -> None:
    part = bend_part(path, 1)
    assert part is not None
    start = part.start
    aside = Centreline(Frame(start.point((off, 0.0, 0.0)), start.x, start.z), part.pieces)
    along = Centreline(start.moved(off), part.pieces)
    rolled = Centreline(start.rolled(off), part.pieces)
    longer = Centreline(start, (Bend(part.pieces[0].radius, part.pieces[0].angle + off),))
    for other in (aside, along, rolled, longer):
        assert place_of(path, other) is None


def test_a_straight_is_found_within_a_longer_one() -> None:
    path = Centreline(Frame(), (Straight(30.0), Straight(70.0), Bend(50.0, 1.0)))
    part = Centreline(Frame((0.0, 0.0, 20.0)), (Straight(60.0),))
    assert place_of(path, part) == (0, 1)
    assert place_of(path, Centreline(Frame((0.0, 0.0, 50.0)), (Straight(60.0),))) is None


def test_parts_apart_stay_apart() -> None:
    path = Centreline(
        Frame(), (Straight(30.0), Bend(50.0, 1.0), Straight(40.0), Bend(50.0, 1.0), Straight(9.0))
    )
    parts = (bend_part(path, 1), straight_part(path, 3))
    assert [len(part.pieces) for part in joined(parts, path.start)] == [1, 1]


@given(paths(), st.integers(1, 9), st.floats(-1e-12, 1e-12))
def test_a_prefix_is_given_back_to_the_last_digit(
    path: Centreline, count: int, noise: float
) -> None:
    """A router's answer, right but for the last digits and with its straights run together."""
    merged: list = []
    for piece in path.pieces:
        if isinstance(piece, Straight) and merged and isinstance(merged[-1], Straight):
            merged[-1] = Straight(merged[-1].length + piece.length)
        else:
            merged.append(piece)
    whole = Centreline(path.start, tuple(merged))
    count = min(count, len(merged))
    prefix = Centreline(path.start, whole.pieces[:count])
    off = tuple(Straight(p.length + noise) if isinstance(p, Straight) else p for p in whole.pieces)
    found = with_prefix(Centreline(path.start, off), (prefix,))
    assert found.pieces[:count] == prefix.pieces
    assert found.length == pytest.approx(whole.length, abs=1e-9)
    # Its last straight, when it is only part of one, goes on as one.
    if isinstance(prefix.pieces[-1], Straight):
        short = Centreline(path.start, (*prefix.pieces[:-1], Straight(1.5)))
        again = with_prefix(Centreline(path.start, off), (short,))
        assert again.pieces[: count - 1] == prefix.pieces[:-1]
        assert again.length == pytest.approx(whole.length, abs=1e-9)
        assert len(again.pieces) == len(whole.pieces)


def test_what_does_not_begin_so_is_left_alone() -> None:
    path = Centreline(Frame(), (Straight(30.0), Bend(50.0, 1.0), Straight(40.0)))
    assert with_prefix(path, ()) is path
    other = Centreline(Frame(), (Straight(30.0), Bend(50.0, 1.1)))
    assert with_prefix(path, (other,)) is path


# Moves


@given(paths(), paths())
def test_farthest_against_dense_sampling(path: Centreline, other: Centreline) -> None:
    """Brute force: all pairs of points, each path sampled every 2 mm."""
    _, a, gap_a = sample(path, 2.0)
    _, b, gap_b = sample(other, 2.0)
    pairs = np.sqrt(((a[:, None, :] - b[None, :, :]) ** 2).sum(axis=2)).min(axis=1)
    found, at = farthest(path, other)
    assert pairs.max() - gap_b - SPACING <= found <= pairs.max() + gap_a + gap_b + SPACING
    assert float(to_path(np.array([at]), other)[0]) == pytest.approx(found, abs=1e-9)


@given(paths())
def test_a_path_is_nowhere_off_itself(path: Centreline) -> None:
    assert farthest(path, path)[0] < 1e-9


def test_a_shift_is_measured_as_what_it_is() -> None:
    pieces = (Straight(100.0), Bend(60.0, 1.2), Straight(80.0))
    old = Centreline(Frame(), pieces)
    new = Centreline(Frame((0.0, 3.0, 0.0)), pieces)  # square to the plane of bend
    (move,) = moves(Layout((old,), (0,), 1.0), Layout((new,), (1,), 1.0), ("runner 7",))
    assert move.farthest == pytest.approx(3.0, abs=1e-9)
    assert (move.name, move.slot, move.still) == ("runner 7", (0, 1), False)


def test_a_tube_that_was_longer_is_told_where_it_was() -> None:
    old = Centreline(Frame(), (Straight(200.0),))
    new = Centreline(Frame(), (Straight(120.0),))
    (move,) = moves(Layout((old,), (0,), 1.0), Layout((new,), (0,), 1.0), ("runner 1",))
    assert move.was
    assert move.farthest == pytest.approx(80.0)
    assert move.where == pytest.approx((0.0, 0.0, 200.0))
    (still,) = moves(Layout((old,), (0,), 1.0), Layout((old,), (0,), 1.0), ("runner 1",))
    assert still.still
