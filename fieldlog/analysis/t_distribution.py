"""Student's t by ``math`` alone: its distribution and its quantile, for degrees of freedom that need not be whole.

A page that needs one quantile must not wait for a numerical library. Meant for 0.05 degrees of freedom and
more: under that, quantiles leave the range of numbers.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

__all__ = ["t_distribution", "t_quantile"]

_MOST_TERMS = 500
_TINY = 1e-300
_ENOUGH = 1e-16
_MOST_STEPS = 500
_BEYOND = 1e150
# From here on the normal distribution with a first correction is the better of the two.
_NEARLY_NORMAL = 1e7
# From here on the gamma functions lose more digits to cancellation than the series for their ratio.
_LARGE = 20.0


def t_distribution(t: float, dof: float) -> float:
    """Probability that Student's t with ``dof`` degrees of freedom lies below ``t``; normal for infinite ``dof``.

    Half the regularised incomplete beta function I_x(dof/2, 1/2) at x = dof/(dof + t²) lies in each tail
    (Abramowitz and Stegun 26.7.1), by its continued fraction (26.5.8); from ten million on, 26.7.8.
    Raises ValueError for ``dof`` not above zero or ``t`` not a number.

    >>> round(t_distribution(2.262157, 9), 6)
    0.975
    """
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above zero, not {dof}")
    if math.isnan(t):
        raise ValueError("a probability below no number is not known")
    if dof >= _NEARLY_NORMAL or math.isinf(t):
        shrunk = 0.25 / dof
        z = t if math.isinf(t) else t * (1.0 - shrunk) / math.hypot(1.0, t * math.sqrt(2.0 * shrunk))
        return 0.5 * math.erfc(-z / math.sqrt(2.0))
    tail = _tail(abs(t), dof)
    return tail if t < 0.0 else 1.0 - tail


def t_quantile(probability: float, dof: float) -> float:
    """The t that Student's t with ``dof`` degrees of freedom lies below with a ``probability``.

    Newton's steps on the logarithm of the tail, kept between bounds that close in; normal for infinite ``dof``.
    Raises ValueError for ``dof`` not above zero or a probability not between 0 and 1.

    >>> round(t_quantile(0.975, 9), 6)
    2.262157
    """
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above zero, not {dof}")
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not {probability}")
    if dof >= _NEARLY_NORMAL:
        z, shrunk = NormalDist().inv_cdf(probability), 0.25 / dof
        return z / math.sqrt((1.0 - shrunk) ** 2 - 2.0 * shrunk * z * z)
    if probability == 0.5:
        return 0.0
    size = _upper_quantile(min(probability, 1.0 - probability), dof)
    return size if probability > 0.5 else -size


@lru_cache(maxsize=1024)
def _upper_quantile(tail: float, dof: float) -> float:
    # The normal quantile lies below, as the tails of t are the heavier ones.
    low, high = 0.0, math.inf
    t = -NormalDist().inv_cdf(tail)
    for _ in range(_MOST_STEPS):
        if t > _BEYOND:
            return math.inf
        here = _tail(t, dof)
        if here > tail:
            low = t
        else:
            high = t
        step = math.log(here / tail) * here / _density(t, dof) if here > 0.0 else -math.inf
        following = t + step
        if not low <= following <= high:
            following = 2.0 * t if math.isinf(high) else 0.5 * (low + high)
        if abs(following - t) <= 1e-14 * following:
            return following
        t = following
    return t


def _tail(t: float, dof: float) -> float:
    """Probability above a ``t`` of zero or more."""
    if t > _BEYOND:
        return 0.0
    half, square = 0.5 * dof, t * t
    below, above = dof / (dof + square), square / (dof + square)
    # The continued fraction converges fast on one side of the distribution's middle only.
    if below < (half + 1.0) / (half + 2.5):
        return 0.5 * _front(half, below, above) * _fraction(half, 0.5, below) / half
    return 0.5 - _front(half, below, above) * _fraction(0.5, half, above)


def _front(half: float, below: float, above: float) -> float:
    """below^half · above^½ / B(half, ½)."""
    # log(below) from the other share keeps its digits where that share is small.
    power = half * (math.log1p(-above) if above < 0.5 else math.log(below))
    return math.exp(power) * math.sqrt(above) * _gamma_ratio(half) / math.sqrt(math.pi)


def _density(t: float, dof: float) -> float:
    power = -0.5 * (dof + 1.0) * math.log1p(t * t / dof)
    return _gamma_ratio(0.5 * dof) / math.sqrt(dof * math.pi) * math.exp(power)


def _gamma_ratio(a: float) -> float:
    """Γ(a + ½)/Γ(a)."""
    if a < _LARGE:
        return math.exp(math.lgamma(a + 0.5) - math.lgamma(a))
    # The asymptotic series in 1/a (Abramowitz and Stegun 6.1.47 for these arguments).
    inverse = 1.0 / a
    series = 1.0 + inverse * (
        -1.0 / 8.0
        + inverse
        * (
            1.0 / 128.0
            + inverse
            * (
                5.0 / 1024.0
                + inverse
                * (
                    -21.0 / 32768.0
                    + inverse
                    * (-399.0 / 262144.0 + inverse * (869.0 / 4194304.0 + inverse * 39325.0 / 33554432.0))
                )
            )
        )
    )
    return math.sqrt(a) * series


def _fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of the incomplete beta function, evaluated forwards (Lentz's method)."""
    c, d = 1.0, 1.0 / _not_zero(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, _MOST_TERMS):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            d = 1.0 / _not_zero(1.0 + term * d)
            c = _not_zero(1.0 + term / c)
            value *= c * d
        if abs(c * d - 1.0) <= _ENOUGH:
            break
    return value


def _not_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
