"""Quantities: the table of common units against the pint library, and what is refused."""

from __future__ import annotations

import math
import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

from geomgen.units import BARE_UNITS, TEXT_PATTERN, UNITS, Direction, Point, Size, parse

PINT = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)

# How pint spells what the table spells otherwise; pint has no word for the others.
PINT_SPELLING = {'"': "inch", "rev/min": "rpm", "rps": "rpm * 60", "rev/s": "rpm * 60"}
PINT_SPELLING |= {"L": "liter"}
PINT_SPELLING |= {"°": "degree", "cm3": "cm**3", "mm3": "mm**3", "in3": "in**3", "cu in": "in**3"}
PINT_SPELLING |= {"°C": "degC", "°F": "degF", "%": "percent"}


@pytest.mark.parametrize(
    ("kind", "unit"), [(kind, unit) for kind in sorted(UNITS) for unit in sorted(UNITS[kind])]
)
def test_table_agrees_with_pint(kind, unit):
    """Source of the expected value: pint's own registry of units."""
    factor, offset = UNITS[kind][unit]
    spelled = PINT_SPELLING.get(unit, unit)
    if "*" in spelled and "rpm" in spelled:
        want = 60.0 * 7.5
    else:
        want = PINT.Quantity(7.5, spelled).to(BARE_UNITS[kind]).magnitude
    assert 7.5 * factor + offset == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "want"),
    [
        ("1.75 in", "length", 44.45),
        ('3/8 "', "length", 9.525),
        ("1-3/4 in", "length", 44.45),
        ("1 5/8 inch", "length", 41.275),
        ("-1-1/2 in", "length", -38.1),
        ("0.050 in", "length", 1.27),
        ("2in", "length", 50.8),
        ("1e2", "length", 100.0),
        (" 12.5 ", "length", 12.5),
        ("1 yard", "length", 914.4),  # by the units library
        ("180 deg", "angle", 180.0),
        (f"{math.pi} rad", "angle", 180.0),
        ("900 K", "temperature", 626.85),
        ("32 degF", "temperature", 0.0),
        ("212 °F", "temperature", 100.0),
        ("14.5037737730 psi", "pressure", 1.0),
        ("2 l", "volume", 2000.0),
        ("30.5119 in3", "volume", 500.0),
        ("100 rev/s", "speed", 6000.0),
        (3, "length", 3.0),
    ],
)
def test_reads(text, kind, want):
    """1 in = 25.4 mm and 0 degF, K, psi by definition; figures from any handbook."""
    assert parse(text, kind) == pytest.approx(want, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("value", "kind", "words"),
    [
        ("16 ga", "length", "gauge means"),
        ("16ga", "length", "gauge means"),
        ("18 SWG", "length", "gauge means"),
        ("1,5", "length", "decimal point"),
        ("3/8", "length", "unit of a fraction"),
        ("1/0 in", "length", "below the line"),
        ("45 kg", "length", "in mm"),
        ("45 deg", "length", "in mm"),
        ("5 percent", "angle", "in deg"),
        ("1 Hz", "speed", "in rpm"),  # pint would read 9.55 rpm
        ("10 delta_degC", "temperature", "in degC"),
        ("1e999", "length", "finite"),
        ("9" * 50 + "e300 mm", "length", "finite"),
        ("2**99999999 mm", "length", "in mm"),
        ("1 mm**9**9**9", "length", "in mm"),
        ("1 __import__", "length", "in mm"),
        ("1" * 500, "length", "in mm"),
        ("", "length", "in mm"),
        ("mm", "length", "in mm"),
        (float("nan"), "length", "finite"),
        (float("inf"), "angle", "finite"),
        (10**400, "length", "finite"),
        (True, "length", "in mm"),
        (None, "length", "in mm"),
        ([1], "length", "in mm"),
        ("2 mm", "number", "plain number"),
    ],
)
def test_refuses(value, kind, words):
    with pytest.raises(PydanticCustomError) as caught:
        parse(value, kind)
    assert caught.value.type == "quantity"
    context = caught.value.context
    assert words in f"{context['allowed']}; {context['remedy']}"


@given(st.text(max_size=40), st.sampled_from(sorted(BARE_UNITS)))
def test_any_text_is_a_finite_number_or_refused(text, kind):
    try:
        number = parse(text, kind)
    except PydanticCustomError:
        return
    assert math.isfinite(number)


@given(
    st.integers(0, 60),
    st.integers(1, 31),
    st.sampled_from([2, 4, 8, 16, 32, 64]),
    st.sampled_from(["-", " "]),
)
def test_fractions_of_an_inch(whole, top, bottom, between):
    text = f"{whole}{between}{top}/{bottom} in"
    assert parse(text, "length") == pytest.approx((whole + top / bottom) * 25.4, rel=1e-12)


@given(st.floats(-1e6, 1e6, allow_nan=False))
def test_numbers_as_text_read_as_numbers(number):
    assert parse(repr(number), "length") == number
    assert parse(f"{number!r} mm", "length") == number


def test_common_units_need_no_units_library():
    code = (
        "import sys; from geomgen.units import UNITS, parse\n"
        "for kind, units in UNITS.items():\n"
        "    for unit in units: parse(f'2 {unit}', kind)\n"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_editor_pattern_follows_the_reader():
    import re

    for text in ("1.75 in", '3/8 "', "1-3/4 in", "727 degC", "5 °", "2 cm3", "100 rev/s", "7"):
        assert re.search(TEXT_PATTERN, text), text
    for text in ("16 ga", "16ga", "18 swg", "tuned", "", "in"):
        assert not re.search(TEXT_PATTERN, text), text


@pytest.mark.parametrize("value", [0, -1, "0 mm", "-2 in"])
def test_a_size_is_above_nothing(value):
    with pytest.raises(ValidationError, match="greater than 0"):
        TypeAdapter(Size).validate_python(value)


@pytest.mark.parametrize("value", [[1, 2], [1, 2, 3, 4], "1,2,3", {"x": 1}, 5])
def test_a_point_has_three_lengths(value):
    with pytest.raises(ValidationError, match="a point of three lengths"):
        TypeAdapter(Point).validate_python(value)


def test_points_carry_units_and_directions_do_not():
    assert TypeAdapter(Point).validate_python(["1 in", 2, "3 cm"]) == pytest.approx((25.4, 2, 30))
    with pytest.raises(ValidationError, match="plain number"):
        TypeAdapter(Direction).validate_python([1, 0, "1 mm"])
    with pytest.raises(ValidationError, match="any length but zero"):
        TypeAdapter(Direction).validate_python([0, 0, 0])
