"""Drift and the day it leaves tolerance."""

import math

import numpy as np
import pytest
from scipy import stats

from fieldlog.analysis.drift import forecast


def test_a_noiseless_drift_crosses_on_its_day():
    found = forecast(range(10), [0.1 * day for day in range(10)], tolerance=2.0)
    assert found.slope_per_day == pytest.approx(0.1)
    assert found.crossing_day == pytest.approx(20.0)
    assert (found.earliest_day, found.latest_day) == pytest.approx((20.0, 20.0))


def test_a_drift_downwards_meets_the_lower_limit():
    found = forecast([0, 10, 20], [0.0, -0.5, -1.0], tolerance=2.0)
    assert found.crossing_day == pytest.approx(40.0)


def test_a_steady_rig_never_crosses():
    for level in (0.0, 0.1, -0.7):
        found = forecast([0, 30, 60, 90], [level] * 4, tolerance=2.0)
        assert (found.crossing_day, found.earliest_day, found.latest_day) == (None, None, None)


def test_two_checks_give_a_line_without_an_interval():
    found = forecast([0, 10], [0.0, 1.0], tolerance=2.0)
    assert found.crossing_day == pytest.approx(20.0)
    assert (found.earliest_day, found.latest_day) == (None, None)
    assert math.isnan(found.residual_sd)


def test_an_unsure_slope_has_no_latest_day():
    found = forecast([0, 1, 2, 3, 4], [0.0, 0.9, -0.6, 0.8, 0.3], tolerance=2.0)
    assert found.latest_day is None
    assert found.earliest_day >= 4.0


def test_the_interval_is_where_the_prediction_band_meets_the_limit():
    # Against a search along the band of the textbook formula, over many random histories.
    rng = np.random.default_rng(4)
    compared = 0
    for _ in range(60):
        n = int(rng.integers(3, 12))
        days = np.sort(rng.uniform(0, 100, n))
        errors = rng.normal(0, 0.3, n) + rng.normal(0, 0.02) * days + rng.normal(0, 0.5)
        found = forecast(days, errors, tolerance=2.5)
        if found.crossing_day <= days[-1]:
            continue
        slope, intercept = np.polyfit(days, errors, 1)
        rest = errors - intercept - slope * days
        reach = stats.t.ppf(0.975, n - 2) * math.sqrt((rest**2).sum() / (n - 2))
        ahead = np.linspace(days[-1], days[-1] + 2000, 200_001)
        spread = ((days - days.mean()) ** 2).sum()
        half = reach * np.sqrt(1 + 1 / n + (ahead - days.mean()) ** 2 / spread)
        away = np.abs(math.copysign(2.5, slope) - intercept - slope * ahead)
        inside = away <= half
        if inside.any():
            compared += 1
            assert found.earliest_day == pytest.approx(ahead[inside][0], abs=0.02)
            left_again = ~inside & (ahead > found.crossing_day)
            if found.latest_day is None:
                assert not left_again.any()
            elif found.latest_day < ahead[-1]:
                assert found.latest_day == pytest.approx(ahead[left_again][0], abs=0.02)
    assert compared > 20


@pytest.mark.parametrize(
    ("days", "errors", "tolerance"),
    [
        ([0], [1], 2),
        ([3, 3], [1, 2], 2),
        ([0, 1], [1, math.nan], 2),
        ([0, 1], [1, 2], 0),
        ([0, 1], [1, 2], math.nan),
    ],
)
def test_what_carries_no_forecast_is_refused(days, errors, tolerance):
    with pytest.raises(ValueError):
        forecast(days, errors, tolerance=tolerance)
