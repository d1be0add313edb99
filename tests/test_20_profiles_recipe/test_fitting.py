"""Traces to lines and arcs: within the tolerance by shapely's measure, few, and tangent."""

import math

import numpy as np
import pytest
from dented import kidney
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing

from geomgen.profiles.convex import corner_turns
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import gap, is_simple
from geomgen.profiles.fitting import fit
from geomgen.profiles.loops import Arc, Line, area, circle, slot


def lines_of(points):
    corners = [(float(x), float(y)) for x, y in points]
    return tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))


def trace(loop, step=0.7, noise=0.0, seed=0):
    """Points along a loop, none of them where it should be."""
    points = []
    for piece in loop:
        count = max(1, math.ceil(piece.length / step))
        points += [point_at(piece, i / count) for i in range(count)]
    off = np.random.default_rng(seed).uniform(-noise, noise, (len(points), 2))
    return lines_of(np.array(points) + off)


def apart(made, drawn):
    """Largest distance between fit and trace, both ways, by shapely (Hausdorff)."""
    chords = LinearRing([point_at(p, i / 60) for p in made for i in range(60)])
    ring = LinearRing([piece.start for piece in drawn])
    return max(chords.hausdorff_distance(ring), ring.hausdorff_distance(chords))


def radii(loop):
    return sorted(round(piece.radius, 6) for piece in loop if isinstance(piece, Arc))


def rectangle(w, h, r):
    x, y = w / 2 - r, h / 2 - r
    hubs = ((x, y), (-x, y), (-x, -y), (x, -y))
    arcs = [Arc(hub, r, k * math.pi / 2, math.pi / 2) for k, hub in enumerate(hubs)]
    joined = []
    for a, b in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        joined += [a, Line(a.end, b.start)]
    return tuple(joined)


@settings(max_examples=8)
@given(
    st.lists(st.tuples(st.floats(-1.8, 1.8), st.floats(0, 6.28)), min_size=3, max_size=3),
    st.integers(120, 400),
    st.floats(0.0, 0.03),
    st.integers(0, 1000),
)
def test_smooth_outlines_are_followed_closely_by_few_tangent_arcs(waves, count, noise, seed):
    angle = np.linspace(0, math.tau, count, endpoint=False)
    radius = 22 + sum(
        size / (k + 1) * np.cos((k + 2) * angle + phase) for k, (size, phase) in enumerate(waves)
    )
    off = np.random.default_rng(seed).uniform(-noise, noise, (count, 2))
    drawn = lines_of(np.column_stack((radius * np.cos(angle), radius * np.sin(angle))) + off)
    made = fit(drawn, 0.1)
    # a chord of the trace lies off its own curve by its height
    height = max(piece.length for piece in drawn) ** 2 / 8 / 8
    assert apart(made.loop, drawn) <= 0.1 + height + 1e-3
    assert made.deviation <= 0.1 + 1e-9
    assert len(made.loop) <= 16
    assert max(abs(turn) for turn in corner_turns(made.loop)) == 0.0
    assert made.corners == 0
    assert gap(made.loop) < 1e-9
    assert is_simple(made.loop)
    assert area(made.loop) == pytest.approx(area(drawn), rel=4e-3)


@settings(max_examples=4)
@given(st.floats(30, 60), st.floats(25, 50), st.floats(4, 10), st.integers(0, 1000))
def test_a_traced_rectangle_gives_back_its_radii(width, height, radius, seed):
    clean = fit(trace(rectangle(width, height, radius)), 0.1)
    assert radii(clean.loop) == pytest.approx([radius] * 4, abs=1e-5)
    assert len(clean.loop) == 8
    rough = fit(trace(rectangle(width, height, radius), noise=0.03, seed=seed), 0.1)
    assert radii(rough.loop) == pytest.approx([radius] * 4, abs=0.3)
    assert len(rough.loop) == 8
    lengths = sorted(piece.length for piece in rough.loop if isinstance(piece, Line))
    assert lengths == pytest.approx(sorted([width - 2 * radius, height - 2 * radius] * 2), abs=0.8)


@pytest.mark.parametrize("noise", [0.0, 0.03, 0.06])
@pytest.mark.parametrize(
    ("loop", "pieces"),
    [(slot(45.0, 37.0), 5), (kidney(30.0, 10.0, 0.9), 6), (circle((3.0, 4.0), 20.0), 2)],
    ids=["oval", "kidney", "circle"],
)
def test_shapes_of_arcs_come_back_as_such(loop, pieces, noise):
    made = fit(trace(loop, noise=noise), 0.1)
    assert len(made.loop) <= pieces
    assert area(made.loop) == pytest.approx(area(loop), rel=2e-3)
    assert max(abs(turn) for turn in corner_turns(made.loop)) == 0.0


@pytest.mark.parametrize("noise", [0.0, 0.04])
def test_true_corners_are_kept(noise):
    corners = [(-22, -17), (22, -17), (24, 17), (-22, 17)]
    box = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    made = fit(trace(box, noise=noise), 0.1)
    assert made.corners == 4
    assert [type(piece) for piece in made.loop] == [Line] * 4
    for corner in corners:
        assert min(math.dist(piece.start, corner) for piece in made.loop) < 0.1


def test_what_was_drawn_with_true_arcs_keeps_its_pieces_and_gets_exact_joints():
    drawn = rectangle(44.0, 34.0, 7.0)
    rounded = tuple(
        Line(tuple(round(c, 4) for c in p.start), tuple(round(c, 4) for c in p.end))
        if isinstance(p, Line)
        else Arc((round(p.centre[0], 4) + 2e-4, p.centre[1]), p.radius, round(p.begin, 5), p.sweep)
        for p in drawn
    )
    made = fit(rounded, 0.1)
    assert made.deviation < 1e-3
    assert [type(p) for p in made.loop] == [type(p) for p in drawn]
    assert gap(made.loop) < 1e-9
    assert max(abs(turn) for turn in corner_turns(made.loop)) == 0.0


def test_either_way_round_and_any_place_give_the_same_shape():
    drawn = trace(kidney(30.0, 10.0, 0.9), noise=0.02)
    there = lines_of([(p.start[0] + 400.0, p.start[1] - 900.0) for p in reversed(drawn)])
    one, other = fit(drawn, 0.1), fit(there, 0.1)
    assert area(one.loop) > 0
    assert area(other.loop) == pytest.approx(area(one.loop), rel=1e-3)


def test_noise_beyond_the_tolerance_is_refused():
    with pytest.raises(ValueError, match="lines and arcs"):
        fit(trace(circle((0, 0), 25.0), step=0.5, noise=0.6), 0.05)
