"""Axes: a span that holds all values, and ticks at round numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["nice_ticks", "span_of", "tick_text"]


def span_of(values: Sequence[float]) -> tuple[float, float]:
    """Smallest and largest value, a little apart where they are equal."""
    low, high = min(values), max(values)
    if high - low < 1e-9 * max(abs(high), 1.0):
        apart = abs(high) * 0.1 or 1.0
        return low - apart, high + apart
    return low, high


def nice_ticks(low: float, high: float, most: int) -> list[float]:
    """At least two round numbers from at or below ``low`` to at or above ``high``, about ``most`` of them."""
    raw = (high - low) / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power >= raw * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [number * step for number in range(first, last + 1)]


def tick_text(ticks: Sequence[float]) -> list[str]:
    """Ticks as printed: as many decimals as their step needs, with a true minus sign."""
    step = ticks[1] - ticks[0]
    decimals = next(count for count in range(7) if abs(round(step, count) - step) < 1e-9 or count == 6)
    return [f"{tick + 0.0:.{decimals}f}".replace("-", "−") for tick in ticks]
