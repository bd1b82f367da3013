"""Conformity against JCGM 106:2012 (full text seen) and ILAC-G8:09/2019 (bounds from memory, recomputed)."""

import pytest

from fieldlog.analysis.calibration import conformity_probability, decide


def test_the_breakdown_voltage_of_a_zener_diode():
    # JCGM 106:2012 7.3.3 example 1: -5.47 V, u 0.05 V, upper limit -5.40 V.
    assert conformity_probability(-5.47, 0.05, upper=-5.40) == pytest.approx(0.92, abs=0.005)


def test_the_viscosity_of_a_motor_oil():
    # JCGM 106:2012 7.4: two-sided; printed with rounded z.
    assert conformity_probability(13.6, 1.8, lower=12.5, upper=16.3) == pytest.approx(0.66, abs=0.006)


@pytest.mark.parametrize(
    ("probability", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_table_1_of_one_sided_conformity(probability, z):
    # JCGM 106:2012 7.3.3 table 1; z to two decimals, so the probability moves by its density there.
    assert conformity_probability(0.0, 1.0, upper=z - 0.0051) <= probability
    assert conformity_probability(0.0, 1.0, upper=z + 0.0051) >= probability


@pytest.mark.parametrize(
    ("guard_in_u_expanded", "bound", "exact"),
    [
        (3.0, 1e-6, 9.8659e-10),
        (1.5, 0.0016, 0.0013499),
        (1.0, 0.025, 0.0227501),
        (0.83, 0.05, 0.048457),
        (0.0, 0.5, 0.5),
    ],
)
def test_a_guard_band_bounds_the_false_accept(guard_in_u_expanded, bound, exact):
    # ILAC-G8:09/2019 table 1 (from memory; exact values recomputed), U = 2 u; 1.0 is also JCGM 106 8.3.2.3.
    at_the_acceptance_limit = 1.0 - guard_in_u_expanded * 1.0
    false_accept = 1.0 - conformity_probability(at_the_acceptance_limit, 0.5, upper=1.0)
    assert false_accept <= bound
    assert false_accept == pytest.approx(exact, rel=1e-4, abs=1e-12)


@pytest.mark.parametrize(
    ("error", "word"),
    [
        (0.7, "pass"),
        (-0.7, "pass"),
        (0.71, "conditional pass"),
        (1.0, "conditional pass"),
        (1.01, "conditional fail"),
        (-1.3, "conditional fail"),
        (1.31, "fail"),
    ],
)
def test_the_four_words_of_guarded_acceptance(error, word):
    # ILAC-G8:09/2019 clause 4.2.3 (from memory): guard band w = U.
    assert decide(error, 0.3, 1.0, "guarded") == word
