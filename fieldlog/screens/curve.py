"""Curves in text cells: torque over angle or time, drawn in braille dots or, where asked, in plain ASCII.

Pure functions from numbers to lines of text; the widget around them only hands over its size.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from fieldlog.screens.table import Span, fit, joined
from fieldlog.screens.words import number

__all__ = ["Curve", "CurvePlot", "LineStyle", "draw", "legend", "read_out"]

LineStyle = Literal["solid", "dashed", "dotted", "dash-dotted"]

LABEL_WIDTH = 6
# Dots that are set and left out in turn along the line.
_DASHES: dict[str, tuple[int, ...]] = {
    "solid": (1, 0),
    "dashed": (5, 4),
    "dotted": (1, 2),
    "dash-dotted": (7, 3, 2, 3),
}
_ASCII = {"solid": "*", "dashed": "-", "dotted": ".", "dash-dotted": "+"}
_RULE = 8
_SAMPLES = {"solid": "──", "dashed": "╌╌", "dotted": "┈┈", "dash-dotted": "─·"}
# Bit of each dot in a braille cell, by column and row (Unicode 13, block 2800).
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BRAILLE = 0x2800


@dataclass(frozen=True)
class Curve:
    """One line: points in order, its name, its line style and the role its colour follows from.

    A value that is no number breaks the line. Lines of one ``group`` are one entry of the legend.
    """

    label: str
    x: Sequence[float]
    y: Sequence[float]
    line: LineStyle = "solid"
    role: str = "one"
    group: str = ""


@dataclass(frozen=True)
class CurvePlot:
    """Curves with their axes, the stretches of the load range, and a cursor."""

    curves: tuple[Curve, ...]
    x_unit: str = "°"
    y_unit: str = "N·m"
    load_ranges: tuple[tuple[float, float], ...] = ()
    cursor: float | None = None

    @property
    def x_span(self) -> tuple[float, float]:
        """From the smallest to the largest x."""
        return _span([value for curve in self.curves for value in curve.x], with_zero=False)

    @property
    def y_span(self) -> tuple[float, float]:
        """From the smallest to the largest y, zero included."""
        return _span([value for curve in self.curves for value in curve.y], with_zero=True)


def draw(plot: CurvePlot, width: int, height: int, *, ascii_only: bool = False) -> list[list[Span]]:
    """Return ``height`` lines of ``width`` cells: load range, curves over the axes, ticks.

    Without a point to draw the one line says so.
    """
    columns, rows = width - LABEL_WIDTH - 1, height - 3
    if not any(True for _ in _points(plot.curves)) or columns < 8 or rows < 2:
        return [fit(Span("no curve to draw", "quiet"), width)] + [fit("", width) for _ in range(height - 1)]
    grid = _Grid(columns, rows, plot, ascii_only=ascii_only)
    lines = [_load_range_line(plot, grid, ascii_only=ascii_only)]
    lines += [
        [*label, *cells] for label, cells in zip(_y_labels(plot, rows, ascii_only), grid.rows(), strict=True)
    ]
    lines += _x_axis(plot, grid, ascii_only=ascii_only)
    return [fit(line, width) for line in lines]


def legend(plot: CurvePlot, title: str = "", width: int | None = None, *, ascii_only: bool = False) -> str:
    """Return which line is which: the style tells them apart without colour.

    In words where they fit beside ``title`` on the rule of a pane ``width`` cells wide, else with a sample of
    each line.
    """
    styles: dict[str, list[str]] = {}
    for curve in plot.curves:
        labels = styles.setdefault(curve.line, [])
        name = curve.group or curve.label
        if name not in labels:
            labels.append(name)
    words = " · ".join(f"{', '.join(labels)} {style}" for style, labels in styles.items())
    if width is None or len(words) + len(title) + _RULE <= width:
        return words
    samples = _ASCII if ascii_only else _SAMPLES
    return " · ".join(f"{samples[style]} {', '.join(labels)}" for style, labels in styles.items())


def read_out(plot: CurvePlot) -> str:
    """Return the value of every curve under the cursor, with units; empty without a cursor."""
    if plot.cursor is None:
        return ""
    digits = 0 if plot.x_unit == "°" else 2
    parts = [f"at {number(plot.cursor, digits)}{'' if plot.x_unit == '°' else ' '}{plot.x_unit}"]
    for curve in plot.curves:
        values = _values_at(curve, plot.cursor)
        if values:
            shown = " and ".join(number(value, 1) for value in values[:2])
            parts.append(f"{curve.label} {shown} {plot.y_unit}")
    return " · ".join(parts)


class _Grid:
    """Dots by cell; each cell keeps the role of the first curve that reached it."""

    def __init__(self, columns: int, rows: int, plot: CurvePlot, *, ascii_only: bool) -> None:
        self.columns, self.row_count = columns, rows
        self.plot = plot
        self.ascii_only = ascii_only
        self.x_span, self.y_span = plot.x_span, plot.y_span
        self.dots_across = columns if ascii_only else 2 * columns
        self.dots_down = rows if ascii_only else 4 * rows
        self.cells: dict[tuple[int, int], tuple[int, str, str]] = {}
        for curve in plot.curves:
            self._draw(curve)

    def column_of(self, x: float) -> int:
        """Cell column of an x value."""
        return min(max(self._dot_x(x) // (1 if self.ascii_only else 2), 0), self.columns - 1)

    def row_of(self, y: float) -> int:
        """Cell row of a y value."""
        return min(max(self._dot_y(y) // (1 if self.ascii_only else 4), 0), self.row_count - 1)

    def _dot_x(self, x: float) -> int:
        low, high = self.x_span
        return round((x - low) / (high - low) * (self.dots_across - 1))

    def _dot_y(self, y: float) -> int:
        low, high = self.y_span
        return round((high - y) / (high - low) * (self.dots_down - 1))

    def _draw(self, curve: Curve) -> None:
        pattern = _DASHES[curve.line]
        drawn = 0
        before: tuple[int, int] | None = None
        for x, y in zip(curve.x, curve.y, strict=False):
            if not (math.isfinite(x) and math.isfinite(y)):
                before = None
                continue
            here = (self._dot_x(x), self._dot_y(y))
            if here == before:
                continue
            for dot in _straight(before or here, here):
                if _is_on(pattern, drawn):
                    self._set(*dot, curve)
                drawn += 1
            before = here

    def _set(self, dot_x: int, dot_y: int, curve: Curve) -> None:
        across, down = (1, 1) if self.ascii_only else (2, 4)
        cell = (dot_x // across, dot_y // down)
        bits, role, mark = self.cells.get(cell, (0, curve.role, _ASCII[curve.line]))
        self.cells[cell] = (bits | _DOTS[dot_x % 2][dot_y % 4], role, mark)

    def rows(self) -> Iterator[list[Span]]:
        """The lines of the plot's body."""
        zero_row = self.row_of(0.0)
        cursor = None if self.plot.cursor is None else self.column_of(self.plot.cursor)
        for row in range(self.row_count):
            spans = []
            for column in range(self.columns):
                bits, role, mark = self.cells.get((column, row), (0, "quiet", ""))
                if bits:
                    spans.append(Span(mark if self.ascii_only else chr(_BRAILLE + bits), role))
                elif column == cursor:
                    spans.append(Span("|" if self.ascii_only else "┊", "entry"))
                elif row == zero_row and self.y_span[0] < 0:
                    spans.append(Span("-" if self.ascii_only else "┈", "quiet"))
                else:
                    spans.append(Span(" "))
            yield joined(spans)


