"""The simulated recording: physics that adds up and a truth that fits the closed forms."""

import numpy as np
import pytest

from tests.simulation.lever import stand, to_and_fro
from tests.simulation.muscle import PUBLISHED, CosineBell, HalfSine, PublishedMuscle
from tests.simulation.recording import Burst, Effort, Hold, Impact, Scene, Weight

UP, DOWN = HalfSine(150, 10, 90), HalfSine(210, 10, 90)


def scene(**changes):
    motion = to_and_fro(10, 90, 60, repetitions=2, overshoot_share=0.15)
    return Scene(motion, {1: Effort(UP, +1), -1: Effort(DOWN, -1)}, **changes)


def test_truth_of_a_half_sine_muscle_is_its_closed_form():
    truths = scene().truth()
    assert [truth.direction for truth in truths] == ["up", "down", "up", "down"]
    for truth, muscle in zip(truths, [UP, DOWN] * 2, strict=True):
        assert truth.mode == "concentric"
        assert truth.peak_torque_nm == pytest.approx(muscle.peak_nm, rel=1e-6)
        assert truth.peak_torque_angle_deg == pytest.approx(50.0, abs=0.01)
        assert truth.work_j == pytest.approx(muscle.work_j(10, 90), rel=1e-6)
        assert truth.load_range_work_j == pytest.approx(muscle.work_j(*truth.load_range_deg), rel=1e-6)


def test_load_range_of_a_smooth_stroke_begins_and_ends_where_the_ramps_reach_the_band():
    motion = to_and_fro(10, 90, 60, repetitions=1)
    low, high = Scene(motion, {1: Effort(UP, 1)}).truth()[0].load_range_deg
    phase = np.arccos(1 - 2 * 0.95)  # the half-cosine ramp is at 95 % of the set speed
    ramp_deg = 60 * 0.10 / 2 * (phase - np.sin(phase)) / np.pi
    assert (low, high) == pytest.approx((10 + ramp_deg, 90 - ramp_deg), abs=0.01)


def test_eccentric_efforts_oppose_the_movement_and_keep_positive_figures():
    motion = to_and_fro(10, 90, 60, repetitions=1)
    bell = CosineBell(200, 60, 80)
    eccentric = Scene(motion, {1: Effort(bell, -1), -1: Effort(bell, +1)})
    for truth in eccentric.truth():
        assert truth.mode == "eccentric"
        assert truth.peak_torque_nm == pytest.approx(200.0, rel=1e-6)
        assert truth.peak_torque_angle_deg == pytest.approx(60.0, abs=0.01)
    signals = eccentric.signals(np.linspace(0, motion.duration_s, 5001))
    assert (signals.muscle_nm * signals.velocity_deg_s <= 1e-9).all()


def test_published_muscle_makes_more_torque_eccentrically_than_concentrically():
    motion = to_and_fro(10, 90, 60, repetitions=1)
    muscle = PublishedMuscle(PUBLISHED["knee extension", "male"], 75, 1.8)
    concentric = Scene(motion, {-1: Effort(muscle, -1)}).truth()[0]
    eccentric = Scene(motion, {1: Effort(muscle, -1)}).truth()[0]
    assert concentric.peak_torque_nm == pytest.approx(muscle.torque_nm(muscle.peak_angle_deg, 60), rel=0.05)
    assert eccentric.peak_torque_nm > concentric.peak_torque_nm


def test_inertia_does_no_work_over_a_whole_movement():
    # the torque that speeds the limb up comes back when it is braked
    motion = to_and_fro(10, 90, 60, repetitions=1, overshoot_share=0.15)
    start_s, stroke = motion.strokes[0]
    t = start_s + np.linspace(0, stroke.duration_s, 20_001)
    signals = Scene(motion, inertia_kg_m2=0.4).signals(t)
    assert np.abs(signals.torque_nm).max() > 5
    assert np.trapezoid(signals.torque_nm, np.radians(signals.angle_deg)) == pytest.approx(0.0, abs=1e-3)


def test_friction_cancels_between_the_directions_of_a_relaxed_sweep_and_leaves_the_weight():
    weight = Weight(18.0, 3.0, 1.0)
    motion = to_and_fro(5, 95, 10, repetitions=1)
    sweep = Scene(motion, weight=weight, friction_nm=1.2)
    middles = [start + stroke.duration_s / 2 for start, stroke in motion.strokes]
    up, down = sweep.signals(np.array(middles)).torque_nm
    assert (up + down) / 2 == pytest.approx(weight.torque_nm(50.0))
    assert down - up == pytest.approx(2 * 1.2)


def test_weight_at_the_horizontal_is_cosine_plus_offset():
    assert Weight(18.0, 3.0, 1.0).torque_nm(np.array([0.0, 90.0])) == pytest.approx([19.0, 4.0])


def test_stop_impact_rings_after_the_stroke_and_is_gone_after_a_fifth_of_a_second():
    impact = Impact(30.0)
    assert impact.torque_nm(np.linspace(-1, 0, 11)) == pytest.approx(np.zeros(11))
    assert impact.torque_nm(np.linspace(0, 0.05, 501)).max() > 15
    assert np.abs(impact.torque_nm(np.linspace(0.2, 1, 801))).max() < 0.1


def test_an_isometric_hold_rises_from_its_onset_with_its_closed_form_rate():
    hold = Hold(onset_s=1.0, release_s=4.0, plateau_nm=180.0, time_constant_s=0.08)
    torque = Scene(stand(60, 6), holds=(hold,)).signals(np.array([0.99, 1.1, 1.2, 3.9])).torque_nm
    assert torque[0] == 0.0
    assert torque[1] / 0.1 == pytest.approx(hold.rate_nm_s(0.1))
    assert torque[2] / 0.2 == pytest.approx(hold.rate_nm_s(0.2))
    assert torque[3] == pytest.approx(180.0)


def test_repetition_scale_weakens_later_repetitions():
    peaks = [truth.peak_torque_nm for truth in scene(repetition_scale=(1.0, 0.9)).truth()]
    assert peaks == pytest.approx([150, 210, 135, 189], rel=1e-6)


def test_a_burst_is_a_pulse_of_its_own_length():
    burst = Burst(start_s=2.0, duration_s=0.4, torque_nm=8.0)
    assert burst.at(np.array([1.9, 2.2, 2.5])) == pytest.approx([0, 8, 0])
