"""Port shapes: areas and perimeters against the handbook formulae of plane figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from geomgen.ports import oval, rectangle
from geomgen.ports import round as round_port
from geomgen.profiles.loops import area, perimeter
from geomgen.registry import plugins

SIZES = st.floats(5.0, 200.0)


def assert_closed(loop):
    for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
        assert math.dist(a.end, b.start) < 1e-9


def test_three_shapes_are_found():
    assert set(plugins("geomgen.ports", "KIND")) >= {"round", "oval", "rectangle"}


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
