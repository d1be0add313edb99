"""Book and velocity rules against worked examples, and the doctests of every rule."""

import doctest
import importlib
import math
import pkgutil

import pytest
from hypothesis import given
from hypothesis import strategies as st

import geomgen.targets
from geomgen.targets import book

rpms = st.floats(2000.0, 12000.0)
volumes = st.floats(100e-6, 1000e-6)


@pytest.mark.parametrize(
    ("opens", "rpm", "cc", "length", "bore", "secondary", "tail"),
    [
        (70.0, 6500.0, 500.0, 754.18, 41.72, 54.87, 56.19),
        (78.0, 8000.0, 499.5, 620.08, 45.54, 59.89, 61.33),
        (64.0, 5500.0, 333.0, 881.61, 31.70, 41.69, 42.70),
    ],
)
def test_book_worked_examples(
    opens: float, rpm: float, cc: float, length: float, bore: float, secondary: float, tail: float
) -> None:
    """Worked by hand from the formulae of Four-Stroke Performance Tuning (1981): 0.01 mm.

    The length formula is seen in several texts that quote the book; the bore formulae are
    from memory.
    """
    ours = book.primary_length(math.radians(opens), rpm)
    assert 1000.0 * ours == pytest.approx(length, abs=0.01)
    assert 1000.0 * book.primary_bore(cc * 1e-6, ours) == pytest.approx(bore, abs=0.01)
    assert 1000.0 * book.secondary_bore(book.primary_bore(cc * 1e-6, ours)) == pytest.approx(
        secondary, abs=0.01
    )
    assert 1000.0 * book.tail_bore(cc * 1e-6, ours) == pytest.approx(tail, abs=0.01)


def test_book_length_in_inches() -> None:
    """850 x 255 / 6500 - 3 = 30.346 in at 75 degrees: 771 mm."""
    assert book.primary_length(math.radians(75.0), 6500.0) == pytest.approx(0.771, abs=5e-4)


def test_one_degree_of_opening_moves_the_length() -> None:
    """dP/dEVO = 850/N in: 3.32 mm a degree at 6500 rpm; 18 degrees are 59.8 mm."""
    here = book.primary_length(math.radians(70.0), 6500.0)
    assert 1000.0 * (book.primary_length(math.radians(71.0), 6500.0) - here) == pytest.approx(
        3.32, abs=0.005
    )
    assert 1000.0 * (book.primary_length(math.radians(88.0), 6500.0) - here) == pytest.approx(
        59.8, abs=0.05
    )


def test_velocity_worked_example() -> None:
    """500 cc at 5500 rpm: 1.9027 in2, 39.534 mm; the constant is 245 ft/s over a stroke."""
    area = book.velocity_area(500e-6, 5500.0)
    assert area / 0.0254**2 == pytest.approx(1.9027, abs=5e-5)
    assert 1000.0 * math.sqrt(4.0 * area / math.pi) == pytest.approx(39.534, abs=5e-4)
    bore = book.bore_for_speed(500e-6, 5500.0, 245.0 * 12.0 * 0.0254)
    assert bore == pytest.approx(math.sqrt(4.0 * area / math.pi), rel=1e-12)


@pytest.mark.parametrize(("speed", "bore"), [(75.0, 42.885), (100.0, 37.140)])
def test_speed_rule_worked_examples(speed: float, bore: float) -> None:
    """500 cc at 6500 rpm: D = sqrt(4 V N / (30 pi v))."""
    assert 1000.0 * book.bore_for_speed(500e-6, 6500.0, speed) == pytest.approx(bore, abs=5e-4)


@given(volumes, rpms, st.floats(30.0, 200.0))
def test_bore_and_speed_are_inverse(volume: float, rpm: float, speed: float) -> None:
    bore = book.bore_for_speed(volume, rpm, speed)
    assert book.mean_speed(volume, rpm, bore) == pytest.approx(speed, rel=1e-12)


@given(volumes, rpms, st.floats(0.02, 0.06), st.floats(1.01, 2.0))
def test_smaller_bore_means_faster_gas(
    volume: float, rpm: float, bore: float, factor: float
) -> None:
    """Common practice, no source: larger bore, less gas speed."""
    assert book.mean_speed(volume, rpm, bore * factor) < book.mean_speed(volume, rpm, bore)


@given(st.floats(0.5, 1.6), rpms, st.floats(10.0, 1000.0))
def test_faster_engines_want_shorter_primaries(opens: float, rpm: float, more: float) -> None:
    assert book.primary_length(opens, rpm + more) < book.primary_length(opens, rpm)


def test_a_length_that_leaves_nothing_has_no_bore() -> None:
    with pytest.raises(ValueError, match="minus 3 inches"):
        book.primary_bore(500e-6, -3.0 * 0.0254)


def test_doctests() -> None:
    """Every formula's docstring holds its own example."""
    tried = 0
    for info in pkgutil.iter_modules(geomgen.targets.__path__, "geomgen.targets."):
        result = doctest.testmod(importlib.import_module(info.name))
        assert result.failed == 0, info.name
        tried += result.attempted
    assert tried >= 20
