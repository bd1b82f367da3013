"""The squad by day on the season's page: means with their intervals, as a table and as a plot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fieldlog.date_words import day_text
from fieldlog.fieldwork.squad.season_history import SquadDay
from fieldlog.fieldwork.squad.season_report import SeasonMeasure, SeasonReport
from fieldlog.sheets.content import (
    Column,
    Figure,
    Row,
    Table,
    TrendPlot,
    TrendPoint,
)

__all__ = ["by_protocol", "counts_text", "days_table", "trend_plot"]

FEWEST_UNNAMED = 5
"""Where nobody is to be named, figures of fewer people are left out: they would name them."""
TREND_WORDS = (
    "Mean of the squad on each day with its 95 % interval (t). Who was there differs from day to day."
)


def days_table(measures: Sequence[SeasonMeasure], report: SeasonReport) -> Table:
    """The squad's days under one protocol, each direction in turn."""
    columns = (
        Column("day", "day", width_pt=56, share=0.4),
        Column("movement", "movement", width_pt=60, share=1),
        Column("people", "people", kind="number", width_pt=36),
        Column("mean", "mean", measures[0].unit, "number", 40),
        Column("mean_low", "95 % from", measures[0].unit, "number", 40),
        Column("mean_high", "to", measures[0].unit, "number", 36),
        Column("mean_change", "mean change", "%", "number", 46),
        Column("mean_change_low", "95 % from", "%", "number", 40),
        Column("mean_change_high", "to", "%", "number", 36),
        Column("changes", "of", "people", "number", 36),
    )
    by_day = sorted(
        ((day, measure) for measure in measures for day in measure.days), key=lambda pair: pair[0].date
    )
    rows, before = [], None
    for day, measure in by_day:
        rows.append(_day_row(day, measure, report, opens_group=day.date != before))
        before = day.date
    remark = "Mean change: of those whose change since their visit before may be compared, three at least."
    if report.names_nobody:
        remark += f" Days of fewer than {FEWEST_UNNAMED} people are not set out."
    heading = f"The squad by day: {measures[0].protocol.name}"
    return Table(heading, columns, tuple(rows), remark if rows else "", empty=_why_no_day(report))


def _why_no_day(report: SeasonReport) -> str:
    return f"no result may be averaged; by the rig's cover: {counts_text(report.covers)}"


def _day_row(day: SquadDay, measure: SeasonMeasure, report: SeasonReport, *, opens_group: bool) -> Row:
    mean = day.mean if _may_show(day, report) else None
    change = day.mean_change if _may_show(day, report) else None
    decimals = measure.question.measure.decimals
    return Row(
        (
            day_text(day.date),
            measure.name,
            Figure(float(day.people), 0),
            *(Figure(getattr(mean, part, None), decimals) for part in ("mean", "low", "high")),
            *(Figure(getattr(change, part, None), 1, signed=True) for part in ("mean", "low", "high")),
            Figure(float(day.changes) if change else None, 0, instead=""),
        ),
        opens_group=opens_group,
    )


def _may_show(day: SquadDay, report: SeasonReport) -> bool:
    return day.people >= FEWEST_UNNAMED or not report.names_nobody


def by_protocol(report: SeasonReport) -> list[list[SeasonMeasure]]:
    """The measures of each protocol."""
    found: dict[str, list[SeasonMeasure]] = {}
    for measure in report.measures:
        found.setdefault(measure.protocol.id, []).append(measure)
    return list(found.values())


def trend_plot(measures: Sequence[SeasonMeasure], report: SeasonReport) -> TrendPlot | None:
    """The mean over the days, both directions of a protocol in one plot; None under two days."""
    series = [(measure.name, _points(measure, report)) for measure in measures]
    series = [(name, points) for name, points in series if len(points) >= 2]
    if not series:
        return None
    heading = f"The squad's mean: {measures[0].protocol.name}"
    return TrendPlot(heading, measures[0].unit, tuple(series), TREND_WORDS)


def _points(measure: SeasonMeasure, report: SeasonReport) -> tuple[TrendPoint, ...]:
    return tuple(
        TrendPoint(
            day_text(day.date), day.date.toordinal(), day.mean.mean, (day.mean.high - day.mean.low) / 2.0
        )
        for day in measure.days
        if day.mean is not None and _may_show(day, report)
    )


def counts_text(counted: Mapping[str, int]) -> str:
    """How many of what, the most first."""
    return ", ".join(
        f"{count} {word}" for word, count in sorted(counted.items(), key=lambda e: (-e[1], e[0]))
    )
