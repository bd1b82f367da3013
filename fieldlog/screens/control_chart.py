"""A control chart in text cells: single values, limits, moving average, tolerance and what happened between.

Everything is told by its mark and its word at the edge, so it reads without colour.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from rich.cells import cell_len

from fieldlog.screens.table import Span, fit, joined
from fieldlog.screens.words import moment_words, number, signed

__all__ = ["ChartMarks", "ControlChart", "draw_chart"]

LABEL_WIDTH, NAME_WIDTH = 7, 10
LEAST_ROWS, LEAST_COLUMNS = 3, 8
_MOST_SPREAD = 8
_SHOWN_TOLERANCE = 2.5
"""A tolerance further out than this many times the values would press them into one row; it is written instead."""


@dataclass(frozen=True)
class ChartMarks:
    """The characters a chart is drawn with."""

    value: str = "o"
    fired: str = "●"
    average: str = "·"
    centre: str = "─"
    limit: str = "╌"
    tolerance: str = "┄"
    split: str = "│"
    event: str = "┊"
    tick: str = "┤"
    axis: str = "─"
    foot: str = "┬"
    corner: str = "└"


UNICODE = ChartMarks()
ASCII = ChartMarks(
    fired="@",
    average=".",
    centre="-",
    limit="~",
    tolerance="=",
    split="|",
    event=":",
    tick="+",
    axis="-",
    foot="+",
    corner="+",
)


@dataclass(frozen=True)
class ControlChart:
    """What is drawn, in the unit of the values.

    ``fired`` are places in ``values`` at which a run rule fired; ``breaks`` say (place, whether it splits) where
    something happened to the rig before the value at that place.
    """

    days: tuple[dt.date, ...]
    values: tuple[float, ...]
    tolerance: float
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None
    average: tuple[float, ...] = ()
    fired: frozenset[int] = frozenset()
    breaks: tuple[tuple[int, bool], ...] = ()
    digits: int = 2


def draw_chart(
    chart: ControlChart, width: int, height: int, *, ascii_only: bool = False, cursor: int | None = None
) -> list[list[Span]]:
    """Return ``height`` lines of ``width`` cells. Values that do not fit are the earliest ones."""
    rows, columns = height - 2, width - LABEL_WIDTH - NAME_WIDTH - 1
    if not chart.values or rows < LEAST_ROWS or columns < LEAST_COLUMNS:
        words = "nothing to draw yet" if not chart.values else "no room for the chart; make the window larger"
        return [fit(Span(f"  {words}", "quiet"), width)] + [fit("", width) for _ in range(height - 1)]
    marks = ASCII if ascii_only else UNICODE
    return _Drawing(chart, rows, columns, marks, cursor).lines(width)


class _Drawing:
    def __init__(
        self, chart: ControlChart, rows: int, columns: int, marks: ChartMarks, cursor: int | None
    ) -> None:
        self.chart, self.rows, self.columns, self.marks = chart, rows, columns, marks
        self.first = max(len(chart.values) - (columns + 1) // 2, 0)
        shown = len(chart.values) - self.first
        self.step = min((columns - 1) / max(shown - 1, 1), _MOST_SPREAD) if shown > 1 else 0.0
        self.cursor = cursor
        self.low, self.high = self._span()

    def lines(self, width: int) -> list[list[Span]]:
        grid = self._grid()
        labels, names = self._labels()
        lines = []
        for row in range(self.rows):
            line = [Span(f"{labels.get(row, ''):>{LABEL_WIDTH}}", "quiet"), Span(self.marks.tick, "quiet")]
            line += grid[row]
            line.append(Span(f" {names.get(row, '')}", "quiet"))
            lines.append(fit(line, width))
        return [*lines, fit(self._axis(), width), fit(self._dates(), width)]

    def column(self, place: int) -> int:
        return round((place - self.first) * self.step) if self.step else self.columns // 2

    def row(self, value: float) -> int:
        if self.high == self.low:
            return self.rows // 2
        return round((self.high - value) / (self.high - self.low) * (self.rows - 1))

    def _span(self) -> tuple[float, float]:
        chart = self.chart
        seen = [*chart.values[self.first :], *chart.average[self.first :], 0.0]
        seen += [value for value in (chart.lower, chart.upper) if value is not None]
        largest = max(abs(value) for value in seen)
        self.shows_tolerance = 0.0 < chart.tolerance <= _SHOWN_TOLERANCE * largest
        if self.shows_tolerance:
            seen += [chart.tolerance, -chart.tolerance]
        low, high = min(seen), max(seen)
        return (low, high) if high > low else (low - 0.5, high + 0.5)

    def _levels(self) -> list[tuple[float, str, str]]:
        """Value, name and mark of each level line; what weighs most comes last."""
        chart, marks = self.chart, self.marks
        levels: list[tuple[float, str, str]] = []
        if self.shows_tolerance:
            levels += [
                (chart.tolerance, "tolerance", marks.tolerance),
                (-chart.tolerance, "tolerance", marks.tolerance),
            ]
        if chart.upper is not None and chart.lower is not None and chart.centre is not None:
            levels += [(chart.lower, "lower", marks.limit), (chart.upper, "upper", marks.limit)]
            levels.append((chart.centre, "centre", marks.centre))
        return levels

    def _labels(self) -> tuple[dict[int, str], dict[int, str]]:
        labels: dict[int, str] = {}
        names: dict[int, str] = {}
        for value, name, _ in self._levels():
            row = self.row(value)
            labels[row] = signed(value, self.chart.digits)
            names[row] = name
        for row, value in ((0, self.high), (self.rows - 1, self.low)):
            labels.setdefault(row, signed(value, self.chart.digits))
        if not self.shows_tolerance and self.chart.tolerance:
            digits = 0 if self.chart.tolerance >= 10 else 1
            free = next((row for row in range(self.rows) if row not in names), 0)
            names.setdefault(free, f"tol ±{number(self.chart.tolerance, digits)}")
        return labels, names

    def _grid(self) -> list[list[Span]]:
        cells: list[list[Span]] = [[Span(" ")] * self.columns for _ in range(self.rows)]
        for place, splits in self.chart.breaks:
            if place <= self.first:
                continue
            column = max(self.column(place) - max(int(self.step // 2), 1), 0)
            for row in range(self.rows):
                mark, role = (self.marks.split, "strong") if splits else (self.marks.event, "quiet")
                if splits or cells[row][column].text == " ":
                    cells[row][column] = Span(mark, role)
        for value, name, mark in self._levels():
            role = "warn" if name == "tolerance" else "quiet"
            row = self.row(value)
            cells[row] = [cell if cell.text in self._verticals else Span(mark, role) for cell in cells[row]]
        for place in range(self.first, len(self.chart.values)):
            if place < len(self.chart.average):
                cells[self.row(self.chart.average[place])][self.column(place)] = Span(
                    self.marks.average, "two"
                )
        for place in range(self.first, len(self.chart.values)):
            fired = place in self.chart.fired
            mark = self.marks.fired if fired else self.marks.value
            role = "bad" if fired else "key" if place == self.cursor else "one"
            cells[self.row(self.chart.values[place])][self.column(place)] = Span(mark, role)
        return [joined(row) for row in cells]

    @property
    def _verticals(self) -> tuple[str, str]:
        return self.marks.split, self.marks.event

    def _axis(self) -> list[Span]:
        axis = [self.marks.axis] * self.columns
        for place in range(self.first, len(self.chart.values)):
            axis[self.column(place)] = self.marks.foot
        line = [Span(" " * LABEL_WIDTH), Span(self.marks.corner + "".join(axis), "quiet")]
        if self.cursor is not None and self.first <= self.cursor < len(self.chart.values):
            column = self.column(self.cursor)
            line = [
                Span(" " * LABEL_WIDTH),
                Span(self.marks.corner + "".join(axis[:column]), "quiet"),
                Span("^", "key"),
                Span("".join(axis[column + 1 :]), "quiet"),
            ]
        return line

    def _dates(self) -> list[Span]:
        cells = [" "] * (self.columns + NAME_WIDTH)
        shown = range(self.first, len(self.chart.values))
        free_from = 0
        last_words = ""
        for place in shown:
            day = self.chart.days[place]
            words = moment_words(day, day)
            first = place == shown[0] or day.year != self.chart.days[max(place - 1, 0)].year
            if first and str(day.year) not in words:
                words += f" {day:%y}"
            start = self.column(place)
            if start < free_from or words == last_words or start + cell_len(words) > len(cells):
                continue
            cells[start : start + len(words)] = words
            free_from, last_words = start + len(words) + 2, words
        return [Span(" " * (LABEL_WIDTH + 1)), Span("".join(cells).rstrip(), "quiet")]
