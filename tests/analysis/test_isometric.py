"""Holds: peak, mean, onset and rate of torque development, and when that rate is refused."""

import numpy as np
import pytest

from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.trace import Trace, analyse
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import stairs, stand
from tests.simulation.recording import Hold, Scene, Weight


def holds(*efforts, motion=None, acquisition=None, weight=None, **options):
    scene = Scene(motion or stand(60, 12), holds=efforts, weight=weight or Weight())
    samples = (acquisition or Acquisition()).sample(scene)
    measured = analyse(
        Trace(samples.time_s, samples.angle_deg, samples.torque_nm, samples.velocity_deg_s), **options
    )
    assert measured.mode == "isometric"
    return measured


def test_two_efforts_are_two_holds():
    first, second = Hold(2, 5, 200), Hold(7, 10, 190)
    found = holds(first, second).isometric.holds
    assert [hold.index for hold in found] == [1, 2]
    for hold, truth in zip(found, (first, second), strict=True):
        assert hold.peak_torque_nm == pytest.approx(truth.plateau_nm, rel=0.01)
        assert hold.mean_torque_nm == pytest.approx(truth.plateau_nm, rel=0.005)
        assert hold.onset_s == pytest.approx(truth.onset_s, abs=0.003)
        assert hold.angle_deg == pytest.approx(60)
        assert hold.flags == ()


def test_the_rates_are_those_of_the_exponential_rise():
    truth = Hold(3, 6, 200, time_constant_s=0.08)
    (hold,) = holds(truth).isometric.holds
    assert hold.rtd_50_nm_s == pytest.approx(truth.rate_nm_s(0.05), rel=0.03)
    assert hold.rtd_100_nm_s == pytest.approx(truth.rate_nm_s(0.1), rel=0.03)
    assert hold.rtd_200_nm_s == pytest.approx(truth.rate_nm_s(0.2), rel=0.03)


def test_a_pull_towards_smaller_angles_is_positive():
    (hold,) = holds(Hold(3, 6, 150, sign=-1)).isometric.holds
    assert hold.direction == "down"
    assert hold.peak_torque_nm == pytest.approx(150, rel=0.01)
    assert hold.rtd_200_nm_s > 0


@pytest.mark.parametrize(
    ("rate_hz", "cutoff_hz", "fifty"),
    [(1000, 150, True), (500, 150, True), (499, 150, True), (400, 150, False), (100, None, False)],
)
def test_the_first_fifty_milliseconds_need_five_hundred_samples_a_second(rate_hz, cutoff_hz, fifty):
    measured = holds(Hold(3, 6, 200), acquisition=Acquisition(rate_hz=rate_hz)).isometric
    assert measured.rtd_cutoff_hz == cutoff_hz
    assert (measured.holds[0].rtd_50_nm_s is not None) is fifty
    assert measured.holds[0].rtd_100_nm_s is not None


def test_tension_before_the_onset_is_flagged_and_no_rate_is_given():
    measured = holds(Hold(3, 6, 200, tension_nm=8))
    (hold,) = measured.isometric.holds
    assert hold.flags == ("pre_tension",)
    assert (hold.rtd_50_nm_s, hold.rtd_100_nm_s, hold.rtd_200_nm_s) == (None, None, None)
    assert hold.peak_torque_nm == pytest.approx(200, rel=0.01)
    assert [remark.code for remark in measured.quality] == ["pre_tension"]


def test_four_newton_metres_of_tension_are_allowed():
    (hold,) = holds(Hold(3, 6, 200, tension_nm=4)).isometric.holds
    assert hold.flags == ()
    assert hold.rtd_100_nm_s is not None


def test_a_torque_that_creeps_before_the_effort_is_pre_tension():
    time_s = np.arange(6000) / 1000
    creeping = np.where(time_s < 3, 7 * (time_s - 2.9), 200 * (1 - np.exp(-(time_s - 3) / 0.08)))
    measured = analyse(Trace(time_s[2400:], np.full(3600, 60.0), np.maximum(creeping, -3.5)[2400:]))
    assert measured.isometric.holds[0].flags == ("pre_tension",)


def test_a_recording_that_starts_in_the_effort_gives_no_rate():
    time_s = np.arange(4000) / 1000
    torque = np.where(time_s < 3, 150.0, 150 * np.exp(-(time_s - 3) / 0.1)) + 0.01 * np.sin(40 * time_s)
    (hold,) = analyse(Trace(time_s, np.full(4000, 30.0), torque)).isometric.holds
    assert hold.flags == ("pre_tension",)
    assert hold.onset_s is None
    assert hold.rtd_200_nm_s is None
    assert hold.mean_torque_nm == pytest.approx(150, rel=1e-3)


def test_the_weight_of_the_limb_is_no_tension_once_it_is_subtracted():
    hanging = Weight(12, 0, 0)
    assert holds(Hold(3, 6, 200), weight=hanging).isometric.holds[0].flags == ("pre_tension",)
    (hold,) = holds(Hold(3, 6, 200), weight=hanging, weight_torque=WeightTorque(12, 0, 0)).isometric.holds
    assert hold.flags == ()
    assert hold.peak_torque_nm == pytest.approx(200, rel=0.01)


