"""Entry errors and mixed units among repeated tests, and a typical error that they cannot move."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldlog.analysis.robust_line import MAD_TO_SD
from fieldlog.analysis.units import NM_PER_UNIT

__all__ = ["DoubtfulScore", "UnitMix", "doubtful_scores", "mixed_units", "robust_typical_error"]

Array = NDArray[np.float64]

_DOUBTFUL_AT = 5.0  # robust standard deviations; chance alone passes it once in a million
_UNIT_FACTORS = {
    "N·m and lbf·ft": NM_PER_UNIT["lbf_ft"],
    "N·m and kgf·m": NM_PER_UNIT["kgf_m"],
    "N·m and lbf·in": 1.0 / NM_PER_UNIT["lbf_in"],
}
_UNIT_HIT = 0.06  # a squad's median change from visit to visit rarely comes this close to a factor by itself
_FEWEST_FOR_UNITS = 3
_MOSTLY = 0.9


@dataclass(frozen=True)
class DoubtfulScore:
    """A score that fits neither its athlete nor its visit: row, column, value and what would be expected."""

    athlete: int
    visit: int
    value: float
    expected: float


@dataclass(frozen=True)
class UnitMix:
    """A visit whose scores stand to the others as two torque units do; ``ratio`` is visit over the others."""

    visit: int
    ratio: float
    units: str


def robust_typical_error(scores: ArrayLike) -> float:
    """Typical error that a few entry errors cannot move.

    1.4826/√2 × the median size of the differences between any two visits, each less its own median, with
    √(n/(n − 1)) for the medians taken out. ``scores``: athletes × visits, NaN where a test is missing.
    Raises ValueError where no two visits share two athletes.
    """
    table = _table(scores)
    k = table.shape[1]
    sizes, pairs, shared = [], 0, 0
    for i in range(k):
        for j in range(i + 1, k):
            differences = table[:, j] - table[:, i]
            differences = differences[np.isfinite(differences)]
            if differences.size >= 2:
                sizes.append(np.abs(differences - np.median(differences)))
                pairs += 1
                shared += differences.size
    if not pairs:
        raise ValueError("reliability needs at least two athletes with at least two visits each")
    n = shared / pairs
    return MAD_TO_SD * float(np.median(np.concatenate(sizes))) * math.sqrt(n / (2.0 * (n - 1)))


def doubtful_scores(scores: ArrayLike) -> tuple[DoubtfulScore, ...]:
    """Return scores that look like entry errors, one an athlete at most.

    Each score is compared with the median of the athlete's other visits, visit medians taken out, and with
    the visits just before and after it; more than 5 robust SD from all of them is in doubt, so that a steady
    climb is none. With two visits the pair alone cannot say which is wrong: the one further from its visit's
    median is named. Where every score is above zero the logarithms are judged, as errors of torque grow with
    torque. ``scores``: athletes × visits, NaN where a test is missing.
    """
    table = _table(scores)
    present = table[np.isfinite(table)]
    logarithmic = bool(present.size) and bool((present > 0.0).all())
    judged = np.log(table) if logarithmic else table
    error = robust_typical_error(judged)
    if error == 0.0:
        return ()
    level = judged - np.nanmedian(judged, axis=0)
    found = []
    for row in range(table.shape[0]):
        worst = _strangest(level[row], _DOUBTFUL_AT * error)
        if worst is not None:
            visit, away = worst
            expected = float(judged[row, visit] - away)
            found.append(
                DoubtfulScore(
                    row, visit, float(table[row, visit]), math.exp(expected) if logarithmic else expected
                )
            )
    return tuple(found)


def mixed_units(scores: ArrayLike) -> tuple[UnitMix, ...]:
    """Return visits whose scores look as if written in another unit of torque than the others.

    A visit's median ratio to the athletes' other visits within 6 % of the factor between two units, and
    at least three athletes. None of a measure that is often zero or below: it is no torque.
    ``scores``: athletes × visits, NaN where a test is missing.
    """
    table = _table(scores)
    positive = table > 0.0
    if positive.sum() < _MOSTLY * np.isfinite(table).sum():
        return ()
    logs = np.log(np.where(positive, table, np.nan))
    found = []
    for visit in range(table.shape[1]):
        others = np.delete(logs, visit, axis=1)
        known = np.isfinite(logs[:, visit]) & np.isfinite(others).any(axis=1)
        if known.sum() < _FEWEST_FOR_UNITS:
            continue
        shift = float(np.median(logs[known, visit] - np.nanmedian(others[known], axis=1)))
        for units, factor in _UNIT_FACTORS.items():
            if abs(abs(shift) - math.log(factor)) < _UNIT_HIT:
                found.append(UnitMix(visit, math.exp(shift), units))
    # With two visits each is off from the other; the later one is named.
    return tuple(found[-1:]) if table.shape[1] == 2 else tuple(found)


def _table(scores: ArrayLike) -> Array:
    table = np.asarray(scores, dtype=np.float64)
    if table.ndim != 2:
        raise ValueError("scores are a table: one row an athlete, one column a visit")
    if np.isinf(table).any():
        raise ValueError("scores must be finite")
    if not table.size or np.isnan(table).all(axis=0).any():
        raise ValueError("every visit needs at least one test")
    return table


def _strangest(level: Array, limit: float) -> tuple[int, float] | None:
    """The visit of one athlete that fits the others least, and how far off it is; None where all fit."""
    visits = np.flatnonzero(np.isfinite(level))
    m = visits.size
    if m < 2:
        return None
    values = level[visits]
    away = np.array([value - np.median(np.delete(values, i)) for i, value in enumerate(values)])
    # Variance of a median of m − 1 normal values, near enough from one on: (π/2)/(m − 2 + π/2).
    limit *= math.sqrt(1.0 + math.pi / 2.0 / (m - 2.0 + math.pi / 2.0))
    i = int(np.argmax(np.abs(values if m == 2 else away)))
    beside = [values[i] - values[j] for j in (i - 1, i + 1) if 0 <= j < m]
    if abs(away[i]) <= limit or min(abs(step) for step in beside) <= limit:
        return None
    return int(visits[i]), float(away[i])
