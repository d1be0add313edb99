"""Formed windows against the tube's perimeter."""

import math

import pytest
from flat_demo import around, flange

from geomgen.checks import window_perimeter
from geomgen.errors import Verdict
from geomgen.profiles.loops import slot


def test_the_demo_s_oval_agrees_with_45_x_1_5_tube_within_0_3_percent():
    # by hand: the tube round a 45 x 37 oval with 1.5 wall is a 48 x 40 oval, 40 pi + 16
    # round; 45 mm tube is 45 pi round
    found = window_perimeter.run(around(flange()))
    assert len(found) == 4
    expected = 100 * ((40 * math.pi + 16) / (45 * math.pi) - 1)
    for finding in found:
        assert finding.verdict is Verdict.PASS
        assert finding.value == pytest.approx(expected, abs=1e-9)
        assert abs(finding.value) < 0.3


@pytest.mark.parametrize(("od", "verdict"), [(44.0, "fail"), (45.4, "pass"), (48.3, "fail")])
def test_other_tubes(od, verdict):
    found = window_perimeter.run(around(flange(), od=od))
    assert {f.verdict.value for f in found} == {verdict}


def test_the_remedy_names_the_tube_that_fits():
    (finding,) = window_perimeter.run(around(flange(ports=1), od=50.8))
    assert "45.1 mm OD" in finding.remedy


def test_fit_does_not_count():
    tight = window_perimeter.run(around(flange(fit=0.2)))[0]
    loose = window_perimeter.run(around(flange(fit=0.4)))[0]
    assert tight.value == pytest.approx(loose.value, abs=1e-9)


def test_the_limit_is_the_spec_s_and_butt_windows_take_no_tube():
    part = flange(loop=slot(50, 37))
    assert window_perimeter.run(around(part))[0].verdict is Verdict.FAIL
    assert window_perimeter.run(around(part, window_perimeter_percent=10.0))[0].verdict == "pass"
    assert window_perimeter.run(around(flange(window="butt"))) == ()
