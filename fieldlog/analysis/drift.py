"""Drift: the line through a rig's errors over time, and when it is forecast to leave its tolerance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldlog.analysis.calibration import coverage_factor, fit_line

__all__ = ["Forecast", "forecast"]


@dataclass(frozen=True)
class Forecast:
    """Line error = intercept + slope·day, and the day it meets the tolerance on the side it drifts to.

    ``earliest_day`` and ``latest_day`` are where the prediction interval of a single check meets that
    limit. ``latest_day`` is None where the slope is too unsure for one, both are with two points (then
    ``residual_sd`` is NaN), and all three days are where the line is flat.
    """

    slope_per_day: float
    intercept: float
    residual_sd: float
    crossing_day: float | None
    earliest_day: float | None
    latest_day: float | None


def forecast(
    days: Sequence[float], errors: Sequence[float], *, tolerance: float, confidence: float = 0.95
) -> Forecast:
    """Forecast the day on which errors drift out of ± ``tolerance`` (same unit as ``errors``).

    Least squares over time; the interval is the two-sided prediction interval of one further value,
    s·t·√(1 + 1/n + (x − x̄)²/Sxx) (NIST/SEMATECH e-Handbook 4.5.2). A limit met before the last check is
    reported as it lies, ``earliest_day`` at the last check then at the latest.
    Raises ValueError for fewer than two different days, values not finite or a tolerance not above zero.
    """
    if not (math.isfinite(tolerance) and tolerance > 0.0):
        raise ValueError(f"a tolerance lies above zero, not {tolerance}")
    line = fit_line(days, errors)
    if _is_flat(line.slope, days, errors):
        return Forecast(line.slope, line.intercept, line.residual_sd, None, None, None)
    limit = math.copysign(tolerance, line.slope)
    crossing = (limit - line.intercept) / line.slope
    earliest = latest = None
    if line.dof > 0:
        reach = coverage_factor(line.dof, confidence) * line.residual_sd
        earliest, latest = _interval(list(map(float, days)), line.slope, crossing, reach)
        earliest = min(crossing, max(earliest, *map(float, days)))
    return Forecast(line.slope, line.intercept, line.residual_sd, crossing, earliest, latest)


def _interval(days: list[float], slope: float, crossing: float, reach: float) -> tuple[float, float | None]:
    """Days at which line ± reach·√(1 + 1/n + (x − x̄)²/Sxx) meets the limit, from both sides of crossing.

    With d = x − crossing, (slope·d)² = reach²·(1 + 1/n + (d + m)²/Sxx) is a quadratic in d.
    """
    n = len(days)
    mean = math.fsum(days) / n
    spread = math.fsum((day - mean) ** 2 for day in days)
    m = crossing - mean
    per_spread = reach**2 / spread
    a = slope**2 - per_spread
    b = -2.0 * per_spread * m
    c = -(reach**2) * (1.0 + 1.0 / n) - per_spread * m**2
    if reach == 0.0:
        return crossing, crossing
    if a > 0.0:  # the slope is sure: one root before the crossing, one after
        root = math.sqrt(b * b - 4.0 * a * c)
        return crossing + (-b - root) / (2.0 * a), crossing + (-b + root) / (2.0 * a)
    # The slope may as well be none: the band may hold the limit for ever from some day on, or always.
    discriminant = b * b - 4.0 * a * c
    if a == 0.0:
        return (crossing - c / b if b < 0.0 else -math.inf), None
    if discriminant < 0.0:
        return -math.inf, None
    before = [d for sign in (1.0, -1.0) if (d := (-b + sign * math.sqrt(discriminant)) / (2.0 * a)) <= 0.0]
    return crossing + max(before, default=-math.inf), None


def _is_flat(slope: float, days: Sequence[float], errors: Sequence[float]) -> bool:
    span = max(float(day) for day in days) - min(float(day) for day in days)
    return abs(slope) * span <= 1e-12 * max(abs(float(error)) for error in errors)
