"""Holds against a lever that does not move: peak, mean, onset and rate of torque development."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.filters import carries, low_pass
from fieldlog.analysis.movements import Span
from fieldlog.analysis.signals import Motion

__all__ = ["Hold", "IsometricMeasures", "measure_holds"]

Array = NDArray[np.float64]

_RTD_CUTOFF_HZ = 150.0
_EFFORT_SHARE = 0.2
_JOIN_S = 0.5
_SHORTEST_HOLD_S = 0.3
_LEAST_EFFORT_NM = 2.0
_BASELINE_S = 0.2
_ONSET_SDS = 3.0
_ONSET_NM = 1.0
_PRE_TENSION_NM = 5.0
_PRE_TENSION_NM_S = 5.0
_MEAN_S = 1.0
# Rates written as 499.8 Hz are 500 Hz.
_LOWEST_RATE_50_MS_HZ = 498.0


@dataclass(frozen=True)
class Hold:
    """One effort without motion; torque positive in its direction. None where not known or refused."""

    index: int
    direction: Literal["up", "down"]
    start_s: float
    end_s: float
    angle_deg: float
    peak_torque_nm: float | None
    mean_torque_nm: float | None
    onset_s: float | None
    baseline_nm: float | None
    rtd_50_nm_s: float | None
    rtd_100_nm_s: float | None
    rtd_200_nm_s: float | None
    flags: tuple[str, ...]
    first_sample: int
    last_sample: int


@dataclass(frozen=True)
class IsometricMeasures:
    """The holds of a recording; ``rtd_cutoff_hz`` is None where the torque was not low-passed for the rate."""

    holds: tuple[Hold, ...]
    rtd_cutoff_hz: float | None


@dataclass(frozen=True, eq=False)
class _Effort:
    """One effort in a recording, torque positive in its direction; rest is looked for from ``search_from`` on."""

    time_s: Array
    angle_deg: Array
    quick_nm: Array
    smooth_nm: Array
    rate_hz: float
    search_from: int
    first: int
    last: int


@dataclass(frozen=True)
class _Baseline:
    mean_nm: float
    sd_nm: float
    slope_nm_s: float


def measure_holds(
    motion: Motion, muscle_nm: Array, smooth_muscle_nm: Array, movements: Sequence[Span] = ()
) -> IsometricMeasures:
    """Measure every hold of a recording.

    ``muscle_nm`` is the muscle torque before, ``smooth_muscle_nm`` after the low-pass of the recipe; the
    rate of torque development uses its own cut-off of 150 Hz, or none where the rate allows none.
    A hold is where torque stays above 20 % of its largest; pauses under half a second do not end it.
    """
    rate_hz = motion.rate_hz
    cutoff_hz = _RTD_CUTOFF_HZ if carries(rate_hz, _RTD_CUTOFF_HZ) else None
    quick_nm = low_pass(muscle_nm, rate_hz, cutoff_hz) if cutoff_hz else muscle_nm
    still = np.ones(muscle_nm.size, dtype=np.bool_)
    for span in movements:
        still[span.samples] = False
    holds: list[Hold] = []
    free_from = 0
    for index, (first, last, sign) in enumerate(_efforts(smooth_muscle_nm, still, rate_hz), start=1):
        moved = np.flatnonzero(~still[free_from:first])
        search_from = free_from + int(moved[-1]) + 1 if moved.size else free_from
        effort = _Effort(
            motion.time_s,
            motion.angle_deg,
            quick_nm * sign,
            smooth_muscle_nm * sign,
            rate_hz,
            search_from,
            first,
            last,
        )
        holds.append(_measure(effort, index=index, direction="up" if sign > 0 else "down"))
        free_from = last + 1
    return IsometricMeasures(tuple(holds), cutoff_hz)


def _efforts(torque_nm: Array, still: NDArray[np.bool_], rate_hz: float) -> list[tuple[int, int, int]]:
    """First sample, last sample and sign of each effort."""
    at_rest = np.abs(torque_nm) * still
    largest = float(at_rest.max())
    if largest < _LEAST_EFFORT_NM:
        return []
    course = np.sign(torque_nm) * (at_rest > _EFFORT_SHARE * largest)
    changes = np.flatnonzero(np.diff(course)) + 1
    firsts = np.concatenate(([0], changes))
    lasts = np.concatenate((changes - 1, [course.size - 1]))
    efforts: list[tuple[int, int, int]] = []
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        sign = int(course[first])
        if not sign:
            continue
        if efforts and efforts[-1][2] == sign and (first - efforts[-1][1]) < _JOIN_S * rate_hz:
            pause = slice(efforts[-1][1], first)
            if still[pause].all():
                efforts[-1] = (efforts[-1][0], last, sign)
                continue
        efforts.append((first, last, sign))
    return [effort for effort in efforts if effort[1] - effort[0] >= _SHORTEST_HOLD_S * rate_hz]


def _measure(effort: _Effort, *, index: int, direction: Literal["up", "down"]) -> Hold:
    time_s, quick_nm, smooth_nm, rate_hz = effort.time_s, effort.quick_nm, effort.smooth_nm, effort.rate_hz
    first, last = effort.first, effort.last
    held = slice(first, last + 1)
    peak_nm = float(smooth_nm[held].max())
    above = first + int(np.argmax(smooth_nm[held] >= _EFFORT_SHARE * peak_nm))
    baseline = _calmest(quick_nm[effort.search_from : above], rate_hz)
    onset_s, onset_nm = None, 0.0
    pre_tension = True
    if baseline is not None:
        onset_nm = baseline.mean_nm + max(_ONSET_SDS * baseline.sd_nm, _ONSET_NM)
        onset_s = _last_crossing_s(time_s, quick_nm, effort.search_from, above, onset_nm)
        pre_tension = (
            onset_s is None
            or abs(baseline.mean_nm) > _PRE_TENSION_NM
            or abs(baseline.slope_nm_s) > _PRE_TENSION_NM_S
        )

    def rate_over(window_s: float) -> float | None:
        if pre_tension or onset_s is None or onset_s + window_s > time_s[last]:
            return None
        return (float(np.interp(onset_s + window_s, time_s, quick_nm)) - onset_nm) / window_s

    return Hold(
        index=index,
        direction=direction,
        start_s=float(time_s[first]),
        end_s=float(time_s[last]),
        angle_deg=float(effort.angle_deg[held].mean()),
        peak_torque_nm=peak_nm,
        mean_torque_nm=_best_mean(smooth_nm[held], round(_MEAN_S * rate_hz)),
        onset_s=onset_s,
        baseline_nm=None if baseline is None else baseline.mean_nm,
        rtd_50_nm_s=rate_over(0.05) if rate_hz >= _LOWEST_RATE_50_MS_HZ else None,
        rtd_100_nm_s=rate_over(0.1),
        rtd_200_nm_s=rate_over(0.2),
        flags=("pre_tension",) if pre_tension else (),
        first_sample=first,
        last_sample=last,
    )


def _calmest(torque_nm: Array, rate_hz: float) -> _Baseline | None:
    """Mean, SD and slope of the calmest 200 ms; None where there are not that many."""
    width = max(3, round(_BASELINE_S * rate_hz))
    if torque_nm.size < width:
        return None
    centred = torque_nm - torque_nm.mean()
    sums = np.concatenate(([0.0], np.cumsum(centred)))
    squares = np.concatenate(([0.0], np.cumsum(centred**2)))
    means = (sums[width:] - sums[:-width]) / width
    start = int(np.argmin((squares[width:] - squares[:-width]) / width - means**2))
    calm = torque_nm[start : start + width]
    numbers = np.arange(width) - (width - 1) / 2.0
    slope = float(np.dot(numbers, calm) / np.dot(numbers, numbers)) * rate_hz
    return _Baseline(float(calm.mean()), float(calm.std(ddof=1)), slope)


def _last_crossing_s(
    time_s: Array, torque_nm: Array, first: int, above: int, level_nm: float
) -> float | None:
    """Time of the last upward crossing of a level before a sample, between the samples where need be."""
    under = np.flatnonzero(torque_nm[first:above] <= level_nm)
    if not under.size:
        return None
    at = first + int(under[-1])
    rise = float(torque_nm[at + 1] - torque_nm[at])
    share = (level_nm - float(torque_nm[at])) / rise if rise > 0.0 else 0.0
    return float(time_s[at] + min(share, 1.0) * (time_s[at + 1] - time_s[at]))


def _best_mean(torque_nm: Array, width: int) -> float | None:
    if torque_nm.size < width:
        return None
    sums = np.concatenate(([0.0], np.cumsum(torque_nm)))
    return float((sums[width:] - sums[:-width]).max() / width)
