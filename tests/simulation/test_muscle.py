"""The simulated muscles against closed forms and the published evaluated values."""

import numpy as np
import pytest

from tests.simulation.muscle import PUBLISHED, CosineBell, HalfSine, PublishedMuscle, speed_factor

MAN = {"body_mass_kg": 75.0, "height_m": 1.80}


@pytest.mark.parametrize(("speed_deg_s", "torque_nm_kg"), [(0, 2.88), (60, 2.35), (180, 1.64), (300, 1.18)])
def test_knee_extension_of_a_man_has_the_values_evaluated_from_the_published_form(speed_deg_s, torque_nm_kg):
    # Anderson, Madigan and Nussbaum 2007, Table 3, evaluated for 75 kg and 1.80 m, 18-25 years
    muscle = PublishedMuscle(PUBLISHED["knee extension", "male"], **MAN)
    assert muscle.torque_nm(muscle.peak_angle_deg, speed_deg_s) / 75 == pytest.approx(torque_nm_kg, abs=0.006)


def test_knee_flexion_over_extension_is_about_0_56_at_60_deg_s():
    peaks = [
        muscle.torque_nm(muscle.peak_angle_deg, 60)
        for muscle in (
            PublishedMuscle(PUBLISHED[f"knee {name}", "male"], **MAN) for name in ("flexion", "extension")
        )
    ]
    assert peaks[0] / peaks[1] == pytest.approx(0.56, abs=0.005)


@pytest.mark.parametrize("coefficients", PUBLISHED.values(), ids=str)
def test_c4_and_c5_are_the_speeds_of_three_quarters_and_half_torque(coefficients):
    # the meaning the article gives the two coefficients
    c4_deg_s, c5_deg_s = np.degrees([coefficients.c4_rad_s, coefficients.c5_rad_s])
    assert speed_factor(coefficients, c4_deg_s) == pytest.approx(0.75, abs=0.001)
    assert speed_factor(coefficients, c5_deg_s) == pytest.approx(0.50, abs=0.001)


def test_speed_factor_is_one_at_rest_and_eccentric_torque_is_larger_than_concentric():
    coefficients = PUBLISHED["knee flexion", "female"]
    assert speed_factor(coefficients, 0.0) == 1.0
    assert speed_factor(coefficients, -60.0) > speed_factor(coefficients, 60.0)


@pytest.mark.parametrize("curve", [HalfSine(150, 10, 90), CosineBell(180, 62, 75)], ids=str)
def test_closed_form_work_is_the_integral_of_the_torque(curve):
    angle_deg = np.linspace(20, 85, 100_001)
    numeric_j = np.trapezoid(curve.torque_nm(angle_deg), np.radians(angle_deg))
    assert curve.work_j(20, 85) == pytest.approx(numeric_j, rel=1e-8)
    assert curve.work_j(85, 20) == curve.work_j(20, 85)
    assert curve.torque_nm(curve.peak_angle_deg) == pytest.approx(curve.peak_nm)


def test_half_sine_work_over_its_range_is_two_over_pi_of_the_rectangle():
    assert HalfSine(100, 0, 90).work_j(0, 90) == pytest.approx(100 * 2 / np.pi * np.radians(90))


def test_curves_give_no_torque_outside_their_range():
    assert HalfSine(150, 10, 90).torque_nm([0, 95]) == pytest.approx([0, 0], abs=1e-12)
    assert CosineBell(150, 50, 40).torque_nm([5, 95]) == pytest.approx([0, 0], abs=1e-12)
