"""Ratios that say what stands above and below."""

import pytest

from fieldlog.analysis.ratios import (
    bilateral_difference_pct,
    dynamic_control_ratio_pct,
    ratio_pct,
    weight_tell_tale_pct,
)


def test_the_sign_of_a_bilateral_difference_says_the_side():
    assert bilateral_difference_pct(200, 180) == pytest.approx(-10)
    assert bilateral_difference_pct(180, 200) == pytest.approx(10)
    assert bilateral_difference_pct(0, 200) == 100


@pytest.mark.parametrize("sides", [(0, 0), (-1, 5), (float("nan"), 5), (5, float("inf"))])
def test_a_difference_without_meaning_is_refused(sides):
    with pytest.raises(ValueError):
        bilateral_difference_pct(*sides)


def test_ratios_divide_the_first_by_the_second():
    assert ratio_pct(90, 150) == pytest.approx(60)
    assert dynamic_control_ratio_pct(160, 200) == pytest.approx(80)
    with pytest.raises(ValueError, match="denominator"):
        ratio_pct(10, 0)


def test_an_uncorrected_ratio_climbs_with_speed_and_a_corrected_one_does_not():
    # Knee flexion over extension, 0.58 at 30°/s and 0.74 at 240°/s uncorrected (Aagaard and others 1995).
    hindered = {30: 200.0, 240: 120.0}
    assert weight_tell_tale_pct({30: 116.0, 240: 88.8}, hindered) == pytest.approx(27.6, abs=0.1)
    assert weight_tell_tale_pct({30: 100.0, 240: 60.0}, hindered) == pytest.approx(0)


def test_one_speed_tells_nothing():
    assert weight_tell_tale_pct({60: 100.0, 180: 70.0}, {60: 180.0}) is None
