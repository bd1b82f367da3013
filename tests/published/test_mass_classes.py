"""Limits of mass classes against OIML R 111-1:2004, table 1 (seen in stored transcriptions)."""

import math

import pytest

from fieldlog.analysis.reference_masses import limit_kg, mass_standard_uncertainty_rel

NOMINAL_KG = (1, 2, 5, 10, 20, 50)
LIMITS_MG = {
    "E1": (0.5, 1.0, 2.5, 5, 10, 25),
    "E2": (1.6, 3.0, 8.0, 16, 30, 80),
    "F1": (5, 10, 25, 50, 100, 250),
    "F2": (16, 30, 80, 160, 300, 800),
    "M1": (50, 100, 250, 500, 1000, 2500),
    "M2": (160, 300, 800, 1600, 3000, 8000),
    "M3": (500, 1000, 2500, 5000, 10000, 25000),
}


@pytest.mark.parametrize("accuracy_class", LIMITS_MG)
def test_every_entry_of_the_table(accuracy_class):
    for nominal_kg, limit_mg in zip(NOMINAL_KG, LIMITS_MG[accuracy_class], strict=True):
        assert limit_kg(accuracy_class, nominal_kg) * 1e6 == pytest.approx(limit_mg, rel=1e-12)


def test_the_two_classes_that_begin_at_fifty_kilograms():
    assert limit_kg("M1-2", 50) * 1e6 == pytest.approx(5000)
    assert limit_kg("M2-3", 50) * 1e6 == pytest.approx(16000)


def test_a_limit_becomes_a_rectangular_standard_uncertainty():
    # JCGM 100:2008 4.3.7: half-width over √3.
    assert mass_standard_uncertainty_rel("M1", 20) == pytest.approx(1e-3 / 20 / math.sqrt(3))