def _is_on(pattern: tuple[int, ...], drawn: int) -> bool:
    """Whether the dot after ``drawn`` others is set: stretches of the pattern are set and left out in turn."""
    place = drawn % sum(pattern)
    for turn, length in enumerate(pattern):
        if place < length:
            return turn % 2 == 0
        place -= length
    return False


def _span(values: Sequence[float], *, with_zero: bool) -> tuple[float, float]:
    finite = [value for value in values if math.isfinite(value)] + ([0.0] if with_zero else [])
    if not finite:
        return 0.0, 1.0
    low, high = min(finite), max(finite)
    return (low, high) if high > low else (low - 0.5, high + 0.5)


def _points(curves: Sequence[Curve]) -> Iterator[tuple[float, float]]:
    for curve in curves:
        for x, y in zip(curve.x, curve.y, strict=False):
            if math.isfinite(x) and math.isfinite(y):
                yield x, y


def _straight(start: tuple[int, int], end: tuple[int, int]) -> Iterator[tuple[int, int]]:
    steps = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    if steps == 0:
        yield end
        return
    for step in range(1, steps + 1):
        share = step / steps
        yield round(start[0] + share * (end[0] - start[0])), round(start[1] + share * (end[1] - start[1]))


def _y_labels(plot: CurvePlot, rows: int, ascii_only: bool) -> Iterator[list[Span]]:
    low, high = plot.y_span
    ticks: dict[int, float] = {}
    for value in _ticks(low, high, max(rows // 3, 2)):
        row = round((high - value) / (high - low) * (rows - 1))
        ticks.setdefault(row, value)
    for row in range(rows):
        rule = ("|" if ascii_only else "│") if row not in ticks else ("+" if ascii_only else "┤")
        label = number(ticks[row], 0) if row in ticks else ""
        if row == 0:
            label = plot.y_unit
        yield [Span(f"{label:>{LABEL_WIDTH}}", "quiet"), Span(rule, "quiet")]


def _x_axis(plot: CurvePlot, grid: _Grid, *, ascii_only: bool) -> list[list[Span]]:
    low, high = plot.x_span
    rule = ["-" if ascii_only else "─"] * grid.columns
    labels = [" "] * grid.columns
    step_count = max(grid.columns // 10, 2)
    taken = -1
    for value in _ticks(low, high, step_count):
        column = grid.column_of(value)
        rule[column] = "+" if ascii_only else "┬"
        text = f"{value:g}".replace("-", "−")
        start = min(max(column - len(text) // 2, 0), grid.columns - len(text) - len(plot.x_unit) - 1)
        if start > taken:
            labels[start : start + len(text)] = text
            taken = start + len(text)
    labels[grid.columns - len(plot.x_unit) :] = plot.x_unit
    corner = "+" if ascii_only else "└"
    return [
        [Span(" " * LABEL_WIDTH), Span(corner + "".join(rule), "quiet")],
        [Span(" " * (LABEL_WIDTH + 1)), Span("".join(labels), "quiet")],
    ]


def _load_range_line(plot: CurvePlot, grid: _Grid, *, ascii_only: bool) -> list[Span]:
    cells = [" "] * grid.columns
    for first, last in plot.load_ranges:
        start, end = sorted((grid.column_of(first), grid.column_of(last)))
        for column in range(start, end + 1):
            cells[column] = "=" if ascii_only else "▔"
    label = "load" if plot.load_ranges else ""
    return [Span(f"{label:>{LABEL_WIDTH}} ", "accent"), Span("".join(cells), "accent")]


def _ticks(low: float, high: float, about: int) -> list[float]:
    raw = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(index * step, 9) for index in range(first, last + 1)]


def _values_at(curve: Curve, x: float) -> list[float]:
    found = []
    for index in range(len(curve.x) - 1):
        x0, x1, y0, y1 = curve.x[index], curve.x[index + 1], curve.y[index], curve.y[index + 1]
        if not all(map(math.isfinite, (x0, x1, y0, y1))) or x0 == x1:
            continue
        if min(x0, x1) <= x < max(x0, x1):
            found.append(y0 + (x - x0) / (x1 - x0) * (y1 - y0))
    return found
