"""Filter, integration and differentiation against closed forms.

Winter D.A. (2009), Biomechanics and Motor Control of Human Movement, 4th ed., p. 69, and Robertson and
Dowling (2003), J Electromyogr Kinesiol 13:569: seen in stored documents that cite them. The rest is
calculus, recomputed.
"""

import numpy as np
import pytest
from scipy.signal import butter, freqz

from fieldlog.analysis.filters import design_tangent, low_pass, slope_per_s, two_pass_factor
from fieldlog.analysis.measures import work_j


def test_the_factor_for_one_and_two_passes():
    # C = (2^(1/n) - 1)^(1/4); three decimals printed.
    assert [two_pass_factor(1), two_pass_factor(2)] == pytest.approx([1.0, 0.802], abs=5e-4)
    # Printed example: to get 10 Hz from two passes, design for 12.47 Hz (dividing by the factor).
    assert 10 / two_pass_factor(2) == pytest.approx(12.47, abs=0.005)


def test_the_exact_design_frequency_corrects_on_the_tangent():
    design_hz = np.arctan(design_tangent(10, 100)) * 100 / np.pi
    assert design_hz == pytest.approx(12.24924, abs=2e-4)
    _, once = freqz(*butter(2, design_hz, fs=100), worN=[10.0], fs=100)
    assert abs(once[0]) ** 2 == pytest.approx(np.sqrt(0.5), abs=1e-9)


def test_our_filter_has_that_gain_at_the_cut_off():
    time_s = np.arange(4000) / 100
    wave = np.sin(2 * np.pi * 10 * time_s)
    middle = slice(1000, 3000)
    gain = np.abs(low_pass(wave, 100, 10)[middle]).max() / np.abs(wave[middle]).max()
    assert gain == pytest.approx(0.7071067811865476, abs=1e-9)


def test_our_design_gives_the_printed_coefficients():
    # scipy.signal.butter(2, 0.2), twelve digits: K = tan(pi Wn/2), norm = 1/(1 + sqrt2 K + K^2).
    tangent = design_tangent(10 * two_pass_factor(2), 100) * two_pass_factor(2)
    assert tangent != pytest.approx(np.tan(0.1 * np.pi), rel=1e-3), (
        "dividing the frequency is only an approximation"
    )
    k = np.tan(0.1 * np.pi)
    norm = 1 / (1 + np.sqrt(2) * k + k * k)
    assert k * k * norm == pytest.approx(0.06745527388907191, abs=1e-12)
    assert 2 * (k * k - 1) * norm == pytest.approx(-1.1429805025399011, abs=1e-12)


@pytest.mark.parametrize(
    ("panels", "sum_"), [(4, 1.8961188979370398), (10, 1.9835235375094546), (100, 1.9998355038874436)]
)
def test_the_trapezoid_of_a_sine_is_its_closed_form(panels, sum_):
    # (pi/n) cot(pi/(2n)) for the integral of sin over [0, pi].
    angle_deg = np.linspace(0, 180, panels + 1)
    assert work_j(np.sin(np.radians(angle_deg)), angle_deg) == pytest.approx(sum_, abs=1e-12)


def test_linear_torque_over_ninety_degrees():
    assert work_j(np.array([50.0, 100, 150, 200]), np.array([0.0, 30, 60, 90])) == pytest.approx(
        196.3495408, abs=1e-6
    )


def test_a_half_sine_of_two_hundred_newton_metre_over_ninety_degrees_is_two_hundred_joule():
    angle_deg = np.linspace(0, 90, 200_001)
    done_j = work_j(200 * np.sin(np.pi * angle_deg / 90), angle_deg)
    assert done_j == pytest.approx(200, abs=1e-7)
    assert done_j / 1.5 == pytest.approx(133.333, abs=5e-4), "mean power at 60 deg/s"


def test_power_is_torque_times_angular_speed():
    assert np.radians(150.0 * 60.0) == pytest.approx(157.0796327, abs=1e-6)


def test_the_central_difference_of_a_sine_is_its_closed_form():
    # cos(x) sin(h)/h at step h = 0.01.
    for x, slope in ((0.0, 0.9999833334166665), (1.0, 0.5402933008747337), (2.0, -0.4161399008012121)):
        assert slope_per_s(np.sin([x - 0.01, x, x + 0.01]), 100)[1] == pytest.approx(slope, abs=1e-10)
