"""What a cut may be off, and whether a tube then goes into its window."""

import math

import pytest
from flat_demo import limits

from geomgen.design.iso_9013 import limit_deviation, perpendicularity
from geomgen.design.window_fit import advice, fit_of, quality_of, small_side
from geomgen.profiles.loops import slot

WINDOW = slot(48.3, 40.3)


@pytest.mark.parametrize(
    ("number", "values"),
    # ISO 9013: u for 8, 10 and 12.7 mm plate, by public texts that quote the standard
    [
        (1, (0.074, 0.080, 0.0881)),
        (2, (0.206, 0.220, 0.2389)),
        (3, (0.480, 0.500, 0.5270)),
        (4, (0.960, 1.000, 1.0540)),
        (5, (1.480, 1.550, 1.6445)),
    ],
)
def test_perpendicularity_is_that_of_iso_9013(number, values):
    found = [perpendicularity(number, a) for a in (8.0, 10.0, 12.7)]
    assert found == pytest.approx(values, abs=1e-12)


@pytest.mark.parametrize(
    ("number", "thickness", "row"),
    # ISO 9013 limit deviations for sizes 3, 10, 35, 125, 315, 1000 to 2000 mm, by one reprint
    [
        (1, 6.3, (0.20, 0.25, 0.25, 0.30, 0.40, 0.45)),
        (1, 10.0, (0.25, 0.30, 0.30, 0.35, 0.45, 0.55)),
        (1, 12.7, (0.30, 0.35, 0.40, 0.45, 0.55, 0.65)),
        (2, 5.0, (0.8, 0.9, 0.9, 1.1, 1.2, 1.3)),
        (2, 8.0, (1.0, 1.1, 1.3, 1.4, 1.5, 1.6)),
        (2, 15.0, (1.8, 1.8, 1.8, 1.9, 2.3, 3.0)),
    ],
)
def test_limit_deviations_are_those_of_iso_9013(number, thickness, row):
    for k, value in enumerate(row):
        low, high = ((3, 10), (10, 35), (35, 125), (125, 315), (315, 1000), (1000, 2000))[k]
        assert limit_deviation(number, thickness, low) == value
        assert limit_deviation(number, thickness, math.nextafter(high, 0)) == value


def test_beyond_the_table_nothing_is_made_up():
    assert limit_deviation(2, 16.0, 50.0) is None
    assert limit_deviation(2, 10.0, 2500.0) is None


def fit(process, thickness=10.0, drawn=0.3, **changed):
    return fit_of(
        WINDOW,
        fit=drawn,
        wall=1.5,
        process=process,
        thickness=thickness,
        limit=limits(**changed).__getitem__,
    )


def test_plasma_on_10_mm_is_cut_small_and_filed():
    # by hand: class 2, 48 mm in 10 mm plate 1.3; range 3 u 0.5; a quarter of 1.5 a side
    found = fit("plasma")
    assert found.least == pytest.approx(0.3 - 1.3 - 2 * 0.5)
    assert found.most == pytest.approx(0.3 + 1.3)
    assert found.small == pytest.approx(1.6 - 2 * 0.375)
    assert found.file == pytest.approx((0.85 + 2.0) / 2)
    assert found.way == "cut small and file"
    assert "mm small over both sides" in advice(found)


def test_a_fit_drawn_wider_than_the_wall_can_bridge_is_too_loose():
    # by hand: a quarter of 1.5 a side is 0.75 over both
    assert fit("waterjet", drawn=0.75).way != "too loose"
    found = fit("waterjet", drawn=0.76)
    assert found.way == "too loose"
    assert "make the fit smaller" in advice(found)
    assert fit("waterjet", drawn=0.76, weld_gap_over_wall=0.3).way != "too loose"


def test_plasma_on_half_inch_wants_a_finer_process():
    # by hand: class 2 over 10 mm 1.8; range 3 u 0.527
    found = fit("plasma", 12.7)
    assert found.file == pytest.approx((2.1 - 0.75 - 0.3 + 1.8 + 2 * 0.527) / 2)
    assert found.file > 1.9
    assert fit("plasma", 12.7, file_most=1.9).way == "finer process"
    assert "finer process" in advice(fit("plasma", 12.7, file_most=1.9))


def test_laser_is_cut_as_drawn_and_eased():
    found = fit("laser")
    assert found.way == "file"
    assert found.small == 0.0
    assert found.file == pytest.approx((0.3 + 2 * 0.22 - 0.3) / 2)


def test_a_shop_that_says_what_it_holds_is_believed():
    found = fit("laser", window_tolerance=0.1, window_taper=0.05)
    assert found.way == "as cut"
    assert advice(found) == ""
    assert found.least == pytest.approx(0.3 - 0.1 - 0.1)
    assert found.quality.source == "what the shop says it holds"


def test_waterjet_shops_hold_five_thou():
    quality = quality_of(limits().__getitem__, "waterjet", 10.0, 48.0)
    assert quality.deviation == pytest.approx(0.005 * 25.4)
    assert quality.taper == pytest.approx(0.010 * 25.4)


def test_plate_beyond_the_table_is_said():
    found = fit("plasma", 20.0)
    assert found.way == "unknown"
    assert "window_tolerance" in advice(found)


def test_the_small_side_leaves_no_edge_in_the_gas():
    assert "to the gasket face" in small_side("socket")
    assert "file the windows back" in small_side("butt")
    assert all("tube side up" in small_side(style) for style in ("socket", "butt"))
