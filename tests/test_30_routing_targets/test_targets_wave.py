"""Round trips, reflections, overlap windows and firing intervals."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, special

from geomgen.targets import firing, wave

rad = math.radians
rpms = st.floats(2000.0, 12000.0)
speeds = st.floats(400.0, 700.0)
lengths = st.floats(0.2, 2.0)


@pytest.mark.parametrize(
    ("sound", "angle", "rpm", "length", "less_end"),
    [
        (580.41, 120.0, 7000.0, 0.829157, 0.816339),
        (609.78, 130.0, 6500.0, 1.016300, 1.003482),
        (580.41, 90.0, 6500.0, 0.669704, 0.656886),
    ],
)
def test_round_trip(sound: float, angle: float, rpm: float, length: float, less_end: float) -> None:
    """L = a theta / (12 N), worked by hand; end correction 0.6133 r at r = 20.9 mm."""
    ours = wave.round_trip_length(rad(angle), rpm, sound)
    assert ours == pytest.approx(length, abs=5e-7)
    assert ours - wave.end_correction(0.0209) == pytest.approx(less_end, abs=5e-7)


def test_time_of_a_cycle() -> None:
    """720 degrees at 6500 rpm are 18.4615 ms."""
    assert 1e3 * wave.seconds(rad(720.0), 6500.0) == pytest.approx(18.4615, abs=5e-5)


@given(lengths, rpms, speeds)
def test_round_trip_and_angle_are_inverse(length: float, rpm: float, sound: float) -> None:
    angle = wave.round_trip_angle(length, rpm, sound)
    assert wave.round_trip_length(angle, rpm, sound) == pytest.approx(length, rel=1e-12)


def test_end_correction_against_the_integral() -> None:
    """Levine and Schwinger's low-frequency integral, evaluated here: 0.61 within 0.005.

    l / a = (1 / pi) int_0^inf ln[1 / (2 I1(x) K1(x))] / x^2 dx.
    """

    def integrand(x: float) -> float:
        # exponentially scaled Bessel functions: I1 K1 = ive kve
        return -math.log(2.0 * special.ive(1, x) * special.kve(1, x)) / x**2

    near = integrate.quad(integrand, 1e-6, 1.0)[0]
    far = integrate.quad(integrand, 1.0, math.inf, limit=200)[0]
    expected = (near + far) / math.pi
    assert expected == pytest.approx(0.612701, abs=2e-5)
    assert wave.end_correction(1.0) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(
    ("near", "onward", "expected"),
    [(40.0, 50.0, -0.219512), (42.0, 60.3, -0.346678), (45.0, 63.5, -0.331380)],
)
def test_area_change(near: float, onward: float, expected: float) -> None:
    """Plane-wave reflection of acoustics textbooks, worked by hand."""
    assert wave.reflection(near**2, onward**2) == pytest.approx(expected, abs=5e-7)


@pytest.mark.parametrize(
    ("pipes", "near", "collector", "expected"),
    [(4, 42.0, 60.0, -0.668919), (3, 42.0, 60.0, -0.603239), (2, 42.0, 50.0, -0.414731)],
)
def test_merge(pipes: int, near: float, collector: float, expected: float) -> None:
    onward = wave.merge_onward(pipes, near**2, collector**2)
    assert wave.reflection(near**2, onward) == pytest.approx(expected, abs=5e-7)


@given(st.floats(1e-4, 1e-2), st.floats(1.0, 1e6))
def test_reflection_limits(area: float, factor: float) -> None:
    """No change gives 0, open space -1, closed end +1; energy is never made."""
    assert wave.reflection(area, area) == 0.0
    assert wave.reflection(area, 1e12 * area) == pytest.approx(-1.0, abs=1e-9)
    assert wave.reflection(area, 0.0) == 1.0
    forward = wave.reflection(area, factor * area)
    assert -1.0 <= forward <= 0.0
    # reciprocity: the same step met from the other side reflects with the opposite sign
    assert wave.reflection(factor * area, area) == pytest.approx(-forward, rel=1e-9, abs=1e-15)


events = st.tuples(*[st.floats(rad(5.0), rad(80.0)) for _ in range(3)])


@given(events)
def test_overlap_centre_is_midway(angles: tuple[float, float, float]) -> None:
    opens, closes, intake = angles
    centre = wave.overlap_centre(opens, closes, intake)
    start, end = math.pi + opens - intake, math.pi + opens + closes
    assert centre == pytest.approx(0.5 * (start + end), rel=1e-12)
    assert wave.overlap(intake, closes) == pytest.approx(end - start, rel=1e-9, abs=1e-12)


@given(lengths, speeds, events, st.floats(0.0, 1.0))
def test_band_edges_arrive_at_window_edges(
    length: float, sound: float, angles: tuple[float, float, float], share: float
) -> None:
    opens, closes, intake = angles
    start, end = math.pi + opens - intake, math.pi + opens + closes
    departs = share * start
    band = wave.rpm_band(length, sound, start, end, departs)
    assert band is not None
    low, high = band
    assert low < high
    assume(low > 1.0)
    assert wave.arrival(length, low, sound, departs) == pytest.approx(start, rel=1e-9)
    assert wave.arrival(length, high, sound, departs) == pytest.approx(end, rel=1e-9)


@given(lengths, speeds, st.floats(-0.5, 0.0))
def test_no_overlap_no_window(length: float, sound: float, gap: float) -> None:
    """Common practice, no source: nothing helps without overlap."""
    assert wave.rpm_band(length, sound, 4.0, 4.0 + gap, 1.0) is None


@given(speeds, rpms, events)
def test_too_long_meets_a_closed_exhaust_valve(
    sound: float, rpm: float, angles: tuple[float, float, float]
) -> None:
    """Sign test. Common practice, no source: too long, closed exhaust; too short, closed intake."""
    opens, closes, intake = angles
    departs = 0.5 * (math.pi + opens)
    right = wave.round_trip_length(wave.overlap_centre(opens, closes, intake) - departs, rpm, sound)
    exhaust_shuts, intake_opens = math.pi + opens + closes, math.pi + opens - intake
    half = wave.round_trip_length(0.5 * (intake + closes), rpm, sound)
    assert wave.arrival(right + 1.01 * half, rpm, sound, departs) > exhaust_shuts
    assert wave.arrival(right - 1.01 * half, rpm, sound, departs) < intake_opens


@pytest.mark.parametrize(
    ("difference", "percent", "degrees", "shift"),
    [
        (5.0, 0.6, 0.36, 39.0),
        (10.0, 1.2, 0.7, 77.0),
        (25.0, 3.0, 1.8, 193.0),
        (50.0, 6.0, 3.6, 387.0),
        (100.0, 12.0, 7.2, 774.0),
    ],
)
def test_length_difference_in_all_units(
    difference: float, percent: float, degrees: float, shift: float
) -> None:
    """Conversion table for 840 mm at 586 m/s: degrees at 7000 rpm, shift at 6500 rpm.

    Worked by hand, rounded as printed; the degrees are one way.
    """
    assert 100.0 * difference / 840.0 == pytest.approx(percent, rel=0.02)
    ours = math.degrees(wave.length_as_angle(difference / 1000.0, 7000.0, 586.0))
    assert ours == pytest.approx(degrees, rel=0.03)
    assert wave.length_as_rpm(difference / 1000.0, 0.840, 6500.0) == pytest.approx(shift, abs=0.6)


ORDERS = [
    ((1, 3, 4, 2), (1, 2, 3, 4), (180, 180, 180, 180)),
    ((1, 3, 4, 2), (1, 4), (360, 360)),
    ((1, 3, 4, 2), (2, 3), (360, 360)),
    ((1, 3, 4, 2), (1, 3), (180, 540)),
    ((1, 3, 2, 4), (1, 2), (360, 360)),
    ((1, 3, 2), (1, 2, 3), (240, 240, 240)),
    ((1, 5, 3, 6, 2, 4), (1, 2, 3), (240, 240, 240)),
    ((1, 5, 4, 8, 3, 7, 2, 6), (1, 2, 3, 4), (180, 180, 180, 180)),
    ((1, 8, 4, 3, 6, 5, 7, 2), (1, 3, 5, 7), (270, 180, 90, 180)),
    ((1, 8, 4, 3, 6, 5, 7, 2), (8, 4, 6, 2), (90, 180, 270, 180)),
    ((1, 8, 4, 3, 6, 5, 7, 2), (1, 4, 6, 7), (180, 180, 180, 180)),
    ((1, 8, 4, 3, 6, 5, 7, 2), (1, 5), (450, 270)),
    ((1, 8, 4, 3, 6, 5, 7, 2), (5, 7), (90, 630)),
]


@pytest.mark.parametrize(("order", "group", "expected"), ORDERS)
def test_intervals(
    order: tuple[int, ...], group: tuple[int, ...], expected: tuple[int, ...]
) -> None:
    """Firing intervals worked out by hand from orders in common use."""
    ours = [round(math.degrees(angle), 6) for _, angle in firing.intervals(order, group)]
    assert ours == list(expected)
    assert math.degrees(firing.least_interval(order, group)) == pytest.approx(min(expected))


@given(st.permutations(range(1, 9)), st.sets(st.integers(1, 8), min_size=1))
def test_intervals_sum_to_a_cycle(order: list[int], group: set[int]) -> None:
    found = firing.intervals(tuple(order), tuple(sorted(group)))
    assert math.degrees(math.fsum(angle for _, angle in found)) == pytest.approx(720.0)
    assert {cylinder for cylinder, _ in found} == group


@given(st.permutations(range(1, 5)), st.floats(0.1, 3.0), st.floats(0.5, 1.5))
def test_equal_lengths_space_pulses_by_the_firing_interval(
    order: list[int], delay: float, opens: float
) -> None:
    """Common practice, no source, and plain arithmetic: exactly the firing interval."""
    found = firing.collector_arrivals(tuple(order), dict.fromkeys(order, delay), opens)
    gaps = [(b[1] - a[1]) % firing.CYCLE for a, b in pairwise(found)]
    assert [math.degrees(gap) for gap in gaps] == pytest.approx([180.0] * 3)


def test_bad_orders_are_refused() -> None:
    with pytest.raises(ValueError, match="once"):
        firing.firing_angles((1, 2, 2))
    with pytest.raises(ValueError, match="not in the firing order"):
        firing.ring((1, 2), (1, 3))
