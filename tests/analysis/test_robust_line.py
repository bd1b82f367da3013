"""The robust line: against a general library, and its interval against simulation."""

import numpy as np
import pytest
from scipy import stats

from fieldlog.analysis.robust_line import fit_robust_line, robust_sd


def scattered(n, seed, wrong=0):
    random = np.random.default_rng(seed)
    x = random.normal(100, 6, n)
    y = 134 - x + random.normal(0, 0.8, n)
    y[:wrong] += 9
    return x, y


@pytest.mark.parametrize("wrong", [0, 3])
def test_slope_and_intercept_are_those_of_scipy(wrong):
    """Reference: scipy.stats.theilslopes with its joint intercept."""
    x, y = scattered(30, 1, wrong)
    line = fit_robust_line(x, y)
    reference = stats.theilslopes(y, x, method="joint")
    assert line.slope == pytest.approx(reference.slope, rel=1e-12)
    assert line.intercept == pytest.approx(reference.intercept, rel=1e-12)


@pytest.mark.parametrize("n", [10, 31])
def test_nineteen_of_twenty_further_values_fall_into_the_interval(n):
    random = np.random.default_rng(7)
    inside = 0
    trials = 1200
    for trial in range(trials):
        line = fit_robust_line(*scattered(n, trial))
        x = random.normal(100, 6)
        value, half_width = line.predict(x)
        inside += abs(134 - x + random.normal(0, 0.8) - value) <= half_width
    assert 0.92 <= inside / trials <= 0.97


def test_the_interval_is_exact_for_values_on_a_line():
    line = fit_robust_line([1.0, 2.0, 3.0, 4.0, 5.0], [3.0, 5.0, 7.0, 9.0, 11.0])
    assert line.predict(6.0) == pytest.approx((13.0, 0.0))


def test_the_robust_sd_is_the_plain_one_where_nothing_is_wrong():
    values = np.random.default_rng(3).normal(40, 2, 400)
    assert robust_sd(values) == pytest.approx(np.std(values, ddof=1), rel=0.02)
    assert robust_sd([*values, 400.0]) == pytest.approx(np.std(values, ddof=1), rel=0.05)


@pytest.mark.parametrize(
    ("x", "y", "part"),
    [
        ([1, 2], [1, 2], "at least 4"),
        ([1, 2, 3, 4], [1, 2, 3], "x has 4"),
        ([5, 5, 5, 5], [1, 2, 3, 4], "all x are equal"),
        ([1, 2, 3, float("nan")], [1, 2, 3, 4], "not a finite"),
    ],
)
def test_what_has_no_line_is_refused(x, y, part):
    with pytest.raises(ValueError, match=part):
        fit_robust_line(x, y)
