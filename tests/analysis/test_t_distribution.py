"""Student's t by ``math`` alone agrees with the numerical library to ten digits and more."""

import math
import subprocess
import sys

import numpy as np
import pytest
from scipy import special, stats

from fieldlog.analysis.t_distribution import t_distribution, t_quantile

DOFS = (
    1,
    1.5,
    2,
    2.7,
    3,
    5,
    9.99,
    10.3,
    19.5,
    39.9,
    40,
    40.1,
    77.7,
    100,
    1e3,
    12345.6,
    1e5,
    5e5,
    1e6,
    9e6,
    2e7,
    1e12,
    1e300,
)
PROBABILITIES = (0.5, 0.5000001, 0.51, 0.6, 0.75, 0.9, 0.95, 0.975, 0.99, 0.999, 0.9999, 0.99999)


@pytest.mark.parametrize("dof", DOFS)
def test_quantiles_agree_with_the_library_to_ten_digits(dof):
    found = [t_quantile(probability, dof) for probability in PROBABILITIES]
    np.testing.assert_allclose(found, special.stdtrit(dof, PROBABILITIES), rtol=1e-10, atol=1e-10)
    np.testing.assert_allclose(found, stats.t.ppf(PROBABILITIES, dof), rtol=1e-10, atol=1e-10)


@pytest.mark.parametrize("dof", DOFS)
def test_the_distribution_agrees_with_the_library_to_ten_digits(dof):
    values = (-50.0, -8.0, -2.0, -0.3, -1e-6, 0.0, 1e-3, 0.5, 1.0, 2.5, 6.0, 40.0)
    found = [t_distribution(value, dof) for value in values]
    np.testing.assert_allclose(found, stats.t.cdf(values, dof), rtol=1e-9, atol=1e-10)


@pytest.mark.parametrize("dof", [1.3, 8.0, 52.5, 9e4])
def test_a_quantile_is_where_the_distribution_has_its_probability(dof):
    for probability in (1e-6, 0.01, 0.3, 0.8, 0.995):
        assert t_distribution(t_quantile(probability, dof), dof) == pytest.approx(probability, rel=1e-9)


def test_one_degree_of_freedom_is_the_cauchy_distribution():
    assert t_quantile(0.99999, 1) == pytest.approx(math.tan(math.pi * 0.49999), rel=1e-10)
    assert t_distribution(-1e-6, 1) == pytest.approx(0.5 - math.atan(1e-6) / math.pi, abs=1e-15)


def test_infinite_degrees_of_freedom_are_the_normal_distribution():
    assert t_quantile(0.975, math.inf) == pytest.approx(1.959963984540054, abs=1e-12)
    assert t_distribution(-1.959963984540054, math.inf) == pytest.approx(0.025, abs=1e-12)


def test_both_tails_mirror_each_other():
    assert t_quantile(0.05, 7.5) == pytest.approx(-t_quantile(0.95, 7.5), rel=1e-14)
    assert t_distribution(-1.2, 7.5) == pytest.approx(1.0 - t_distribution(1.2, 7.5), abs=1e-15)
    assert (t_quantile(0.5, 7.5), t_distribution(0.0, 7.5)) == (0.0, pytest.approx(0.5, abs=1e-15))


def test_what_no_number_can_hold_is_infinite():
    assert t_quantile(0.99999, 0.01) == math.inf
    assert (t_distribution(math.inf, 3), t_distribution(-1e200, 3)) == (1.0, 0.0)


@pytest.mark.parametrize("dof", [0.0, -1.0, math.nan])
def test_degrees_of_freedom_lie_above_zero(dof):
    with pytest.raises(ValueError, match="degrees of freedom"):
        t_quantile(0.975, dof)
    with pytest.raises(ValueError, match="degrees of freedom"):
        t_distribution(1.0, dof)


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1, math.nan])
def test_a_probability_lies_between_0_and_1(probability):
    with pytest.raises(ValueError, match="between 0 and 1"):
        t_quantile(probability, 5)


def test_no_number_has_no_probability():
    with pytest.raises(ValueError, match="no number"):
        t_distribution(math.nan, 5)


def test_a_change_is_judged_without_a_numerical_library():
    code = (
        "import sys; from fieldlog.analysis.change import judge_change; judge_change(10.0, 3.0, 2.0, te_dof=7.3); "
        "print({name.split('.')[0] for name in sys.modules} & {'numpy', 'scipy'})"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
