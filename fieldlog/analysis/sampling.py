"""From the recorded instants to an even grid: rate, uneven sampling, gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["EvenSamples", "on_even_grid"]

Array = NDArray[np.float64]

# Steps this many times the usual one, and at least this long, are a gap rather than jitter (common practice).
_GAP_STEPS = 3.5
_GAP_S = 0.02
# An instant may lie this share of a step beside the grid before the recording counts as uneven.
_JITTER_SHARE = 0.02
# A recording may not grow more than this by filling its gaps.
_MOST_GROWTH = 4
_DECIMALS = 10
# From five samples a second to a million; outside, the unit of time is wrong.
_SHORTEST_STEP_S, _LONGEST_STEP_S = 1e-6, 0.2 * (1.0 + 1e-6)


@dataclass(frozen=True)
class EvenSamples:
    """Signals on an even grid. ``gaps_s`` holds (from, to) of each gap that was bridged by a straight line."""

    time_s: Array
    signals: tuple[Array, ...]
    rate_hz: float
    resampled: bool
    uneven: bool
    gaps_s: tuple[tuple[float, float], ...]


def on_even_grid(time_s: Array, signals: tuple[Array, ...]) -> EvenSamples:
    """Put signals on an even grid that spans the same time; those already even are returned as they are.

    ``time_s`` strictly increasing, at least two instants; each signal of the same length. Rounded
    instants (300 Hz written to the millisecond) count as even. Raises ValueError where so much time
    is missing that most of the grid would be invented, and for rates that no rig has.
    """
    steps = np.diff(time_s)
    usual_s = float(np.median(steps))
    if not _SHORTEST_STEP_S <= usual_s <= _LONGEST_STEP_S:
        raise ValueError(
            f"{1.0 / usual_s:.3g} samples a second are no recording of a movement; check the unit of time"
        )
    is_gap = steps > max(_GAP_STEPS * usual_s, _GAP_S)
    ordinary = steps[~is_gap] if is_gap.any() else steps
    step_s = float(ordinary.mean()) if ordinary.size else usual_s
    gaps = tuple((float(time_s[i]), float(time_s[i + 1])) for i in np.flatnonzero(is_gap))
    duration_s = float(time_s[-1] - time_s[0])
    if gaps:
        uneven = bool(np.abs(ordinary - step_s).max() > _tolerance_s(time_s, step_s) * 2.0)
    else:
        # The line through all instants, as the first and last may be rounded like any other.
        numbers = np.arange(time_s.size, dtype=np.float64) - (time_s.size - 1) / 2.0
        since_start_s = time_s - time_s[0]
        # Not np.dot: on long vectors it starts threads, which costs more than it saves on a busy laptop.
        step_s = float((numbers * since_start_s).sum() / (numbers**2).sum())
        grid_s = float(time_s[0]) + float(since_start_s.mean()) + step_s * numbers
        beside_s = float(np.abs(time_s - grid_s).max())
        uneven = beside_s > _JITTER_SHARE * step_s and beside_s > _tolerance_s(time_s, step_s)
        if not uneven:
            return EvenSamples(grid_s, signals, 1.0 / step_s, False, False, ())
    count = round(duration_s / step_s) + 1
    if count > _MOST_GROWTH * time_s.size + 100:
        start_s, end_s = max(gaps, key=lambda gap: gap[1] - gap[0], default=(0.0, duration_s))
        raise ValueError(
            f"nothing was recorded for {end_s - start_s:.3g} s after {start_s:g} s; cut the file there"
        )
    even_s = np.linspace(float(time_s[0]), float(time_s[-1]), count)
    resampled = tuple(np.interp(even_s, time_s, signal) for signal in signals)
    return EvenSamples(even_s, resampled, (count - 1) / duration_s, True, uneven, gaps)


def _tolerance_s(time_s: Array, step_s: float) -> float:
    """Return how far an instant may lie beside the grid: jitter nobody minds, or half the last written digit."""
    for decimals in range(_DECIMALS):
        scaled = time_s * 10.0**decimals
        if np.abs(scaled - np.round(scaled)).max() < 1e-4:
            return max(_JITTER_SHARE * step_s, 0.55 * 10.0**-decimals)
    return _JITTER_SHARE * step_s
