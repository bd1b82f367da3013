"""Zero-lag low-pass filter and derivative on evenly sampled signals."""

from __future__ import annotations

import cmath
import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["carries", "design_tangent", "low_pass", "slope_per_s", "two_pass_factor"]

Array = NDArray[np.float64]

# What is left of the start of a signal where the circular transform joins it to the end.
_LEFT_OVER = 1e-11

LOWEST_CUTOFF_HZ = 0.5
_HIGHEST_SHARE = 0.45


def two_pass_factor(passes: int) -> float:
    """Return C = (2^(1/passes) − 1)^(1/4), by which repeated passes lower a second-order cut-off.

    Winter (2009), Biomechanics and Motor Control of Human Movement, 4th ed., p. 69; two passes: 0.802.
    """
    return float((2.0 ** (1.0 / passes) - 1.0) ** 0.25)


def design_tangent(cutoff_hz: float, rate_hz: float) -> float:
    """Return tan(π·fc/fs)/C: the pre-warped design frequency that leaves −3.01 dB at fc after both passes."""
    return math.tan(math.pi * cutoff_hz / rate_hz) / two_pass_factor(2)


def low_pass(signals: Array, rate_hz: float, cutoff_hz: float) -> Array:
    """Low-pass along the last axis: second-order Butterworth run forwards and backwards, gain 1/√2 at the cut-off.

    ``signals`` in any unit, evenly sampled at ``rate_hz``; returns the same shape and unit. The two passes
    together have no phase and the gain 1/(1 + (tan(ω/2)/w)⁴), applied here in one real Fourier transform.
    The ends are continued by point reflection about the end values, long enough for the filter to
    forget how the transform joins them, so the first and last repetition are not bent.
    A cut-off of 0 returns the signals as they are.
    Raises ValueError for any other cut-off outside 0.5 Hz to 45 % of the sampling rate: beyond, the
    filter remembers longer than a recording lasts.
    """
    if cutoff_hz == 0.0:
        return signals
    highest_hz = _HIGHEST_SHARE * rate_hz
    if not LOWEST_CUTOFF_HZ <= cutoff_hz <= highest_hz:
        raise ValueError(
            f"a cut-off of {cutoff_hz:g} Hz does not fit a recording at {rate_hz:.4g} Hz; "
            f"choose one from {LOWEST_CUTOFF_HZ:g} to {highest_hz:.4g} Hz, or 0 for no filter"
        )
    tangent = design_tangent(cutoff_hz, rate_hz)
    pad = _memory_samples(tangent)
    length = _quick_length(signals.shape[-1] + 2 * pad)
    extended = _continued(signals, pad, length)
    half_angles = np.linspace(0.0, math.pi * (length // 2) / length, length // 2 + 1)
    gain = 1.0 / (1.0 + (np.tan(half_angles) / tangent) ** 4)
    filtered = np.fft.irfft(np.fft.rfft(extended) * gain, length)
    return np.asarray(filtered[..., pad : pad + signals.shape[-1]])


def carries(rate_hz: float, cutoff_hz: float) -> bool:
    """Tell whether a recording at this rate can be low-passed at this cut-off."""
    return cutoff_hz <= _HIGHEST_SHARE * rate_hz


def slope_per_s(signal: Array, rate_hz: float) -> Array:
    """Return the derivative of an evenly sampled signal, per second: central differences, one-sided at the ends."""
    slope = np.empty_like(signal)
    slope[1:-1] = (signal[2:] - signal[:-2]) * (rate_hz / 2.0)
    slope[0] = (signal[1] - signal[0]) * rate_hz
    slope[-1] = (signal[-1] - signal[-2]) * rate_hz
    return slope


def _memory_samples(tangent: float) -> int:
    """Return after how many samples the filter's response has decayed to nothing."""
    corner = tangent * cmath.exp(0.75j * math.pi)
    radius = abs((1.0 + corner) / (1.0 - corner))
    return max(12, math.ceil(math.log(_LEFT_OVER) / math.log(max(radius, 1e-6))))


def _continued(signals: Array, pad: int, length: int) -> Array:
    count = signals.shape[-1]
    mirrored = min(pad, count - 1)
    extended = np.empty((*signals.shape[:-1], length))
    extended[..., pad : pad + count] = signals
    first, last = signals[..., :1], signals[..., -1:]
    extended[..., pad - mirrored : pad] = 2.0 * first - signals[..., mirrored:0:-1]
    after = pad + count
    extended[..., after : after + mirrored] = 2.0 * last - signals[..., -2 : -2 - mirrored : -1]
    # A recording shorter than the filter's memory is held at the last reflected value.
    extended[..., : pad - mirrored] = extended[..., pad - mirrored : pad - mirrored + 1]
    extended[..., after + mirrored :] = extended[..., after + mirrored - 1 : after + mirrored]
    return extended


def _quick_length(at_least: int) -> int:
    """Return the smallest even length ≥ ``at_least`` with no prime factor above 5."""
    best = 1 << (at_least - 1).bit_length()
    fives = 1
    while fives < best:
        threes = fives
        while threes < best:
            quotient = -(-at_least // threes)
            candidate = threes << max(1, (quotient - 1).bit_length())
            if at_least <= candidate < best:
                best = candidate
            threes *= 3
        fives *= 5
    return best
