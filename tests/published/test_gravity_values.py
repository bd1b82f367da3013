"""Local gravity against the Geodetic Reference System 1980."""

import pytest

from fieldlog.analysis.calibration import reference_torque
from fieldlog.analysis.gravity import STANDARD_GRAVITY_M_S2, local_gravity


@pytest.mark.parametrize(
    ("latitude_deg", "gravity_m_s2"), [(0.0, 9.7803267715), (45.0, 9.806199203), (90.0, 9.8321863685)]
)
def test_normal_gravity_of_grs_80(latitude_deg, gravity_m_s2):
    # Moritz, Geodetic Reference System 1980, section 4 (equator and pole: constants list seen; 45° secondary).
    assert local_gravity(latitude_deg) == pytest.approx(gravity_m_s2, abs=1.5e-9)
    assert local_gravity(-latitude_deg) == local_gravity(latitude_deg)


def test_a_hundred_metres_take_the_conventional_free_air_gradient():
    # Textbook free-air gradient 0.3086 mGal/m (secondary).
    assert local_gravity(45.0, 100.0) - local_gravity(45.0) == pytest.approx(-3.086e-4, abs=1e-7)


def test_standard_gravity_is_the_defined_one():
    # 3rd CGPM 1901.
    assert STANDARD_GRAVITY_M_S2 == 9.80665


def test_the_formula_of_legal_metrology_agrees_within_its_digits():
    # WELMEC gravity formula, check value for 52.3° and 80 m (as printed in a stored software manual).
    assert local_gravity(52.3, 80.0) == pytest.approx(9.812484, abs=2e-5)


def test_the_force_of_a_twenty_kilogram_mass_is_reduced_by_the_air():
    # F = m·g·(1 − 1.2/8000), conventional conditions of OIML D 28:2004; on a lever of one metre, in N·m.
    assert reference_torque(20.0, 1.0) == pytest.approx(196.10358, abs=1e-5)
