"""How well a measure repeats: typical error, detectable and worthwhile change, agreement, doubtful entries."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldlog.analysis.change import ChangeVerdict, judge_change, worthwhile_of_variance
from fieldlog.analysis.doubtful import (
    DoubtfulScore,
    UnitMix,
    doubtful_scores,
    mixed_units,
    robust_typical_error,
)
from fieldlog.analysis.icc import TwoWay, complete_scores, icc, two_way
from fieldlog.analysis.repeats import typical_error_of_tests
from fieldlog.analysis.t_distribution import t_distribution

__all__ = [
    "ChangeVerdict",
    "DoubtfulScore",
    "LimitsOfAgreement",
    "MeanChange",
    "TwoWay",
    "UnitMix",
    "doubtful_scores",
    "error_grows_with_size",
    "icc",
    "judge_change",
    "limits_of_agreement",
    "mean_change",
    "minimal_detectable_change",
    "mixed_units",
    "robust_typical_error",
    "smallest_worthwhile_change",
    "two_way",
    "typical_error",
    "typical_error_cv_pct",
    "typical_error_of",
    "typical_error_of_tests",
]


@dataclass(frozen=True)
class LimitsOfAgreement:
    """Bland and Altman 1986: mean difference second − first, its SD, and bias ± 1.96 SD."""

    bias: float
    sd: float
    low: float
    high: float
    n: int


@dataclass(frozen=True)
class MeanChange:
    """Mean change of the squad between two visits with its 95 % interval (t), and their typical error."""

    change: float
    low: float
    high: float
    typical_error: float


def typical_error(first: ArrayLike, second: ArrayLike) -> float:
    """Typical error of two visits: SD of the differences / √2, in the unit of the scores (Hopkins 2000).

    Raises ValueError for unequal lengths, fewer than two pairs, or values not finite.
    """
    differences = _differences(first, second)
    return float(differences.std(ddof=1)) / math.sqrt(2.0)


def typical_error_of(scores: ArrayLike) -> tuple[float, int]:
    """Typical error over any number of visits, and its degrees of freedom.

    Root of the error mean square of the two-way table, (n − 1)(k − 1) degrees; for two visits the same as
    ``typical_error``. ``scores``: athletes × visits, complete.
    """
    table = two_way(scores)
    return math.sqrt(table.error), table.error_dof


def typical_error_cv_pct(scores: ArrayLike) -> float | None:
    """Typical error as a coefficient of variation in %, 100·(exp(s) − 1), s from the logarithms.

    None where a score is not above zero (Hopkins 2000).
    """
    table = complete_scores(scores)
    if (table <= 0.0).any():
        return None
    return 100.0 * math.expm1(typical_error_of(np.log(table))[0])


def limits_of_agreement(first: ArrayLike, second: ArrayLike) -> LimitsOfAgreement:
    """Bias (second − first) and the limits within which 95 % of differences lie, bias ± 1.96 SD.

    Raises ValueError as ``typical_error`` does.
    """
    differences = _differences(first, second)
    bias, sd = float(differences.mean()), float(differences.std(ddof=1))
    return LimitsOfAgreement(bias, sd, bias - 1.96 * sd, bias + 1.96 * sd, len(differences))


def minimal_detectable_change(typical_error: float, confidence: float = 0.95) -> float:
    """Change that error alone exceeds with probability 1 − confidence: z·√2·TE (Weir 2005).

    >>> round(minimal_detectable_change(7.557), 1)
    20.9

    Raises ValueError for a negative or infinite error or a confidence outside 0 to 1.
    """
    if not (math.isfinite(typical_error) and typical_error >= 0.0):
        raise ValueError(f"a typical error is zero or above, not {typical_error}")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"a confidence lies between 0 and 1, not {confidence}")
    return NormalDist().inv_cdf(0.5 + confidence / 2.0) * math.sqrt(2.0) * typical_error


def smallest_worthwhile_change(
    scores: ArrayLike, factor: float = 0.2, typical_error: float | None = None
) -> float | None:
    """Smallest worthwhile change: ``factor`` × the spread between athletes (Hopkins 2004, after Cohen).

    ``scores``: one value an athlete, or athletes × visits (then the mean of the visits' variances). With a
    ``typical_error`` the pure spread √(SD² − TE²) is taken; None where that is not positive.
    Raises ValueError for fewer than two athletes or values not finite.
    """
    table = np.asarray(scores, dtype=np.float64)
    if table.ndim not in (1, 2) or table.shape[0] < 2 or table.size == 0:
        raise ValueError("a spread between athletes needs at least two of them")
    if not np.isfinite(table).all():
        raise ValueError("scores must be finite")
    return worthwhile_of_variance(float(np.mean(table.var(axis=0, ddof=1))), factor, typical_error)


def mean_change(first: ArrayLike, second: ArrayLike) -> MeanChange:
    """Mean change from first to second with its 95 % interval; from a first visit on: familiarisation."""
    from fieldlog.analysis.calibration import coverage_factor

    differences = _differences(first, second)
    n = len(differences)
    sd = float(differences.std(ddof=1))
    half = coverage_factor(n - 1) * sd / math.sqrt(n)
    mean = float(differences.mean())
    return MeanChange(mean, mean - half, mean + half, sd / math.sqrt(2.0))


def error_grows_with_size(scores: ArrayLike) -> tuple[float, float] | None:
    """Correlation between an athlete's mean and the SD of what error leaves, and its two-sided p.

    A positive one with a small p says that the error grows with the score, so that the coefficient of
    variation describes it better than one value (Atkinson and Nevill 1998). None where undefined.
    """
    table = complete_scores(scores)
    n = table.shape[0]
    rest = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0) + table.mean()
    sizes = np.sqrt(np.square(rest).sum(axis=1))
    means = table.mean(axis=1)
    if n < 3 or not np.ptp(sizes) > 0.0 or not np.ptp(means) > 0.0:
        return None
    correlation = float(np.clip(np.corrcoef(means, sizes)[0, 1], -1.0, 1.0))
    if abs(correlation) == 1.0:
        return correlation, 0.0
    t = correlation * math.sqrt((n - 2) / (1.0 - correlation**2))
    return correlation, 2.0 * t_distribution(-abs(t), n - 2)


def _differences(first: ArrayLike, second: ArrayLike) -> NDArray[np.float64]:
    one, two = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if one.ndim != 1 or one.shape != two.shape:
        raise ValueError("two visits of the same athletes need two lists of one length")
    if one.size < 2:
        raise ValueError("at least two athletes are needed")
    differences = two - one
    if not np.isfinite(differences).all():
        raise ValueError("scores must be finite")
    return differences
