"""The zero-lag low-pass: SciPy's forward-backward filter is the reference."""

import numpy as np
import pytest
from scipy.signal import butter, filtfilt

from fieldlog.analysis.filters import design_tangent, low_pass, slope_per_s


def reference(signal, rate_hz, cutoff_hz):
    """The same filter run by SciPy, continued at the ends for as long as the recording allows."""
    design_hz = np.arctan(design_tangent(cutoff_hz, rate_hz)) * rate_hz / np.pi
    return filtfilt(*butter(2, design_hz, fs=rate_hz), signal, padlen=signal.size - 1)


@pytest.mark.parametrize(
    ("rate_hz", "cutoff_hz", "seconds"),
    [(1000, 15, 5), (1000, 6, 8), (100, 15, 10), (2000, 150, 2), (100, 45, 10), (250, 12, 7.3)],
)
def test_it_is_the_forward_backward_butterworth(rate_hz, cutoff_hz, seconds):
    signal = np.cumsum(np.random.default_rng(3).normal(size=int(rate_hz * seconds))) + 40
    assert low_pass(signal, rate_hz, cutoff_hz) == pytest.approx(
        reference(signal, rate_hz, cutoff_hz), abs=1e-7
    )


def test_the_gain_at_the_cut_off_is_the_root_of_one_half():
    time_s = np.arange(20_000) / 1000
    wave = np.sin(2 * np.pi * 15 * time_s)
    middle = slice(5_000, 15_000)
    assert low_pass(wave, 1000, 15)[middle] == pytest.approx(wave[middle] / np.sqrt(2), abs=1e-6)


def test_the_ends_of_a_straight_line_are_not_bent():
    line = np.linspace(-20, 130, 700)
    assert low_pass(line, 1000, 15) == pytest.approx(line, abs=1e-7)


def test_the_start_does_not_feel_the_end():
    signal = np.zeros(3000)
    signal[-300:] = 250.0
    assert np.abs(low_pass(signal, 1000, 15)[:1000]).max() < 1e-6


def test_a_recording_shorter_than_the_memory_of_the_filter_is_filtered_all_the_same():
    assert low_pass(np.full(20, 7.0), 1000, 1) == pytest.approx(np.full(20, 7.0), abs=1e-9)


def test_cut_off_zero_leaves_the_signal_alone():
    signal = np.array([1.0, 5.0, -2.0])
    assert low_pass(signal, 1000, 0.0) is signal


@pytest.mark.parametrize("cutoff_hz", [-1, 0.4, 46, 50, 80, float("nan")])
def test_a_cut_off_the_rate_cannot_carry_is_refused(cutoff_hz):
    with pytest.raises(ValueError, match=r"choose one from 0\.5 to 45 Hz"):
        low_pass(np.zeros(100), 100, cutoff_hz)


def test_several_signals_are_filtered_each_as_if_alone():
    signals = np.random.default_rng(5).normal(size=(3, 500))
    together = low_pass(signals, 500, 20)
    assert together == pytest.approx(np.array([low_pass(signal, 500, 20) for signal in signals]), abs=1e-12)


def test_the_slope_of_a_parabola_is_exact_inside():
    time_s = np.arange(50) / 100
    assert slope_per_s(3 * time_s**2, 100)[1:-1] == pytest.approx(6 * time_s[1:-1], abs=1e-9)
