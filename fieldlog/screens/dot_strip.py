"""One figure as a dot with its interval on a scale of text cells. Drawing only; the figures are given."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from fieldlog.screens.table import Span

__all__ = ["Scale", "draw_dot", "scale_of", "scale_words"]

COUNTED, OPEN, BAR = "●", "○", "─"
LEFT, RIGHT, MEAN = "├", "┤", "┊"
_PLAIN = {COUNTED: "*", OPEN: "o", BAR: "-", LEFT: "[", RIGHT: "]", MEAN: ":"}


@dataclass(frozen=True)
class Scale:
    """From where to where a strip reaches, in the measure's unit."""

    low: float
    high: float

    def place(self, value: float, width: int) -> int:
        """Return the cell of a value, held at the ends."""
        share = (value - self.low) / (self.high - self.low)
        return min(max(round(share * (width - 1)), 0), width - 1)


def scale_of(values: Iterable[float]) -> Scale:
    """Return a scale with round ends that holds every value."""
    known = [value for value in values if math.isfinite(value)]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    spread = high - low or abs(high) or 1.0
    # Ends at whole fifths of the spread's power of ten, so that a person reads them at a glance.
    step = 10.0 ** math.floor(math.log10(spread)) / 2.0
    bottom, top = math.floor(low / step) * step, math.ceil(high / step) * step
    return Scale(bottom, top) if top > bottom else Scale(bottom, bottom + step)


def scale_words(scale: Scale, width: int) -> str:
    """Return the ends of a scale as the title of its strip."""
    left, right = (f"{value:.6g}".replace("-", "−") for value in (scale.low, scale.high))
    return left + " " * max(width - len(left) - len(right), 1) + right


def draw_dot(
    scale: Scale,
    value: float,
    width: int,
    *,
    low: float | None = None,
    high: float | None = None,
    mean: float | None = None,
    counted: bool = True,
    ascii_only: bool = False,
) -> list[Span]:
    """Return a strip of exactly ``width`` cells: the squad's mean, the interval, and the dot over both.

    An open dot is a figure that does not count in what the squad says.
    """
    cells = [" "] * width
    if mean is not None:
        cells[scale.place(mean, width)] = MEAN
    if low is not None and high is not None:
        first, last = scale.place(low, width), scale.place(high, width)
        cells[first : last + 1] = [BAR] * (last - first + 1)
        cells[first], cells[last] = LEFT, RIGHT
    at = scale.place(value, width)
    cells[at] = COUNTED if counted else OPEN
    if ascii_only:
        cells = [_PLAIN.get(cell, cell) for cell in cells]
    text = "".join(cells)
    return [
        Span(text[:at], "quiet"),
        Span(text[at], "one" if counted else "warn"),
        Span(text[at + 1 :], "quiet"),
    ]
