"""The load range: where a movement really runs at the set speed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.movements import Span

__all__ = ["estimate_set_speed_deg_s", "find_load_range", "speed_tolerance_deg_s"]

Array = NDArray[np.float64]

_SHORTEST_S = 0.05
_LONGEST_GAP_S = 0.05
_LEAST_TOLERANCE_DEG_S = 2.0
_ROUND_TO_DEG_S = 5.0
_ROUND_WITHIN = 0.005


def speed_tolerance_deg_s(set_speed_deg_s: float, band_pct: float) -> float:
    """Return how far from the set speed the load range reaches: ``band_pct`` of it, at least 2°/s."""
    return max(band_pct / 100.0 * set_speed_deg_s, _LEAST_TOLERANCE_DEG_S)


def find_load_range(
    speed_deg_s: Array, rate_hz: float, set_speed_deg_s: float, band_pct: float
) -> tuple[int, int] | None:
    """Return first and last sample (both included) of the load range of one movement, or None.

    ``speed_deg_s`` is the speed along the movement, positive. Gaps of up to 50 ms between samples at
    the set speed are closed, then the longest run counts; a run shorter than 50 ms is none.
    """
    tolerance = speed_tolerance_deg_s(set_speed_deg_s, band_pct)
    at_speed = np.flatnonzero(np.abs(speed_deg_s - set_speed_deg_s) <= tolerance * (1.0 + 1e-9))
    if not at_speed.size:
        return None
    missing = np.diff(at_speed) - 1
    breaks = np.flatnonzero(missing > _LONGEST_GAP_S * rate_hz + 1e-6)
    firsts = at_speed[np.concatenate(([0], breaks + 1))]
    lasts = at_speed[np.concatenate((breaks, [at_speed.size - 1]))]
    lengths = lasts - firsts + 1
    longest = int(np.argmax(lengths))
    if lengths[longest] < _SHORTEST_S * rate_hz - 1e-6:
        return None
    return int(firsts[longest]), int(lasts[longest])


def estimate_set_speed_deg_s(velocity_deg_s: Array, movements: Sequence[Span], band_pct: float) -> float:
    """Estimate the set speed from the recording: the speed around which movements spend most of their samples.

    Of all speeds, the one whose band of ± ``band_pct`` (at least 2°/s) holds the most samples is taken, then the median
    inside that band; a multiple of 5°/s within 0.5 % of it wins, as rigs are set in such steps (common practice).
    """
    speeds = np.sort(np.concatenate([velocity_deg_s[span.samples] * span.sign for span in movements]))
    speeds = speeds[speeds > 0.0]
    lower = np.maximum(speeds * (1.0 - 2.0 * band_pct / 100.0), 0.0)
    lower = np.minimum(lower, speeds - 2.0 * _LEAST_TOLERANCE_DEG_S)
    counts = np.arange(1, speeds.size + 1) - np.searchsorted(speeds, lower)
    top = int(np.argmax(counts))
    middle = float(np.median(speeds[top + 1 - int(counts[top]) : top + 1]))
    for _ in range(3):
        tolerance = speed_tolerance_deg_s(middle, band_pct)
        inside = speeds[
            np.searchsorted(speeds, middle - tolerance) : np.searchsorted(speeds, middle + tolerance)
        ]
        middle = float(np.median(inside))
    rounded = _ROUND_TO_DEG_S * round(middle / _ROUND_TO_DEG_S)
    if rounded > 0.0 and abs(middle - rounded) <= _ROUND_WITHIN * rounded:
        return rounded
    return middle
