"""A measure over the squad: where one athlete stands, said only where the squad is large enough."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "SMALLEST_SQUAD",
    "Interval",
    "Place",
    "mean_interval",
    "percentile",
    "percentile_rank",
    "places",
    "z_score",
]

SMALLEST_SQUAD = 20
"""Below this many people a z-score or percentile says more than is known (common practice)."""


@dataclass(frozen=True)
class Interval:
    """Mean of a squad with the bounds of its confidence interval."""

    mean: float
    low: float
    high: float
    sd: float


def mean_interval(values: Sequence[float], confidence: float = 0.95) -> Interval:
    """Mean and its interval by Student's t (NIST/SEMATECH e-Handbook 7.2.2). Needs two values."""
    from fieldlog.analysis.calibration import coverage_factor

    n, mean, sd = _summary(values)
    half = coverage_factor(n - 1, confidence) * sd / math.sqrt(n)
    return Interval(mean, mean - half, mean + half, sd)


def z_score(value: float, values: Sequence[float], *, smallest: int = SMALLEST_SQUAD) -> float | None:
    """Distance from the squad's mean in its SD (n − 1); None for a small squad or no spread."""
    if len(values) < max(smallest, 2):
        return None
    _, mean, sd = _summary(values)
    return (value - mean) / sd if sd > 0.0 else None


def percentile(values: Sequence[float], share: float, *, smallest: int = SMALLEST_SQUAD) -> float | None:
    """Value below which ``share`` (0 to 1) of the squad lies; None for a small squad.

    Rank share·(n + 1) with linear interpolation, held at the ends (NIST/SEMATECH e-Handbook 7.2.6.2).
    Raises ValueError for a share outside 0 to 1.
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"a share lies between 0 and 1, not {share}")
    if len(values) < max(smallest, 1):
        return None
    ranked = sorted(float(value) for value in values)
    rank = share * (len(ranked) + 1)
    whole = int(rank)
    if whole < 1:
        return ranked[0]
    if whole >= len(ranked):
        return ranked[-1]
    return ranked[whole - 1] + (rank - whole) * (ranked[whole] - ranked[whole - 1])


def percentile_rank(value: float, values: Sequence[float], *, smallest: int = SMALLEST_SQUAD) -> float | None:
    """Percent of the squad below the value, ties counting half; None for a small squad."""
    if len(values) < max(smallest, 1):
        return None
    below = sum(other < value for other in values)
    equal = sum(other == value for other in values)
    return 100.0 * (below + equal / 2.0) / len(values)


@dataclass(frozen=True)
class Place:
    """Where one of a squad stands; None where the squad is small."""

    z: float | None
    percentile: float | None


def places(values: Sequence[float], *, smallest: int = SMALLEST_SQUAD) -> list[Place]:
    """``z_score`` and ``percentile_rank`` of every value of a squad, at once."""
    if len(values) < max(smallest, 2):
        return [Place(None, None) for _ in values]
    n, mean, sd = _summary(values)
    ranked = sorted(values)
    return [
        Place(
            (value - mean) / sd if sd > 0.0 else None,
            50.0 * (bisect_left(ranked, value) + bisect_right(ranked, value)) / n,
        )
        for value in values
    ]


def _summary(values: Sequence[float]) -> tuple[int, float, float]:
    numbers = [float(value) for value in values]
    if len(numbers) < 2 or not all(math.isfinite(number) for number in numbers):
        raise ValueError("a squad needs at least two finite values")
    n = len(numbers)
    mean = math.fsum(numbers) / n
    return n, mean, math.sqrt(math.fsum((number - mean) ** 2 for number in numbers) / (n - 1))
