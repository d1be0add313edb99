"""Loops with dents: hull, offset and blend to round, against shapely and closed forms."""

import math

import pytest
from dented import DENTED, kidney, twin
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from geomgen.profiles.distances import gap, is_simple
from geomgen.profiles.hulls import hull_walk
from geomgen.profiles.loops import Arc, Line, area, perimeter
from geomgen.profiles.matching import blend, blend_area, match_to_circle
from geomgen.profiles.union import closing, grown


def test_kidney_area_and_perimeter():
    """Annular sector and a circle: 4 half R r + pi r2; 4 half R + 2 pi r (plane geometry)."""
    loop = kidney(30.0, 10.0, 0.9)
    assert area(loop) == pytest.approx(4 * 0.9 * 30 * 10 + math.pi * 100, rel=1e-12)
    assert perimeter(loop) == pytest.approx(4 * 0.9 * 30 + 2 * math.pi * 10, rel=1e-12)


@given(DENTED)
def test_hull_is_shapelys_hull_and_the_walk_is_the_loop(loop):
    steps = hull_walk(loop)
    walked = tuple(step.piece for step in steps)
    assert gap(walked) < 1e-8
    assert area(walked) == pytest.approx(area(loop), rel=1e-9)
    assert math.fsum(step.sweep for step in steps) == pytest.approx(math.tau)
    # each stretch of one normal is a bridge: put a chord in its place and the hull is left
    hull, start = [], None
    for step in steps:
        if step.sweep == 0.0:
            start = start or step.piece.start
            continue
        if start is not None:
            hull.append(Line(start, step.piece.start))
            start = None
        hull.append(step.piece)
    if start is not None:
        hull.append(Line(start, hull[0].start))
    assert area(tuple(hull)) == pytest.approx(twin(loop).convex_hull.area, rel=2e-4)


@settings(max_examples=25)
@given(DENTED, st.floats(5, 30), st.floats(-8, 8))
def test_sections_are_simple_and_their_area_never_dips(loop, radius, aside):
    near, far = match_to_circle(loop, (aside, -aside / 2), radius)
    assert area(far) == pytest.approx(math.pi * radius**2, rel=1e-9)
    for t in (0.0, 0.2, 0.5, 0.8, 0.97):
        section = blend(near, far, t)
        chords = twin(section, 24).buffer(0)  # takes out points that coincide but for rounding
        assert chords.geom_type == "Polygon"
        assert chords.area == pytest.approx(blend_area(near, far, t), rel=5e-3)
        low = (1 - t) * math.sqrt(area(near)) + t * math.sqrt(area(far))
        assert math.sqrt(blend_area(near, far, t)) >= low * (1 - 1e-9)


@settings(max_examples=25)
@given(DENTED, st.floats(0.5, 30))
def test_growing_is_shapelys_buffer(loop, by):
    wanted = twin(loop, 200).buffer(by, quad_segs=200)
    if wanted.interiors:
        with pytest.raises(ValueError, match="closes"):
            grown(loop, by)
        return
    made = grown(loop, by)
    assert is_simple(made)
    assert gap(made) < 1e-6
    assert area(made) == pytest.approx(wanted.area, rel=2e-4)
    # Steiner while nothing is eaten up: A + P by + pi by2
    if len(made) == len(loop) and all(isinstance(piece, Arc) for piece in loop):
        steiner = area(loop) + perimeter(loop) * by + math.pi * by**2
        assert area(made) == pytest.approx(steiner, rel=1e-9)


def test_closing_fills_a_dent_that_the_disc_cannot_enter():
    (filled,) = closing([kidney(30.0, 10.0, 1.2)], 50_000.0)
    hull = twin(kidney(30.0, 10.0, 1.2)).convex_hull.area
    assert area(filled) == pytest.approx(hull, rel=1e-3)
    (kept,) = closing([kidney(30.0, 10.0, 1.2)], 15.0)
    assert area(kept) == pytest.approx(area(kidney(30.0, 10.0, 1.2)), rel=1e-9)


def test_a_spiral_is_refused():
    turns = [(t, 4.0 + 1.2 * t) for t in (0.1 * i for i in range(110))]
    outside = [((r + 2.5) * math.cos(t), (r + 2.5) * math.sin(t)) for t, r in turns]
    inner = [(r * math.cos(t), r * math.sin(t)) for t, r in reversed(turns)]
    corners = [*outside, *inner]
    loop = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    assert Polygon(corners).is_valid
    with pytest.raises(ValueError, match="folds back"):
        match_to_circle(loop, (0.0, 0.0), 10.0)
