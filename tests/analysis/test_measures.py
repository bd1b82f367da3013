"""Every measure of one movement, against figures worked out by hand."""

import numpy as np
import pytest

from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.measures import angle_key, measure_movement, mode_of, work_j
from fieldlog.analysis.movements import find_movements
from tests.analysis.recordings import motion


def measure(*stretches, torque, set_speed_deg_s=60.0, start_deg=10.0, **options):
    """Measure the first movement of a recording whose torque needs no filter."""
    recorded = motion(*stretches, torque=torque, start_deg=start_deg)
    span = find_movements(recorded.angle_deg, recorded.velocity_deg_s)[0]
    return measure_movement(
        recorded,
        recorded.torque_nm,
        span,
        index=1,
        **{"set_speed_deg_s": set_speed_deg_s, "band_pct": 5.0, **options},
    )


def half_sine(peak_nm, low_deg, high_deg):
    def torque(_time_s, angle_deg, _velocity):
        share = np.clip((angle_deg - low_deg) / (high_deg - low_deg), 0, 1)
        return peak_nm * np.sin(np.pi * share)

    return torque


UP = ((0, 0.2), (60, 1.5), (0, 0.2))
DOWN = ((0, 0.2), (-60, 1.5), (0, 0.2))


def test_a_half_sine_of_torque_gives_the_closed_forms():
    m = measure(*UP, torque=half_sine(200, 10, 100))
    assert (m.direction, m.mode) == ("up", "concentric")
    assert m.peak_torque_nm == pytest.approx(200, rel=1e-5)
    assert m.peak_torque_angle_deg == pytest.approx(55, abs=0.1)
    assert m.time_to_peak_s == pytest.approx(0.75, abs=0.003)
    assert m.work_j == pytest.approx(200, rel=1e-4)
    assert m.mean_power_w == pytest.approx(200 / 1.5, rel=2e-3)
    assert m.peak_power_w == pytest.approx(200 * np.pi / 3, rel=1e-5)
    assert m.impulse_nms == pytest.approx(200 * 2 / np.pi * 1.5, rel=1e-3)
    assert (m.start_s, m.end_s) == pytest.approx((0.199, 1.7))
    assert (m.start_deg, m.end_deg, m.range_deg) == pytest.approx((10, 100, 90), abs=0.1)
    assert m.mean_speed_deg_s == pytest.approx(60, rel=2e-3)
    assert m.flags == ()


def test_a_downward_pull_is_positive_too():
    m = measure(*DOWN, torque=lambda *at: -half_sine(200, 10, 100)(*at), start_deg=100)
    assert (m.direction, m.mode) == ("down", "concentric")
    assert m.peak_torque_nm == pytest.approx(200, rel=1e-5)
    assert m.work_j == pytest.approx(200, rel=1e-4)


def test_eccentric_figures_are_positive():
    m = measure(*DOWN, torque=half_sine(200, 10, 100), start_deg=100)
    assert (m.direction, m.mode) == ("down", "eccentric")
    assert m.peak_torque_nm == pytest.approx(200, rel=1e-5)
    assert m.work_j == pytest.approx(200, rel=1e-4)
    assert m.mean_power_w == pytest.approx(133.3, rel=2e-3)
    assert m.peak_power_w > 0


def test_a_declared_mode_wins_and_the_disagreement_is_flagged():
    m = measure(*UP, torque=half_sine(200, 10, 100), declared_mode="eccentric")
    assert m.mode == "eccentric"
    assert "mode_differs" in m.flags
    assert m.work_j == pytest.approx(-200, rel=1e-4)


def test_the_mode_is_the_sign_of_the_mean_power():
    assert mode_of(np.array([-1.0, 3.0]), np.array([10.0, 10.0])) == "concentric"
    assert mode_of(np.array([-3.0, 1.0]), np.array([10.0, 10.0])) == "eccentric"


def test_work_is_that_of_a_straight_line_of_torque():
    assert work_j(np.array([50.0, 100, 150, 200]), np.array([0.0, 30, 60, 90])) == pytest.approx(196.3495408)
    assert work_j(np.array([200.0, 150, 100, 50]), np.array([90.0, 60, 30, 0])) == pytest.approx(196.3495408)


def test_peak_torque_outside_the_load_range_does_not_count():
    # A burst before the set speed is reached, twice as high as anything in the load range.
    def torque(time_s, angle_deg, velocity):
        return np.where(velocity < 50, 300.0, half_sine(150, 10, 100)(time_s, angle_deg, velocity))

    m = measure((0, 0.2), (30, 0.3), (60, 1.2), (30, 0.2), (0, 0.2), torque=torque)
    assert m.peak_torque_nm == pytest.approx(150, rel=1e-3)
    assert m.work_j > m.load_range_work_j


def test_a_short_load_range_is_flagged_below_forty_percent():
    assert measure((0, 0.2), (30, 1.85), (60, 0.6), (0, 0.2), torque=100).flags == ("short_load_range",)
    assert measure((0, 0.2), (30, 1.75), (60, 0.6), (0, 0.2), torque=100).flags == ()