def test_the_onset_is_the_last_crossing_before_the_rise():
    # A twitch half a second before the effort is not its onset.
    time_s = np.arange(8000) / 1000
    twitch = 6 * np.exp(-(((time_s - 2.4) / 0.02) ** 2))
    effort = np.where(time_s < 3, 0.0, 180 * (1 - np.exp(-np.maximum(time_s - 3, 0) / 0.08)))
    effort *= np.where(time_s < 6, 1.0, np.exp(-np.maximum(time_s - 6, 0) / 0.1))
    noise = np.random.default_rng(6).normal(0, 0.1, time_s.size)
    (hold,) = analyse(Trace(time_s, np.full(8000, 60.0), twitch + effort + noise)).isometric.holds
    assert hold.onset_s == pytest.approx(3.0, abs=0.003)
    assert hold.rtd_100_nm_s is not None


def test_a_hold_shorter_than_a_second_has_no_mean():
    (hold,) = holds(Hold(3, 3.6, 200)).isometric.holds
    assert hold.mean_torque_nm is None
    assert hold.peak_torque_nm > 190


def test_a_rate_longer_than_the_effort_is_not_given():
    time_s = np.arange(4000) / 1000
    torque = 100 * np.exp(-(((time_s - 2) / 0.12) ** 2)) + np.random.default_rng(1).normal(0, 0.05, 4000)
    (hold,) = analyse(Trace(time_s, np.full(4000, 60.0), torque)).isometric.holds
    assert hold.rtd_100_nm_s is not None


def test_holds_at_several_angles_are_found_where_isometric_is_declared():
    motion = stairs((30, 60, 90), hold_s=5, speed_deg_s=30)
    step_s = 5 + motion.strokes[1][0] - motion.strokes[0][0] - 5
    efforts = [Hold(1.5 + number * step_s, 4.0 + number * step_s, 100 + 20 * number) for number in range(3)]
    found = holds(*efforts, motion=motion, mode="isometric").isometric.holds
    assert [hold.angle_deg for hold in found] == pytest.approx([30, 60, 90], abs=0.2)
    assert [hold.peak_torque_nm for hold in found] == pytest.approx([100, 120, 140], rel=0.01)
    assert [hold.flags for hold in found] == [(), (), ()]


def test_a_recording_without_effort_says_so():
    measured = holds()
    assert measured.isometric.holds == ()
    assert [remark.code for remark in measured.quality] == ["implausible"]


def test_set_figures_of_a_recording_without_movement_are_empty():
    measured = holds(Hold(2, 5, 200))
    assert measured.movements == ()
    assert measured.up.movements == measured.down.movements == 0
    assert measured.set_speed_deg_s == 0


def test_a_hold_beside_the_weighed_angles_gives_no_torque():
    weighed = WeightTorque(12, 0, 0, lowest_deg=0.0, highest_deg=50.0)
    measured = holds(Hold(3, 6, 200), weight=Weight(12, 0, 0), weight_torque=weighed)
    (hold,) = measured.isometric.holds
    assert hold.flags == ("weight_extrapolated",)
    assert (hold.peak_torque_nm, hold.mean_torque_nm, hold.rtd_200_nm_s) == (None, None, None)
    assert [remark.code for remark in measured.quality] == ["weight_extrapolated"]


def test_over_a_restless_baseline_the_onset_lies_three_standard_deviations_above_it():
    # A tremor of 25 Hz with an SD of 1 N·m, under the 150 Hz of the onset's own low-pass.
    time_s = np.arange(5000) / 1000
    restless = np.sqrt(2.0) * np.cos(2 * np.pi * 25 * time_s) * (time_s < 2.0)
    ramp = np.clip((time_s - 2.0) * 100.0, 0.0, 100.0) * (time_s < 4.5)
    measured = analyse(Trace(time_s, np.full(5000, 60.0), restless + ramp), cutoff_hz=0.0)
    onset_nm = np.interp(measured.isometric.holds[0].onset_s, time_s, ramp)
    assert onset_nm == pytest.approx(3.0, abs=0.15)


def test_a_steady_rise_has_its_onset_one_newton_metre_above_rest_and_its_own_rate():
    time_s = np.arange(6000) / 1000
    torque = np.clip(100 * (time_s - 3), 0, 150) + 0.01 * np.sin(50 * time_s)
    (hold,) = analyse(Trace(time_s, np.full(6000, 60.0), torque)).isometric.holds
    assert hold.onset_s == pytest.approx(3.01, abs=0.001)
    assert (hold.rtd_50_nm_s, hold.rtd_100_nm_s, hold.rtd_200_nm_s) == pytest.approx(
        (100, 100, 100), rel=0.01
    )


@pytest.mark.parametrize(("pause_s", "count"), [(0.3, 1), (1.0, 2)])
def test_a_short_dip_does_not_end_a_hold(pause_s, count):
    time_s = np.arange(9000) / 1000
    effort = 150.0 * ((time_s > 2) & (time_s < 4)) + 140.0 * ((time_s > 4 + pause_s) & (time_s < 7))
    assert len(analyse(Trace(time_s, np.full(9000, 60.0), effort)).isometric.holds) == count
