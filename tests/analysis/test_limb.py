"""Weight torque: fitted, from one hold, and when cosine and offset cannot be told apart."""

import numpy as np
import pytest

from fieldlog.analysis.limb import fit_weight_torque, weight_torque_nm


def curve(angle_deg, cos_nm=12.0, sin_nm=-3.0, offset_nm=0.8):
    return weight_torque_nm(np.asarray(angle_deg, float), cos_nm, sin_nm, offset_nm)


def test_a_clean_sweep_gives_the_coefficients_back():
    angle = np.linspace(0, 95, 400)
    weight = fit_weight_torque(angle, curve(angle))
    assert (weight.cos_nm, weight.sin_nm, weight.offset_nm) == pytest.approx((12, -3, 0.8))
    assert weight.rms_nm == pytest.approx(0, abs=1e-9)
    assert weight.range_deg == pytest.approx(95)
    assert weight.separable
    assert weight.amplitude_nm == pytest.approx(np.hypot(12, 3))


def test_friction_cancels_over_a_sweep_both_ways():
    angle = np.concatenate((np.linspace(0, 90, 500), np.linspace(90, 0, 500)))
    friction = np.repeat([-1.5, 1.5], 500)
    weight = fit_weight_torque(angle, curve(angle) + friction)
    assert (weight.cos_nm, weight.sin_nm, weight.offset_nm) == pytest.approx((12, -3, 0.8), abs=1e-6)
    assert weight.rms_nm == pytest.approx(1.5)


def test_static_holds_at_a_few_angles_are_enough():
    angles = [0, 30, 60, 90]
    assert fit_weight_torque(angles, curve(angles)).cos_nm == pytest.approx(12)


@pytest.mark.parametrize(
    ("range_deg", "separable"), [(30, False), (40, False), (50, False), (60, True), (90, True)]
)
def test_cosine_and_offset_are_told_apart_only_over_a_wide_range(range_deg, separable):
    for start_deg in (-20, 0, 45):
        angle = np.linspace(start_deg, start_deg + range_deg, 300)
        assert fit_weight_torque(angle, curve(angle)).separable is separable


def test_the_curve_stays_right_where_the_coefficients_are_not_separable():
    angle = np.linspace(-20, 20, 500)
    noisy = curve(angle) + np.random.default_rng(8).normal(0, 0.3, 500)
    weight = fit_weight_torque(angle, noisy)
    assert not weight.separable
    assert weight.at(angle) == pytest.approx(curve(angle), abs=0.1)


@pytest.mark.parametrize(
    ("angle", "torque", "what"),
    [
        ([0, 30], [1, 2], "at least 3"),
        ([0, 30, 60], [1, 2], "same length"),
        ([0, 30, np.nan], [1, 2, 3], "finite"),
        ([0, 30, 60], [1, np.inf, 3], "finite"),
        ([45, 45, 45, 47], [1, 2, 3, 4], "whole range"),
    ],
)
def test_what_cannot_be_fitted_is_refused(angle, torque, what):
    with pytest.raises(ValueError, match=what):
        fit_weight_torque(angle, torque)
