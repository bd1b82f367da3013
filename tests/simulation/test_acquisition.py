"""The measuring chain adds the flaws it is asked for, and the writers write what maps can undo."""

import json
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest

from tests.simulation.acquisition import Acquisition, perfect
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Scene
from tests.simulation.writers import GERMAN, POUND_FEET, own_columns

SCENE = Scene(to_and_fro(10, 90, 60, repetitions=1), {1: Effort(HalfSine(150, 10, 90), 1)})


def test_a_perfect_chain_changes_nothing():
    samples = perfect(500).sample(SCENE)
    signals = SCENE.signals(samples.time_s)
    assert (samples.torque_nm == signals.torque_nm).all()
    assert (samples.angle_deg == signals.angle_deg).all()
    assert np.diff(samples.time_s) == pytest.approx(1 / 500)


def test_the_same_seed_gives_the_same_text_and_another_seed_another():
    texts = [own_columns(Acquisition(rate_hz=200, seed=seed).sample(SCENE)) for seed in (7, 7, 8)]
    assert texts[0] == texts[1] != texts[2]


def test_encoder_and_converter_steps_show_in_the_samples():
    samples = Acquisition(rate_hz=500, angle_step_deg=0.1, torque_step_nm=0.05).sample(SCENE)
    for values, step in ((samples.angle_deg, 0.1), (samples.torque_nm, 0.05)):
        assert values / step == pytest.approx(np.round(values / step), abs=1e-6)


def test_noise_has_the_standard_deviation_asked_for():
    noisy = replace(perfect(), torque_noise_nm=0.8).sample(SCENE)
    assert np.std(noisy.torque_nm - SCENE.signals(noisy.time_s).torque_nm) == pytest.approx(0.8, rel=0.05)


def test_clipping_cuts_at_the_limit():
    samples = Acquisition(torque_limit_nm=120.0).sample(SCENE)
    assert samples.torque_nm.max() == pytest.approx(120.0)
    assert (samples.torque_nm == samples.torque_nm.max()).sum() > 100


def test_jitter_makes_uneven_but_increasing_times_and_dropouts_leave_a_gap():
    jittered = Acquisition(rate_hz=200, jitter_share=0.3).sample(SCENE)
    steps = np.diff(jittered.time_s)
    assert steps.min() > 0
    assert steps.std() > 0.1 / 200
    gappy = Acquisition(rate_hz=200, dropouts_s=((1.5, 1.8),)).sample(SCENE)
    assert np.diff(gappy.time_s).max() == pytest.approx(0.3, abs=0.011)


def test_a_wrong_gain_scales_the_torque():
    samples = replace(perfect(), gain=1.03).sample(SCENE)
    assert samples.torque_nm.max() == pytest.approx(1.03 * 150, rel=1e-4)


def test_own_columns_can_be_read_back():
    samples = Acquisition(rate_hz=200).sample(SCENE)
    text = own_columns(samples)
    assert text.splitlines()[0] == "time_s,angle_deg,velocity_deg_s,torque_nm"
    table = np.loadtxt(StringIO(text), delimiter=",", skiprows=1)
    assert table[:, 3] == pytest.approx(samples.torque_nm, abs=1e-3)
    assert own_columns(samples, velocity=False).splitlines()[0] == "time_s,angle_deg,torque_nm"


def test_the_german_file_has_decimal_commas_semicolons_and_three_lines_before_its_header():
    lines = GERMAN.text(Acquisition(rate_hz=200).sample(SCENE)).splitlines()
    assert lines[3] == "Zeit [ms];Winkel [°];Geschwindigkeit [°/s];Drehmoment [Nm]"
    assert lines[4].count(",") == 3
    assert "." not in lines[4]
    assert json.loads(json.dumps(GERMAN.column_map()))["skip_lines"] == 3


def test_pound_feet_and_radians_with_other_signs_are_undone_by_the_declared_map():
    samples = perfect(200).sample(SCENE)
    column_map = POUND_FEET.column_map()
    table = np.loadtxt(StringIO(POUND_FEET.text(samples)), delimiter="\t", skiprows=1)
    angle = column_map["angle"]
    angle_deg = angle["sign"] * np.degrees(table[:, 1]) + angle["offset_deg"]
    # 1 lbf·ft = 1.3558179483314004 N·m (from the exact pound-force and foot)
    torque_nm = column_map["torque"]["sign"] * table[:, 2] * 1.3558179483314004
    assert angle_deg == pytest.approx(samples.angle_deg, abs=0.001)
    assert torque_nm == pytest.approx(samples.torque_nm, abs=0.001)


def test_a_magnitude_file_carries_no_sign():
    mirrored = Scene(SCENE.motion, {1: Effort(HalfSine(150, 10, 90), -1)})
    text = replace(GERMAN, magnitude=True).text(perfect(200).sample(mirrored))
    torques = [line.split(";")[3] for line in text.splitlines()[4:]]
    assert not any(torque.startswith("-") for torque in torques)
    assert replace(GERMAN, magnitude=True).column_map()["torque_sign"] == "magnitude"
