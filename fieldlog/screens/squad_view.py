"""The squad as data: a line an athlete, and what the squad says. Order of code, never of strength."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fieldlog.count_words import counted
from fieldlog.fieldwork.change.judged_change import FIRST_VISIT, Change
from fieldlog.fieldwork.change.side_difference import SideDifference
from fieldlog.fieldwork.squad.retests import DueRetest
from fieldlog.fieldwork.squad.season_history import SquadDay
from fieldlog.fieldwork.squad.squad_questions import SquadFilter
from fieldlog.fieldwork.squad.squad_view import SquadRow, SquadView
from fieldlog.screens.dot_strip import Scale, draw_dot, scale_of, scale_words
from fieldlog.screens.table import Cell, Column, Row, Span, widths
from fieldlog.screens.words import day_words, moment_words, number, signed, verdict_span

__all__ = [
    "MARK_AND_BAR",
    "RETEST_COLUMNS",
    "change_cell",
    "due_rows",
    "filter_words",
    "row_lines",
    "sides_cell",
    "squad_columns",
    "squad_lines",
    "squad_rows",
]

WIDE = 110
"""From this many columns on the side difference, z and percentile stand in columns of their own."""
RETEST_COLUMNS = (Column("", 24), Column(""), Column("", 36))
STRIP = 3
MARK_AND_BAR = 3
"""Cells a list keeps for its cursor and its scroll bar."""
SHORT = 5


def squad_columns(view: SquadView, width: int) -> tuple[tuple[Column, ...], Scale, int]:
    """Return the columns for a width, the scale of the strip and its cells."""
    columns = [
        Column("code", 7),
        Column("side", 5),
        Column(view.unit, 7, "right"),
        Column(""),
        Column("change (error alone)", min(width - 46, 34)),
    ]
    if width >= WIDE:
        columns += [Column("right−left", 26), Column("z", 5, "right"), Column("pct", 3, "right")]
    bounds = [bound for row in view.rows for bound in (row.value, row.low, row.high) if bound is not None]
    scale, cells = scale_of(bounds), widths(columns, width - MARK_AND_BAR)[STRIP]
    columns[STRIP] = Column(scale_words(scale, cells))
    return tuple(columns), scale, cells


def squad_rows(
    view: SquadView,
    width: int,
    sides: Mapping[str, SideDifference],
    *,
    ascii_only: bool = False,
) -> tuple[tuple[Column, ...], list[Row]]:
    """Return columns and a row an athlete and side."""
    columns, scale, cells = squad_columns(view, width)
    digits = view.question.measure.decimals
    rows = []
    for row in view.rows:
        mean = view.sides[row.side].mean
        strip = draw_dot(
            scale,
            row.value,
            cells,
            low=row.low,
            high=row.high,
            mean=mean.mean if mean else None,
            counted=row.usable,
            ascii_only=ascii_only,
        )
        side = "" if view.question.measure.of == "sides" else row.side
        last = sides_cell(row.sides) if row.sides else change_cell(row.change)
        line: list[Cell] = [row.code, side, number(row.value, digits), strip, last]
        if width >= WIDE:
            place = "" if row.percentile is None else f"{row.percentile:.0f}"
            other = sides.get(row.athlete_id)
            line += [
                sides_cell(other) if other else Span("–", "quiet"),
                "" if row.z is None else signed(row.z, 1),
                place,
            ]
        rows.append(Row(row_key(row), tuple(line)))
    return columns, rows


def row_key(row: SquadRow) -> str:
    """Return what a row is chosen by: athlete and side."""
    return f"{row.athlete_id}/{row.side}"


def change_cell(change: Change) -> Cell:
    """Return a change with its word and the change that error alone can make."""
    if change.change_pct is None:
        return Span(
            change.word.removeprefix("no comparison: ") if change.word != FIRST_VISIT else "first visit",
            "quiet",
        )
    return [
        Span(signed(change.change_pct, 1, _short(change.unit)), "strong" if change.marked else ""),
        Span(f" ({number(change.detectable_pct, 1)}) "),
        Span(f"{'▲ ' if change.change_pct > 0 else '▼ '}{change.word}" if change.marked else change.word),
    ]


def sides_cell(sides: SideDifference) -> Cell:
    """Return a side difference with the difference that error alone can make, and its word."""
    if sides.difference_pct is None:
        return Span(sides.word.removeprefix("no comparison: "), "quiet")
    return [
        Span(signed(sides.difference_pct, 0, "%")),
        Span(f" ({number(sides.detectable_pct, 0)}) "),
        Span(sides.word, "strong" if sides.beyond_error else ""),
    ]


def row_lines(view: SquadView, row: SquadRow, sides: SideDifference | None, today: dt.date) -> list[Cell]:
    """Return what there is to know of one row, in three lines."""
    digits = view.question.measure.decimals
    interval = f" ({number(row.low, digits)} to {number(row.high, digits)})" if row.low is not None else ""
    first: list[Span] = [
        Span(
            f"  {row.code} · {day_words(row.date, today)} · {number(row.value, digits, view.unit)}{interval} · "
        ),
        verdict_span(row.cover),
        Span(f" · quality {row.quality}"),
    ]
    if row.z is not None and row.percentile is not None:
        first.append(Span(f" · z {signed(row.z, 1)}, percentile {row.percentile:.0f}"))
    change = row.change
    second = [Span(f"  {change.word}")]
    if change.change_pct is not None:
        unit = _short(change.unit)
        second = [
            Span(
                f"  {signed(change.change_pct, 1, unit)} since {change.since}: {change.word}; "
                f"error alone makes {number(change.detectable_pct, 1, unit)}"
            ),
            Span(_worthwhile(change)),
        ]
    third: list[Span] = []
    if sides is not None and row.sides is None:
        third += [Span("  right−left "), *_sides_spans(sides)]
    for remark in (row.flag, row.implausible, *change.marks):
        if remark:
            third.append(Span(f"{' · ' if third else '  '}{remark}", "warn"))
    return [first, second, third or [Span("")]]


def _worthwhile(change: Change) -> str:
    if change.beyond_worthwhile is None:
        return ""
    beyond = "beyond" if change.beyond_worthwhile else "not beyond"
    return f"; {beyond} the smallest worthwhile {number(change.worthwhile_pct, 1, _short(change.unit))}"


def squad_lines(
    view: SquadView, last: SquadDay | None, today: dt.date, *, everything: bool = False
) -> list[Cell]:
    """Return what the squad says: means, mean change, agreement, remarks; without ``everything`` the first few."""
    measure = view.question.measure
    lines: list[Cell] = []
    for side, summary in view.sides.items():
        label = "" if side == "both" or measure.of == "sides" else f"{side}, "
        if summary.mean is None:
            continue
        mean = summary.mean
        low, high = number(mean.low, measure.decimals), number(mean.high, measure.decimals)
        lines.append(
            f"  mean {label}{counted(summary.people, 'athlete')}: {number(mean.mean, measure.decimals, view.unit)} "
            f"({low} to {high}, 95 % t)"
        )
    if last is not None and last.mean_change is not None:
        mean, unit = last.mean_change, _short(measure.change_unit)
        lines.append(
            f"  mean change on {moment_words(last.date, today)}: {signed(mean.mean, 1, unit)} "
            f"({signed(mean.low, 1)} to {signed(mean.high, 1)}), {counted(last.changes, 'athlete')}"
        )
    elif last is not None:
        lines.append(Span("  no mean change: fewer than three of the last day may be compared", "quiet"))
    if view.chance:
        lines.append(f"  {view.chance}")
    rest: list[Cell] = []
    if view.small_squad:
        rest.append(Span(f"  {view.small_squad}", "quiet"))
    if view.icc is not None and view.icc.value is not None:
        icc = view.icc
        rest.append(
            f"  {icc.form} {number(icc.value, 2)} ({number(icc.low, 2)} to {number(icc.high, 2)}), {counted(icc.people, 'athlete')}"
        )
    rest += [Span(f"  {text}", "quiet") for text in (*view.remarks, *view.errors)]
    return [*lines, *rest] if everything else [*lines, *rest][:SHORT]


def due_rows(due: list[DueRetest], *, done: bool = False) -> list[Row]:
    """Return the planned retests that are not done, or all of them."""
    return [
        Row(
            each.kept.record.id,
            (each.who, each.protocol_name, Span(each.words, "bad" if each.state == "overdue" else "")),
        )
        for each in due
        if done or each.state != "done"
    ]


def filter_words(asked: SquadFilter) -> str:
    """Return whom a filter keeps, in a few words."""
    named = (
        asked.squad,
        asked.position,
        asked.sex,
        asked.age_band,
        f"{asked.side} side" if asked.side else None,
    )
    return ", ".join(text for text in named if text) or "everybody"


def _sides_spans(sides: SideDifference) -> list[Span]:
    if sides.difference_pct is None:
        return [Span(sides.word, "quiet")]
    return [
        Span(f"{signed(sides.difference_pct, 0, '%')}: "),
        Span(sides.word, "strong" if sides.beyond_error else ""),
        Span(f"; error alone makes {number(sides.detectable_pct, 0, '%')}"),
    ]


def _short(unit: str) -> str:
    return "pt" if unit == "points" else unit
