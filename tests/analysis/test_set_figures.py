"""The figures of a set: best, mean, variation, work, fatigue."""

import numpy as np
import pytest

from fieldlog.analysis.measures import MovementMeasures
from fieldlog.analysis.set_figures import differing_ranges, figures_of, is_still_climbing, variation_pct


def movements(peaks, works=None, ranges=None, flags=None):
    return [
        MovementMeasures(
            index=number + 1,
            direction="up",
            mode="concentric",
            start_s=0.0,
            end_s=1.0,
            start_deg=0.0,
            end_deg=90.0,
            range_deg=(ranges or [90.0] * len(peaks))[number],
            mean_speed_deg_s=60.0,
            peak_torque_nm=peak,
            work_j=(works or peaks)[number],
            flags=(flags or {}).get(number + 1, ()),
        )
        for number, peak in enumerate(peaks)
    ]


def test_best_mean_and_best_three():
    figures = figures_of(movements([150.0, 170.0, 160.0, 180.0, 140.0]), body_mass_kg=80.0)
    assert figures.movements == 5
    assert figures.best_peak_torque_nm == 180
    assert figures.best_peak_torque_nm_kg == pytest.approx(2.25)
    assert figures.mean_peak_torque_nm == 160
    assert figures.mean_best_three_nm == 170
    assert figures.peak_torque_cv_pct == pytest.approx(100 * np.std([150, 170, 160, 180, 140], ddof=1) / 160)
    assert figures.total_work_j == 800


def test_what_too_few_movements_do_not_allow_is_null():
    none = figures_of([])
    assert none.movements == 0
    assert none.best_peak_torque_nm is None
    assert none.total_work_j is None
    two = figures_of(movements([100.0, 110.0]))
    assert two.best_peak_torque_nm_kg is None
    assert two.mean_best_three_nm is None
    assert two.work_slope_j is None
    assert figures_of(movements([100.0])).peak_torque_cv_pct is None


def test_movements_without_a_peak_do_not_spoil_the_others():
    figures = figures_of(movements([100.0, None, 120.0], works=[90.0, None, 80.0]))
    assert figures.movements == 3
    assert figures.mean_peak_torque_nm == 110
    assert figures.total_work_j == 170


@pytest.mark.parametrize(("count", "third"), [(6, 2), (7, 2), (8, 2), (9, 3), (30, 10)])
def test_the_thirds_are_the_whole_part_of_a_third(count, third):
    works = [100.0 - number for number in range(count)]
    drop = figures_of(movements(works)).work_thirds_drop_pct
    assert drop == pytest.approx(100 * (1 - sum(works[-third:]) / sum(works[:third])))


def test_under_six_movements_there_are_no_thirds():
    assert figures_of(movements([100.0] * 5)).work_thirds_drop_pct is None


def test_the_decline_leaves_the_first_two_out():
    # The first two are submaximal, the rest fall from 200 by 4 a repetition.
    peaks = [120.0, 150.0] + [200.0 - 4 * number for number in range(18)]
    assert figures_of(movements(peaks)).decline_pct == pytest.approx(100 * 4 * 17 / 200)


def test_the_decline_is_null_under_fifteen_movements():
    assert figures_of(movements([200.0 - n for n in range(14)])).decline_pct is None
    assert figures_of(movements([200.0 - n for n in range(15)])).decline_pct is not None


def test_work_changes_by_the_slope_of_its_line():
    assert figures_of(
        movements([100.0] * 10, works=[150 - 2.5 * n for n in range(10)])
    ).work_slope_j == pytest.approx(-2.5)


def test_from_fifteen_movements_on_the_variation_is_about_the_line():
    falling = np.linspace(200, 100, 20)
    assert variation_pct(falling) == pytest.approx(0, abs=1e-9)
    assert variation_pct(falling[:14]) > 10
    noisy = falling + np.tile([5.0, -5.0], 10)
    line = np.polyval(np.polyfit(np.arange(20), noisy, 1), np.arange(20))
    expected = 100 * np.sqrt(((noisy - line) ** 2).sum() / 18) / noisy.mean()
    assert variation_pct(noisy) == pytest.approx(expected)


def test_a_movement_of_another_range_is_out_of_work_and_fatigue_but_keeps_its_peak():
    listed = movements([100.0] * 5 + [130.0], works=[50.0] * 5 + [10.0], flags={6: ("range_differs",)})
    figures = figures_of(listed)
    assert figures.best_peak_torque_nm == 130
    assert figures.total_work_j == 250
    assert figures.movements == 6
    assert figures.work_thirds_drop_pct is None


def test_a_range_below_ninety_percent_of_the_median_differs():
    listed = movements([1.0] * 5, ranges=[90.0, 81.5, 80.5, 91.0, 90.0])
    assert differing_ranges(listed) == (3,)
    assert differing_ranges([]) == ()


@pytest.mark.parametrize(
    ("peaks", "climbing"),
    [
        ([160, 166, 172, 178, 185], True),
        ([160, 170, 180], True),
        ([160, 170, 180, 178, 181], False),  # not three in a row
        ([185, 160, 170, 180, 186], False),  # hardly above the first
        ([180, 179, 181, 180, 182], False),
        ([160, 170], False),
        ([100 + 5 * n for n in range(15)], False),  # a long set is not for finding the peak
    ],
)
def test_still_climbing_means_a_clear_rise_to_the_end(peaks, climbing):
    assert is_still_climbing(movements([float(peak) for peak in peaks])) is climbing
