"""Port shapes: areas and perimeters against the handbook formulae of plane figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from shapely.geometry import Polygon

from geomgen.ports import dee, oval, rectangle
from geomgen.ports import round as round_port
from geomgen.profiles.convex import corner_turns, is_convex
from geomgen.profiles.loops import Line, area, bounding_box, perimeter
from geomgen.registry import plugins

SIZES = st.floats(5.0, 200.0)


def assert_closed(loop):
    for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
        assert math.dist(a.end, b.start) < 1e-9


def test_five_shapes_are_found():
    assert set(plugins("geomgen.ports", "KIND")) == {"d", "oval", "rectangle", "round", "traced"}


def test_every_shape_names_itself_in_its_spec():
    for kind, module in plugins("geomgen.ports", "KIND").items():
        assert module.Spec.model_fields["shape"].annotation.__args__ == (kind,)


def test_round():
    loop = round_port.loop(round_port.Spec(shape="round", diameter="1.5 in", pitch=90))
    assert area(loop) == pytest.approx(math.pi * 19.05**2, rel=1e-14)
    assert_closed(loop)


@given(SIZES, SIZES)
def test_oval_is_two_half_rounds_and_a_block(width, height):
    loop = oval.loop(oval.Spec(shape="oval", width=width, height=height))
    small, long = min(width, height), max(width, height)
    assert area(loop) == pytest.approx(math.pi * small**2 / 4 + small * (long - small), rel=1e-12)
    assert perimeter(loop) == pytest.approx(math.pi * small + 2 * (long - small), rel=1e-12)
    assert_closed(loop)


@given(SIZES, SIZES, st.floats(0.01, 1.0))
def test_rectangle_loses_four_minus_pi_r_squared(width, height, share):
    r = share * min(width, height) / 2
    spec = rectangle.Spec(shape="rectangle", width=width, height=height, corner_radius=r)
    loop = rectangle.loop(spec)
    assert area(loop) == pytest.approx(width * height - (4 - math.pi) * r * r, rel=1e-12)
    assert perimeter(loop) == pytest.approx(2 * (width + height) - (8 - 2 * math.pi) * r, rel=1e-10)
    assert_closed(loop)


def test_rectangle_with_four_radii():
    spec = rectangle.Spec(shape="rectangle", width=40, height=30, corner_radii=[5, 6, 7, 8])
    loop = rectangle.loop(spec)
    lost = (1 - math.pi / 4) * (25 + 36 + 49 + 64)
    assert area(loop) == pytest.approx(1200 - lost, rel=1e-13)
    assert loop[0].centre == (15.0, 10.0)
    assert_closed(loop)


@pytest.mark.parametrize(
    ("values", "found"),
    [
        ({"corner_radius": 16}, "32 mm of a side of 30 mm"),
        ({}, "neither"),
        ({"corner_radius": 3, "corner_radii": [3, 3, 3, 3]}, "both"),
        ({"corner_radius": 3, "pitch": 90, "at": [[0, 0]]}, "both pitch and at"),
        ({"corner_radius": 3, "pitch": 0}, "pitch 0"),
        ({"corner_radius": 3, "directions": [[0, 1, -1]]}, "cylinder 1"),
    ],
)
def test_contradictions_are_refused_in_words(values, found):
    with pytest.raises(ValidationError) as caught:
        rectangle.Spec(shape="rectangle", width=40, height=30, **values)
    (error,) = caught.value.errors()
    assert error["type"] == "contradiction"
    assert found in error["ctx"]["found"]
    assert error["ctx"]["remedy"]


@pytest.mark.parametrize("value", [0, -3, float("nan"), "16 ga"])
def test_sizes_must_be_sizes(value):
    with pytest.raises(ValidationError):
        oval.Spec(shape="oval", width=value, height=30)


def test_unknown_key_is_refused():
    with pytest.raises(ValidationError):
        oval.Spec(shape="oval", width=45, height=37, radius=3)


def test_placement_reads_units():
    spec = oval.Spec(shape="oval", width=45, height=37, at=[["0 in", 0], ["4 in", 1, 2]])
    assert spec.at == ((0.0, 0.0), (101.6, 1.0, 2.0))


D_SIZES = st.tuples(st.floats(30.0, 60.0), st.floats(0.1, 0.9), st.floats(0.02, 1.0))


@given(D_SIZES, st.sampled_from(["floor", "roof", "left", "right"]))
def test_d_is_a_half_round_on_a_block_with_two_rounded_corners(sizes, flat):
    """w (h - w/2) + pi w2/8 - 2 (1 - pi/4) r2, and its edge, by plane geometry."""
    w, tall, share = sizes
    r = share * w / 2
    h = w / 2 + r + tall * w
    over = {"width": w, "height": h} if flat in ("floor", "roof") else {"width": h, "height": w}
    loop = dee.loop(dee.Spec(shape="d", corner_radius=r, flat=flat, **over))
    wanted = w * (h - w / 2) + math.pi * w * w / 8 - 2 * (1 - math.pi / 4) * r * r
    assert area(loop) == pytest.approx(wanted, rel=1e-12)
    edge = w - 2 * r + 2 * (h - w / 2 - r) + math.pi * r + math.pi * w / 2
    assert perimeter(loop) == pytest.approx(edge, rel=1e-10)
    box = bounding_box(loop)
    assert (box.width, box.height) == pytest.approx((over["width"], over["height"]))
    assert (box.left, box.bottom) == pytest.approx((-box.width / 2, -box.height / 2))
    assert_closed(loop)
    assert is_convex(loop)
    flat_side = {"floor": box.bottom, "roof": box.top, "left": box.left, "right": box.right}[flat]
    across = 1 if flat in ("floor", "roof") else 0
    on_it = [
        piece.length
        for piece in loop
        if isinstance(piece, Line)
        and max(abs(end[across] - flat_side) for end in (piece.start, piece.end)) < 1e-9
    ]
    assert math.fsum(on_it) == pytest.approx(w - 2 * r, abs=1e-8)


@given(st.floats(30, 60), st.floats(0.05, 0.9), st.floats(1.05, 4.0), st.floats(0.0, 0.5))
def test_a_flatter_d_by_shapely(w, share, flatter, tall):
    """Its shoulders are fillets: opening the sharp D by a disc of the radius makes the same."""
    big, r = flatter * w / 2, share * w / 2 * 0.8
    rise = math.sqrt((big - w / 2) * (big + w / 2 - 2 * r))
    h = big - rise + r + tall * w
    if h < w / 8:
        return
    loop = dee.loop(dee.Spec(shape="d", width=w, height=h, corner_radius=r, arc_radius=big))
    assert_closed(loop)
    assert max(abs(turn) for turn in corner_turns(loop)) == 0.0
    reach = [math.asin(w / 2 / big) * (1 - 2 * i / 400) for i in range(401)]
    arc = [(big * math.sin(a), h / 2 - big + big * math.cos(a)) for a in reach]
    sharp = Polygon([*arc, (-w / 2, -h / 2), (w / 2, -h / 2)])
    opened = sharp.buffer(-r, quad_segs=200).buffer(r, quad_segs=200)
    assert area(loop) == pytest.approx(opened.area, rel=2e-3)
    assert perimeter(loop) == pytest.approx(opened.length, rel=2e-3)


@pytest.mark.parametrize(
    ("values", "found"),
    [
        ({"width": 44, "height": 36, "corner_radius": 23}, "corners of 23 mm"),
        ({"width": 44, "height": 36, "corner_radius": 5, "arc_radius": 21}, "arc of 21 mm"),
        ({"width": 44, "height": 24, "corner_radius": 5}, "corners of 5 mm in 24 mm"),
    ],
)
def test_a_d_that_does_not_close_is_refused_in_words(values, found):
    with pytest.raises(ValidationError) as caught:
        dee.Spec(shape="d", **values)
    (error,) = caught.value.errors()
    assert found in error["ctx"]["found"]
    assert error["ctx"]["remedy"]
