"""The rig log as data: charts, sentences and rows."""

from __future__ import annotations

import datetime as dt

from fieldlog.fieldwork.rig_life.rig_log import RigLog, Series
from fieldlog.fieldwork.rig_life.rig_sentences import limits_words, series_sentences
from fieldlog.records.rig import ADJUSTING_EVENTS
from fieldlog.records.rig_check import RigCheck
from fieldlog.screens.control_chart import ControlChart, draw_chart
from fieldlog.screens.table import Cell, Column, Row, Span, fit, wrapped
from fieldlog.screens.words import day_words, moment_words, sentence, verdict_span

__all__ = [
    "CHECK_COLUMNS",
    "GRID_WIDTH",
    "all_lines",
    "chart_lines",
    "chart_of_series",
    "check_rows",
    "sentence_lines",
    "series_title",
]

GRID_WIDTH = 110
"""From this many columns on two charts stand side by side."""
CHECK_COLUMNS = (
    Column("when", 15),
    Column("site"),
    Column("stage", 16),
    Column("verdict", 18),
    Column("signed off by", 9),
)
ALL_ROWS = 11


def chart_of_series(log: RigLog, series: Series) -> ControlChart:
    """Return a series as a chart: its limits, its moving average, and the events before each check."""
    individuals, average = series.chart["individuals"], series.chart["ewma"]
    limits = {name: individuals[name] for name in ("centre", "lower", "upper")} if individuals else {}
    breaks = []
    for place, (check, before) in enumerate(zip(series.checks[1:], series.checks, strict=False), start=1):
        kinds = {event.kind for event in log.events if before.at < event.at <= check.at}
        if kinds:
            breaks.append((place, bool(kinds & ADJUSTING_EVENTS)))
    return ControlChart(
        days=tuple(check.at.date() for check in series.checks),
        values=series.values,
        tolerance=series.tolerance,
        average=tuple(average["values"]) if average else (),
        fired=series.fired,
        breaks=tuple(breaks),
        digits=series.digits,
        **limits,
    )


def series_title(series: Series, place: int, count: int) -> tuple[str, str]:
    """Return what is drawn, and what its limits rest on."""
    return f"{series.title}, {series.unit}", f"{limits_words(series)} · chart {place + 1} of {count}"


def chart_lines(
    log: RigLog,
    shown: list[Series],
    width: int,
    height: int,
    *,
    ascii_only: bool = False,
    cursor_id: str | None = None,
    current: str = "",
) -> list[list[Span]]:
    """Return one chart, or where several are ``shown`` two side by side in each row, each under its title; ``current`` is marked."""
    if len(shown) == 1:
        return _chart(log, shown[0], width, height, ascii_only=ascii_only, cursor_id=cursor_id)
    half = width // 2
    rows_of_charts = (len(shown) + 1) // 2
    each = max(height // rows_of_charts, 6)
    lines: list[list[Span]] = []
    for place in range(0, len(shown), 2):
        pair = shown[place : place + 2]
        blocks = [
            [
                fit(
                    [
                        Span(
                            f"{'▸' if series.key == current else ' '}{series.title}, {series.unit}", "strong"
                        ),
                        Span(f"  {limits_words(series)}", "quiet"),
                    ],
                    half,
                ),
                *_chart(log, series, half, each - 1, ascii_only=ascii_only, cursor_id=cursor_id),
            ]
            for series in pair
        ]
        if len(blocks) == 1:
            blocks.append([fit("", half)] * each)
        lines += [[*left, *right] for left, right in zip(*blocks, strict=True)]
    return lines


def sentence_lines(log: RigLog, series: Series, today: dt.date, width: int, most: int) -> list[Span]:
    """Return what the series says in at most ``most`` lines: rules that fired, and always the drift."""
    *rules, drift = map(sentence, series_sentences(log, series, today, moment_words))
    last = wrapped(drift, width)
    first = [line for text in rules for line in wrapped(text, width, "bad", first="  ● ", others="    ")]
    return [*first[: most - len(last)], *last]


def all_lines(log: RigLog, width: int, today: dt.date, *, ascii_only: bool = False) -> list[Cell]:
    """Return every figure: charts of slope and zero with what they say, then what the single points say."""
    lines: list[Cell] = []
    for series in log.lines:
        lines.append(Span(f"{series.title}, {series.unit} · {limits_words(series)}", "strong"))
        lines += chart_lines(log, [series], width, ALL_ROWS, ascii_only=ascii_only)
        lines += sentence_lines(log, series, today, width, len(series.values) + 8)
    for series in log.points:
        lines.append(Span(f"{series.title}, {series.unit} · {limits_words(series)}", "strong"))
        lines += sentence_lines(log, series, today, width, len(series.values) + 8)
    return lines


def check_rows(log: RigLog, today: dt.date) -> list[Row]:
    """Return the checks, the latest first, with who signed them off."""
    return [_row(log, check, today) for check in reversed(log.checks)]


def _chart(
    log: RigLog, series: Series, width: int, height: int, *, ascii_only: bool, cursor_id: str | None
) -> list[list[Span]]:
    place = next((i for i, check in enumerate(series.checks) if check.id == cursor_id), None)
    return draw_chart(chart_of_series(log, series), width, height, ascii_only=ascii_only, cursor=place)


def _row(log: RigLog, check: RigCheck, today: dt.date) -> Row:
    signed = log.signed.get(check.id, ())
    names = ", ".join(review.by for review in signed)
    return Row(
        check.id,
        (
            _when(check.at, today),
            log.sites.get(check.id, check.site_id),
            f"{check.stage}{'' if check.state == 'as-found' else ', as-left'}",
            verdict_span(check.verdict),
            Span(names) if names else Span("–", "quiet"),
        ),
    )


def _when(at: dt.datetime, today: dt.date) -> str:
    words = day_words(at.date(), today)
    if words.endswith(f" {at.year}"):
        words = f"{words[:-4]}{at:%y}"
    return f"{words} {at:%H:%M}"