def test_fast_movements_are_given_a_shorter_load_range():
    fast = {"set_speed_deg_s": 180.0, "torque": 100}
    assert measure((0, 0.2), (90, 0.74), (180, 0.13), (0, 0.2), **fast).flags == ()
    assert measure((0, 0.2), (90, 0.85), (180, 0.13), (0, 0.2), **fast).flags == ("short_load_range",)


def test_without_a_load_range_no_torque_measure_is_given():
    m = measure(*UP, torque=half_sine(200, 10, 100), set_speed_deg_s=120.0, at_deg=(50,))
    assert m.flags == ("no_load_range",)
    assert m.load_range_deg is None
    assert (m.peak_torque_nm, m.peak_torque_angle_deg, m.time_to_peak_s) == (None, None, None)
    assert (m.work_j, m.load_range_work_j, m.mean_power_w, m.peak_power_w, m.impulse_nms) == (None,) * 5
    assert m.torque_at_nm == {"50": None}
    assert m.range_deg == pytest.approx(90, abs=0.1)


def test_torque_is_read_at_angles_inside_the_load_range_only():
    m = measure(
        (0, 0.2),
        (30, 0.5),
        (60, 1.0),
        (30, 0.5),
        (0, 0.2),
        torque=lambda _t, angle, _v: angle,
        at_deg=(12, 40, 62.5, 97),
    )
    assert m.torque_at_nm == {
        "12": None,
        "40": pytest.approx(40, abs=0.1),
        "62.5": pytest.approx(62.5, abs=0.1),
        "97": None,
    }


def test_torque_is_read_at_angles_on_the_way_down():
    m = measure(*DOWN, torque=lambda _t, angle, _v: -angle, start_deg=100, at_deg=(40,))
    assert m.torque_at_nm["40"] == pytest.approx(40, abs=0.1)


def test_angles_are_named_without_needless_digits():
    assert [angle_key(30.0), angle_key(22.5), angle_key(-5.0)] == ["30", "22.5", "-5"]


def spike(at_s, width_s=0.02, height_nm=100.0):
    """A flat 100 N·m with a spike that begins at a time."""
    return lambda time_s, _a, _v: 100.0 + height_nm * ((time_s >= at_s) & (time_s < at_s + width_s))


@pytest.mark.parametrize(
    ("at_s", "height_nm", "flagged"),
    [(0.2, 20, True), (0.2, 9, False), (0.29, 20, False), (1.68, 20, True), (1.6, 20, False)],
)
def test_a_peak_at_the_edge_of_the_load_range_is_flagged_when_it_stands_out(at_s, height_nm, flagged):
    assert ("peak_at_edge" in measure(*UP, torque=spike(at_s, height_nm=height_nm)).flags) is flagged


def test_overshoot_before_the_load_range_is_flagged_above_ten_percent():
    assert measure((0, 0.2), (66.5, 0.2), (60, 1), (0, 0.2), torque=100).flags == ("overshoot",)
    assert measure((0, 0.2), (65.5, 0.2), (60, 1), (0, 0.2), torque=100).flags == ()
    assert measure((0, 0.2), (60, 1), (66.5, 0.2), (0, 0.2), torque=100).flags == ()


def test_an_overshoot_so_short_that_the_load_range_begins_before_it_is_flagged_too():
    assert measure((0, 0.2), (60, 0.01), (70, 0.04), (60, 1), (0, 0.2), torque=100).flags == ("overshoot",)
    assert measure((0, 0.2), (60, 0.01), (70, 0.005), (60, 1), (0, 0.2), torque=100).flags == ()


def swept(lowest_deg, highest_deg):
    return WeightTorque(0, 0, 0, lowest_deg=lowest_deg, highest_deg=highest_deg)


def test_up_to_five_degrees_outside_the_sweep_are_allowed():
    assert measure(*UP, torque=100, weight_torque=swept(14.9, 95.2)).flags == ()


def test_measures_that_need_the_weight_outside_the_sweep_are_null():
    m = measure(*UP, torque=100, weight_torque=swept(10, 80), at_deg=(50, 90))
    assert m.flags == ("weight_extrapolated",)
    assert (m.peak_torque_nm, m.work_j, m.load_range_work_j, m.mean_power_w, m.impulse_nms) == (None,) * 5
    assert m.torque_at_nm == {"50": pytest.approx(100), "90": None}


def test_the_peak_stands_where_only_the_ramp_lies_outside_the_sweep():
    stretches = ((0, 0.2), (30, 1.0), (60, 1.0), (0, 0.2))
    m = measure(*stretches, torque=100, weight_torque=swept(40, 100))
    assert m.flags == ("weight_extrapolated",)
    assert m.peak_torque_nm == pytest.approx(100)
    assert m.load_range_work_j == pytest.approx(100 * np.pi / 3, rel=1e-3)
    assert m.work_j is None
