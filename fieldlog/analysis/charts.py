"""Control charts of single values: individuals with run rules, EWMA and CUSUM (NIST/SEMATECH 6.3.2).

An index counts from 1, as the points of a chart are counted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

__all__ = [
    "DEFAULT_RULES",
    "RUN_RULES",
    "Chart",
    "CusumChart",
    "EwmaChart",
    "Signal",
    "cusum",
    "ewma",
    "individuals",
]

_D2 = 1.128  # expected range of two normal values in SDs, as the handbook prints it
_D4 = 3.267  # upper limit factor of a range of two, ISO 7870-2:2013 table 2

RUN_RULES: dict[int, str] = {
    1: "beyond the limits (3 sigma)",
    2: "two of three in a row beyond 2 sigma on one side",
    3: "four of five in a row beyond 1 sigma on one side",
    4: "eight in a row on one side of the centre",
    5: "six in a row rising or falling",
    6: "fourteen in a row alternating up and down",
}
"""The Western Electric rules (1 to 4) and the two trend rules (5, 6) of the handbook, clause 6.3.2."""

DEFAULT_RULES = (1, 4)


@dataclass(frozen=True)
class Signal:
    """A rule that fired, at the point that completed it."""

    index: int
    rule: int
    text: str


@dataclass(frozen=True)
class Chart:
    """Individuals chart with its moving range. All but ``signals`` in the unit of the values."""

    centre: float
    lower: float
    upper: float
    mean_moving_range: float
    range_upper: float
    signals: tuple[Signal, ...]

    @property
    def sigma(self) -> float:
        """Standard deviation that the limits rest on: mean moving range / 1.128."""
        return self.mean_moving_range / _D2


@dataclass(frozen=True)
class EwmaChart:
    """Exponentially weighted moving average, one value a point, with its asymptotic limits."""

    ewma: tuple[float, ...]
    lower: float
    upper: float
    signals: tuple[Signal, ...]


@dataclass(frozen=True)
class CusumChart:
    """Tabular cumulative sums, both above zero: ``high`` drifts up, ``low`` down."""

    high: tuple[float, ...]
    low: tuple[float, ...]
    signals: tuple[Signal, ...]


def individuals(
    values: Sequence[float], *, rules: Sequence[int] = DEFAULT_RULES, baseline: int | None = None
) -> Chart:
    """Chart of single values: centre ± 3·(mean moving range)/1.128 (e-Handbook 6.3.2.2).

    ``rules`` are numbers of ``RUN_RULES``. Limits come from all values, or from the first ``baseline``.
    Raises ValueError for fewer than two values, values not finite or an unknown rule.
    """
    numbers = _finite(values, at_least=2)
    unknown = sorted(set(rules) - set(RUN_RULES))
    if unknown:
        raise ValueError(f"run rules are numbered 1 to {max(RUN_RULES)}, not {unknown[0]}")
    if baseline is not None and baseline < 2:
        raise ValueError("a baseline needs at least two values")
    base = numbers[:baseline]
    centre = math.fsum(base) / len(base)
    moving = [abs(b - a) for a, b in pairwise(base)]
    mean_range = math.fsum(moving) / len(moving)
    sigma = mean_range / _D2
    return Chart(
        centre=centre,
        lower=centre - 3.0 * sigma,
        upper=centre + 3.0 * sigma,
        mean_moving_range=mean_range,
        range_upper=_D4 * mean_range,
        signals=tuple(_signals(numbers, centre, sigma, rules)),
    )


def ewma(
    values: Sequence[float], *, target: float, sigma: float, weight: float, width: float = 3.0
) -> EwmaChart:
    """Moving average z = weight·x + (1 − weight)·z from ``target`` on (e-Handbook 6.3.2.4).

    Limits target ± width·sigma·√(weight/(2 − weight)), the asymptotic ones. ``weight`` above 0, up to 1.
    Raises ValueError for no value, values not finite, a weight outside that range or a negative sigma.
    """
    numbers = _finite(values, at_least=1)
    if not 0.0 < weight <= 1.0:
        raise ValueError(f"a weight lies above 0 and up to 1, not {weight}")
    if not (math.isfinite(sigma) and sigma >= 0.0 and math.isfinite(target)):
        raise ValueError("target must be finite and sigma zero or above")
    half = width * sigma * math.sqrt(weight / (2.0 - weight))
    averages: list[float] = []
    average = target
    for number in numbers:
        average = weight * number + (1.0 - weight) * average
        averages.append(average)
    slack = _slack(numbers)
    return EwmaChart(
        ewma=tuple(averages),
        lower=target - half,
        upper=target + half,
        signals=tuple(
            Signal(i, 1, f"moving average {'above' if value > target else 'below'} its limit")
            for i, value in enumerate(averages, start=1)
            if abs(value - target) > half + slack
        ),
    )


def cusum(values: Sequence[float], *, target: float, k: float, h: float) -> CusumChart:
    """Tabular cumulative sums: high = max(0, high + x − target − k), low its mirror (e-Handbook 6.3.2.3).

    ``k`` (slack) and ``h`` (decision limit) in the unit of the values; a point signals where either sum
    exceeds h. Raises ValueError for no value, values not finite, or a negative k or h.
    """
    numbers = _finite(values, at_least=1)
    if not (all(math.isfinite(number) for number in (target, k, h)) and k >= 0.0 and h >= 0.0):
        raise ValueError("target must be finite, k and h zero or above")
    highs: list[float] = []
    lows: list[float] = []
    high = low = 0.0
    for number in numbers:
        high = max(0.0, high + number - target - k)
        low = max(0.0, low + target - k - number)
        highs.append(high)
        lows.append(low)
    return CusumChart(
        high=tuple(highs),
        low=tuple(lows),
        signals=tuple(
            Signal(i, 1, f"cumulative sum {'up' if up > h else 'down'} beyond its limit")
            for i, (up, down) in enumerate(zip(highs, lows, strict=True), start=1)
            if up > h or down > h
        ),
    )


def _signals(numbers: list[float], centre: float, sigma: float, rules: Sequence[int]) -> list[Signal]:
    slack = _slack(numbers)
    away = [number - centre for number in numbers]
    away = [0.0 if abs(value) <= slack else value for value in away]

    def beyond(sigmas: float, side: int) -> list[bool]:
        return [side * value > sigmas * sigma + slack for value in away]

    def share(needed: int, window: int, sigmas: float) -> Callable[[int], bool]:
        sides = [beyond(sigmas, side) for side in (1, -1)]
        return lambda i: any(
            flags[i] and sum(flags[max(0, i - window + 1) : i + 1]) >= needed for flags in sides
        )

    steps = [b - a for a, b in pairwise(numbers)]
    fires: dict[int, Callable[[int], bool]] = {
        1: share(1, 1, 3.0),
        2: share(2, 3, 2.0),
        3: share(4, 5, 1.0),
        4: share(8, 8, 0.0),
        5: lambda i: i >= 5 and _one_way(steps[i - 5 : i]),
        6: lambda i: i >= 13 and _alternating(steps[i - 13 : i]),
    }
    return [
        Signal(i + 1, rule, _sentence(rule, away[i]))
        for i in range(len(numbers))
        for rule in sorted(set(rules))
        if fires[rule](i)
    ]


def _sentence(rule: int, away: float) -> str:
    side = "above" if away > 0.0 else "below"
    if rule == 1:
        return f"{side} the {'upper' if away > 0.0 else 'lower'} limit (rule 1)"
    if rule == 4:
        return f"eight in a row {side} the centre (rule 4)"
    return f"{RUN_RULES[rule]} (rule {rule})"


def _one_way(steps: list[float]) -> bool:
    return all(step > 0.0 for step in steps) or all(step < 0.0 for step in steps)


def _alternating(steps: list[float]) -> bool:
    return all(a * b < 0.0 for a, b in pairwise(steps))


def _slack(numbers: list[float]) -> float:
    # Equal values differ from their mean by rounding; that is no side of the centre.
    return 1e-12 * max(abs(number) for number in numbers)


def _finite(values: Sequence[float], *, at_least: int) -> list[float]:
    numbers = [float(value) for value in values]
    if len(numbers) < at_least:
        raise ValueError(f"a chart needs at least {at_least} value{'s' if at_least > 1 else ''}")
    if not all(math.isfinite(number) for number in numbers):
        raise ValueError("a chart needs finite values")
    return numbers
