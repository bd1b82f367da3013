"""What must not change, or change in a known way, when a recording is shifted, mirrored, rescaled or thinned."""

import contextlib
import dataclasses
import os

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.trace import Trace, analyse
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Scene, Weight

MORE = 50 if os.environ.get("FIELDLOG_LONG") else 1
WEIGHT = WeightTorque(11.6, -2.0, 0.5)
COMPARED = (
    "range_deg", "load_range_deg", "peak_torque_nm", "peak_torque_angle_deg", "time_to_peak_s",
    "work_j", "load_range_work_j", "mean_power_w", "peak_power_w", "impulse_nms",
)  # fmt: skip


def samples(speed=60.0, scale=1.0, seed=0, rate_hz=1000.0, **flaws):
    motion = to_and_fro(5, 95, speed, repetitions=2, dwell_s=0.2, lead_s=0.4, overshoot_share=0.06)
    efforts = {
        1: Effort(HalfSine(110 * scale, 0, 100), 1, 0.1, 0.1),
        -1: Effort(HalfSine(180 * scale, 0, 100), -1, 0.1, 0.1),
    }
    scene = Scene(motion, efforts, weight=Weight(11.6, -2.0, 0.5), inertia_kg_m2=0.3)
    return Acquisition(seed=seed, rate_hz=rate_hz, **flaws).sample(scene)


def measured(recording, weight=WEIGHT, **changes):
    columns = {
        name: getattr(recording, name) for name in ("time_s", "angle_deg", "torque_nm", "velocity_deg_s")
    }
    return analyse(Trace(**{**columns, **changes}), weight_torque=weight)


def assert_same(ours, theirs, *, rel=1e-6, names=COMPARED):
    assert len(ours.movements) == len(theirs.movements)
    for mine, other in zip(ours.movements, theirs.movements, strict=True):
        assert mine.flags == other.flags
        for name in names:
            assert getattr(mine, name) == pytest.approx(getattr(other, name), rel=rel), name


speeds = st.sampled_from([30.0, 60.0, 120.0, 240.0])


@settings(max_examples=8 * MORE, deadline=None)
@given(speeds, st.floats(-5000, 5000), st.integers(0, 1000))
def test_a_shift_in_time_shifts_the_times_and_nothing_else(speed, shift_s, seed):
    recording = samples(speed, seed=seed)
    shifted, plain = measured(recording, time_s=recording.time_s + shift_s), measured(recording)
    assert_same(shifted, plain)
    for mine, other in zip(shifted.movements, plain.movements, strict=True):
        assert mine.start_s == pytest.approx(other.start_s + shift_s, abs=1e-6)


@settings(max_examples=8 * MORE, deadline=None)
@given(speeds, st.integers(0, 1000))
def test_mirroring_angle_and_torque_swaps_up_and_down_and_nothing_else(speed, seed):
    recording = samples(speed, seed=seed)
    plain = measured(recording)
    mirrored = measured(
        recording,
        WeightTorque(-WEIGHT.cos_nm, WEIGHT.sin_nm, -WEIGHT.offset_nm),
        angle_deg=-recording.angle_deg,
        torque_nm=-recording.torque_nm,
        velocity_deg_s=-recording.velocity_deg_s,
    )
    names = [name for name in COMPARED if name != "peak_torque_angle_deg"]
    assert_same(mirrored, plain, names=names)
    for name, value in dataclasses.asdict(mirrored.up).items():
        theirs = getattr(plain.down, name)
        if theirs is not None:
            theirs = pytest.approx(-theirs if name.endswith("_deg") else theirs, rel=1e-9)
        assert value == theirs
    assert [m.direction for m in mirrored.movements] == ["down", "up"] * 2
    for mine, other in zip(mirrored.movements, plain.movements, strict=True):
        assert mine.peak_torque_angle_deg == -other.peak_torque_angle_deg


