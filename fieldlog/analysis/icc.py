"""Intraclass correlation: the two-way table of athletes and visits, and the six forms with their limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["TwoWay", "complete_scores", "icc", "two_way"]

IccForm = dict[str, float | int | None]

# A mean square this far below the data's own size is rounding, not error.
_ROUNDING = 1e-12


@dataclass(frozen=True)
class TwoWay:
    """Mean squares of athletes × visits: between athletes, within, between visits, and error."""

    athletes: int
    visits: int
    between: float
    within: float
    of_visits: float
    error: float

    @property
    def error_dof(self) -> int:
        """Degrees of freedom of the error."""
        return (self.athletes - 1) * (self.visits - 1)


def complete_scores(scores: ArrayLike) -> NDArray[np.float64]:
    """Return ``scores`` as athletes × visits.

    Raises ValueError for anything but a complete table of finite numbers, two by two or larger.
    """
    table = np.asarray(scores, dtype=np.float64)
    if table.ndim != 2:
        raise ValueError("scores are a table: one row an athlete, one column a visit")
    if table.shape[0] < 2 or table.shape[1] < 2:
        raise ValueError("reliability needs at least two athletes with at least two visits each")
    if not np.isfinite(table).all():
        raise ValueError("scores must be complete and finite; leave out athletes with a missing visit")
    return table


def two_way(scores: ArrayLike) -> TwoWay:
    """Analysis of variance of a complete table of athletes × visits (Shrout and Fleiss 1979, table 3)."""
    table = complete_scores(scores)
    n, k = table.shape
    centred = table - table.mean()
    rows = centred.mean(axis=1, keepdims=True)
    columns = centred.mean(axis=0, keepdims=True)
    floor = (_ROUNDING * float(np.abs(table).max())) ** 2

    def mean_square(deviations: NDArray[np.float64], times: int, dof: int) -> float:
        value = times * float(np.square(deviations).sum()) / dof
        return value if value > floor else 0.0

    return TwoWay(
        athletes=n,
        visits=k,
        between=mean_square(rows, k, n - 1),
        within=mean_square(centred - rows, 1, n * (k - 1)),
        of_visits=mean_square(columns, n, k - 1),
        error=mean_square(centred - rows - columns, 1, (n - 1) * (k - 1)),
    )


def icc(scores: ArrayLike) -> dict[str, IccForm]:
    """Return the six forms of Shrout and Fleiss (1979) with two-sided 95 % limits and the test against 0.

    ``scores``: athletes × visits, complete. Keys ``icc1, icc2, icc3`` (one test) and ``icc1k, icc2k,
    icc3k`` (mean of all visits), each ``value, low, high, f, df1, df2, p``; None where undefined, so
    everywhere when all scores are equal, and for an infinite F.
    Raises ValueError for a table that is not complete.
    """
    table = two_way(scores)
    n, k = table.athletes, table.visits
    df1, df_within, df_error = n - 1, n * (k - 1), table.error_dof
    one = _form(table.between, table.within, df1, df_within, k)
    three = _form(table.between, table.error, df1, df_error, k)
    two_value = _ratio(
        table.between - table.error,
        table.between + (k - 1) * table.error + k * (table.of_visits - table.error) / n,
    )
    two_low, two_high = _limits_of_two(table, two_value)
    two: IccForm = {**three, "value": two_value, "low": two_low, "high": two_high}
    two_k_value = _ratio(table.between - table.error, table.between + (table.of_visits - table.error) / n)
    return {
        "icc1": one,
        "icc2": two,
        "icc3": three,
        "icc1k": _mean_form(one, table.between, table.within, df1, df_within),
        "icc2k": {
            **two,
            "value": two_k_value,
            "low": _stepped_up(two_low, k),
            "high": _stepped_up(two_high, k),
        },
        "icc3k": _mean_form(three, table.between, table.error, df1, df_error),
    }


def _form(between: float, rest: float, df1: int, df2: int, k: int) -> IccForm:
    """ICC(1,1) with the mean square within as ``rest``, ICC(3,1) with the error."""
    low, high = (
        _ratio(f - 1.0, f + k - 1.0) if math.isfinite(f) else 1.0 for f in _f_limits(between, rest, df1, df2)
    )
    f = between / rest if rest else None
    return {
        "value": _ratio(between - rest, between + (k - 1) * rest),
        "low": low if between or rest else None,
        "high": high if between or rest else None,
        "f": f,
        "df1": df1,
        "df2": df2,
        "p": _p(f, between, df1, df2),
    }


def _mean_form(single: IccForm, between: float, rest: float, df1: int, df2: int) -> IccForm:
    low, high = (1.0 - 1.0 / f if f else None for f in _f_limits(between, rest, df1, df2))
    known = bool(between)
    return {
        **single,
        "value": _ratio(between - rest, between),
        "low": low if known else None,
        "high": high if known else None,
    }


def _f_limits(between: float, rest: float, df1: int, df2: int) -> tuple[float, float]:
    """F over and times the 97.5 % quantiles (Shrout and Fleiss 1979, p. 424)."""
    if not rest:
        return math.inf, math.inf
    f = between / rest
    return f / _f_quantile(df1, df2), f * _f_quantile(df2, df1)


def _limits_of_two(table: TwoWay, value: float | None) -> tuple[float | None, float | None]:
    """Limits of ICC(2,1) with Satterthwaite's degrees of freedom (Shrout and Fleiss 1979, p. 424)."""
    if value is None:
        return None, None
    n, k = table.athletes, table.visits
    of_visits = k * value * table.of_visits
    of_error = (n * (1.0 + (k - 1) * value) - k * value) * table.error
    spread = (n - 1) * of_visits**2 + of_error**2
    if not spread:
        return (value, value) if not table.error else (None, None)
    dof = (k - 1) * (n - 1) * (of_visits + of_error) ** 2 / spread
    if not dof > 0.0:
        return None, None
    rest = k * table.of_visits + (k * n - k - n) * table.error
    f_low, f_high = _f_quantile(n - 1, dof), _f_quantile(dof, n - 1)
    low = _ratio(n * (table.between - f_low * table.error), f_low * rest + n * table.between)
    high = _ratio(n * (f_high * table.between - table.error), rest + n * f_high * table.between)
    # With next to no degrees of freedom (negative coefficients of tiny tables) the approximation breaks down.
    if low is None or high is None or not low - _ROUNDING <= value <= high + _ROUNDING:
        return None, None
    return low, high


def _stepped_up(value: float | None, k: int) -> float | None:
    """Spearman and Brown: from one test to the mean of k."""
    return None if value is None else _ratio(k * value, 1.0 + (k - 1) * value)


def _f_quantile(df1: float, df2: float) -> float:
    from scipy.special import fdtri

    return float(fdtri(df1, df2, 0.975))


def _p(f: float | None, between: float, df1: int, df2: int) -> float | None:
    if f is None:
        return 0.0 if between else None
    from scipy.special import fdtrc

    return float(fdtrc(df1, df2, f))


def _ratio(above: float, below: float) -> float | None:
    if not (below > 0.0 and math.isfinite(above) and math.isfinite(below)):
        return None
    return above / below
