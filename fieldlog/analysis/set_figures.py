"""The figures of a set in one direction, over the movements that count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.measures import MovementMeasures

__all__ = ["SetFigures", "differing_ranges", "figures_of", "is_still_climbing", "variation_pct"]

Array = NDArray[np.float64]

_LEAST_RANGE_SHARE = 0.9
_LEAST_FOR_THIRDS = 6
_LEAST_FOR_DECLINE = 15
_SUBMAXIMAL_STARTS = 2
_LEAST_FOR_SLOPE = 3
_CLIMB = 1.03


@dataclass(frozen=True)
class SetFigures:
    """Figures of one direction; None where too few movements allow none."""

    movements: int
    best_peak_torque_nm: float | None = None
    best_peak_torque_nm_kg: float | None = None
    mean_peak_torque_nm: float | None = None
    mean_best_three_nm: float | None = None
    peak_torque_cv_pct: float | None = None
    total_work_j: float | None = None
    work_thirds_drop_pct: float | None = None
    decline_pct: float | None = None
    work_slope_j: float | None = None


def differing_ranges(movements: Sequence[MovementMeasures]) -> tuple[int, ...]:
    """Return the indices of movements whose range is below 90 % of the median of these (one direction)."""
    if not movements:
        return ()
    usual_deg = median(movement.range_deg for movement in movements)
    return tuple(m.index for m in movements if m.range_deg < _LEAST_RANGE_SHARE * usual_deg)


def figures_of(movements: Sequence[MovementMeasures], body_mass_kg: float | None = None) -> SetFigures:
    """Return the figures of the counted movements of one direction, in time order.

    Movements flagged ``range_differs`` are left out of work and fatigue.
    """
    peaks = _known([m.peak_torque_nm for m in movements])
    full = [m for m in movements if "range_differs" not in m.flags]
    works = _known([m.work_j for m in full])
    best_nm = float(peaks.max()) if peaks.size else None
    return SetFigures(
        movements=len(movements),
        best_peak_torque_nm=best_nm,
        best_peak_torque_nm_kg=best_nm / body_mass_kg if best_nm is not None and body_mass_kg else None,
        mean_peak_torque_nm=float(peaks.mean()) if peaks.size else None,
        mean_best_three_nm=float(np.sort(peaks)[-3:].mean()) if peaks.size >= 3 else None,
        peak_torque_cv_pct=variation_pct(peaks),
        total_work_j=float(works.sum()) if works.size else None,
        work_thirds_drop_pct=_thirds_drop_pct(works),
        decline_pct=_decline_pct(_known([m.peak_torque_nm for m in full])),
        work_slope_j=_line(works)[0] if works.size >= _LEAST_FOR_SLOPE else None,
    )


def variation_pct(peaks_nm: Array) -> float | None:
    """Return the coefficient of variation in percent: sample SD / mean.

    From 15 movements on the SD is the one about the fitted line, so that fatigue does not pass for
    unsteadiness. None under two movements or where the mean is not positive.
    """
    if peaks_nm.size < 2 or peaks_nm.mean() <= 0.0:
        return None
    if peaks_nm.size < _LEAST_FOR_DECLINE:
        return float(100.0 * peaks_nm.std(ddof=1) / peaks_nm.mean())
    slope, first = _line(peaks_nm)
    left_over = peaks_nm - (first + slope * np.arange(peaks_nm.size))
    return float(100.0 * np.sqrt(np.sum(left_over**2) / (peaks_nm.size - 2)) / peaks_nm.mean())


def is_still_climbing(movements: Sequence[MovementMeasures]) -> bool:
    """Tell whether the last of a short set is its best by more than 3 % and the last three rose (common practice)."""
    peaks = _known([m.peak_torque_nm for m in movements])
    if not 3 <= peaks.size < _LEAST_FOR_DECLINE:
        return False
    rising = peaks[-3] < peaks[-2] < peaks[-1]
    return bool(rising and peaks[-1] > _CLIMB * peaks[:-1].max() and peaks[-1] > 0.0)


def _known(values: Sequence[float | None]) -> Array:
    return np.array([value for value in values if value is not None], dtype=np.float64)


def _thirds_drop_pct(works_j: Array) -> float | None:
    third = works_j.size // 3
    if works_j.size < _LEAST_FOR_THIRDS:
        return None
    first_j = float(works_j[:third].sum())
    return 100.0 * (1.0 - float(works_j[-third:].sum()) / first_j) if first_j > 0.0 else None


def _decline_pct(peaks_nm: Array) -> float | None:
    if peaks_nm.size < _LEAST_FOR_DECLINE:
        return None
    remaining = peaks_nm[_SUBMAXIMAL_STARTS:]
    slope, first = _line(remaining)
    return -100.0 * slope * (remaining.size - 1) / first if first > 0.0 else None


def _line(values: Array) -> tuple[float, float]:
    """Slope per repetition and fitted first value of the least-squares line."""
    numbers = np.arange(values.size) - (values.size - 1) / 2.0
    slope = float(np.dot(numbers, values) / np.dot(numbers, numbers))
    return slope, float(values.mean()) + slope * float(numbers[0])