@settings(max_examples=8 * MORE, deadline=None)
@given(speeds, st.floats(0.2, 4), st.integers(0, 1000))
def test_torque_work_and_power_scale_with_the_torque(speed, factor, seed):
    recording = samples(speed, seed=seed)
    plain, scaled = (
        measured(recording, None),
        measured(recording, None, torque_nm=factor * recording.torque_nm),
    )
    for mine, other in zip(scaled.movements, plain.movements, strict=True):
        for name in ("peak_torque_nm", "work_j", "mean_power_w", "impulse_nms"):
            assert getattr(mine, name) == pytest.approx(factor * getattr(other, name), rel=1e-9)
        assert mine.peak_torque_angle_deg == other.peak_torque_angle_deg
    assert scaled.up.peak_torque_cv_pct == pytest.approx(plain.up.peak_torque_cv_pct)


@settings(max_examples=6 * MORE, deadline=None)
@given(st.sampled_from([30.0, 60.0, 120.0]), st.integers(0, 1000))
def test_half_the_samples_give_the_same_measures(speed, seed):
    recording = samples(speed, seed=seed, rate_hz=2000.0, torque_noise_nm=0.1, velocity_noise_deg_s=0.05)
    halved = dataclasses.replace(
        recording,
        **{field.name: getattr(recording, field.name)[::2] for field in dataclasses.fields(recording)},
    )
    plain, thinned = measured(recording), measured(halved)
    for mine, other in zip(thinned.movements, plain.movements, strict=True):
        assert mine.peak_torque_nm == pytest.approx(other.peak_torque_nm, rel=2e-3)
        assert mine.peak_torque_angle_deg == pytest.approx(other.peak_torque_angle_deg, abs=2)
        assert mine.work_j == pytest.approx(other.work_j, rel=3e-3)
        assert mine.load_range_deg == pytest.approx(other.load_range_deg, abs=1)


@settings(max_examples=6 * MORE, deadline=None)
@given(st.floats(0.3, 3), speeds)
def test_an_offset_of_the_angle_scale_moves_angles_only(offset_deg, speed):
    recording = samples(speed)
    moved, plain = (
        measured(recording, None, angle_deg=recording.angle_deg + offset_deg),
        measured(recording, None),
    )
    assert_same(moved, plain, names=[name for name in COMPARED if name != "peak_torque_angle_deg"])
    for mine, other in zip(moved.movements, plain.movements, strict=True):
        assert mine.peak_torque_angle_deg == pytest.approx(other.peak_torque_angle_deg + offset_deg)


numbers = st.floats(allow_nan=False, allow_infinity=False)
steps = st.one_of(st.sampled_from([0.001, 0.01, 0.02]), st.floats(1e-12, 1e9))


@settings(max_examples=60 * MORE, deadline=None)
@given(
    st.lists(st.one_of(numbers, st.floats(-1e5, 1e5), st.floats(-100, 100)), min_size=3, max_size=12),
    st.lists(steps, min_size=1, max_size=6),
    st.booleans(),
    st.sampled_from([None, "concentric", "isometric"]),
)
def test_any_numbers_are_measured_or_refused_with_a_sentence(values, time_steps, with_velocity, mode):
    time_s = np.cumsum(np.resize(time_steps, 40))
    angle, torque, velocity = (np.resize(np.roll(values, shift), 40) for shift in (0, 1, 2))
    # A refusal is a ValueError with a sentence; anything else, a warning of NumPy too, is a fault.
    with contextlib.suppress(ValueError):
        found = analyse(Trace(time_s, angle, torque, velocity if with_velocity else None), mode=mode)
        assert np.isfinite([m.range_deg for m in found.movements]).all()


@settings(max_examples=40 * MORE, deadline=None)
@given(st.floats(0.1, 8), st.floats(-180, 180), st.floats(1, 400), st.floats(0, 5), st.floats(20, 1000))
def test_any_swing_of_the_lever_is_measured_in_finite_numbers(frequency, middle, swing, noise, rate_hz):
    time_s = np.arange(400) / rate_hz
    random = np.random.default_rng(1)
    angle = middle + swing * np.sin(frequency * time_s) + random.normal(0, noise, 400)
    torque = 100 * np.cos(3 * frequency * time_s) + random.normal(0, noise, 400)
    with contextlib.suppress(ValueError):
        found = analyse(Trace(time_s, angle, torque), at_deg=(middle,))
        for movement in found.movements:
            assert all(
                value is None or np.isfinite(value) for value in (getattr(movement, n) for n in COMPARED)
            )
