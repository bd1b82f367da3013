"""Every page as Markdown, for reading aloud, and as CSV, for spreadsheets: the same content as the PDF."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from fieldlog.date_words import day_text
from fieldlog.sheets.content import (
    Block,
    Cell,
    ChangeBar,
    Column,
    CurvePlot,
    DotStrip,
    Facts,
    Figure,
    Legend,
    Marks,
    Sheet,
    Signatures,
    Stamp,
    Table,
    TrendPlot,
    Words,
)
from fieldlog.sheets.export_text import harmless
from fieldlog.sheets.text import clean
from fieldlog.sheets.wording import sentence

__all__ = ["sheet_csv", "sheet_markdown"]

CsvRow = Sequence[str | float]

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&!])")
_LIST_LIKE = re.compile(r"^([-+](?=\s|$)|[=-]+$|\d+[.)](?=\s|$))")


def sheet_markdown(sheet: Sheet, stamp: Stamp) -> str:
    """Return the page as Markdown; names are escaped, so that none of them is markup."""
    lines = [f"# {_md(sheet.title)}", "", _md(sheet.subject), ""]
    for block in sheet.blocks:
        lines += [*_markdown_block(block), ""]
    lines.append(
        f"Sheet {stamp.number}, revision {stamp.revision}, {day_text(stamp.date)}, made from {stamp.digest} (SHA-256)"
    )
    return "\n".join(lines) + "\n"


def sheet_csv(sheet: Sheet, stamp: Stamp) -> str:
    """Return the page as CSV: its parts one after the other, a blank line between, each table with its header."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([harmless(clean(sheet.title)), harmless(clean(sheet.subject))])
    for block in sheet.blocks:
        out.write("\n")
        for row in _csv_block(block):
            writer.writerow(
                [cell if isinstance(cell, float | int) else harmless(clean(cell)) for cell in row]
            )
    out.write("\n")
    writer.writerow(
        ["sheet", stamp.number, "revision", stamp.revision, stamp.date.isoformat(), "sha256", stamp.digest]
    )
    return out.getvalue()


def _markdown_block(block: Block) -> Iterator[str]:
    heading = "" if isinstance(block, Legend | Signatures) else block.heading
    if heading:
        yield f"## {_md(heading)}"
        yield ""
    yield from _MARKDOWN[type(block)](block)


def _markdown_facts(facts: Facts) -> Iterator[str]:
    yield from (f"- {_md(what)}: {_md(much)}" for what, much in facts.pairs)


def _markdown_words(words: Words) -> Iterator[str]:
    mark = "> " if words.caution else ""
    for number, paragraph in enumerate(words.paragraphs):
        if number:
            yield mark.rstrip()
        yield f"{mark}{_md(paragraph)}"


def _markdown_legend(legend: Legend) -> Iterator[str]:
    yield from (f"- {mark.family} **{_md(mark.word)}**: {_md(meaning)}" for mark, meaning in legend.entries)


def _markdown_strip(strip: DotStrip) -> Iterator[str]:
    for row in strip.rows:
        shown = ", ".join(f"{value:.2f}" for value in sorted((*row.open_values, *row.filled_values)))
        yield f"- {_md(row.label)}: {shown} {strip.unit}. {_md(row.words)}".rstrip()


def _markdown_plot(plot: CurvePlot | TrendPlot) -> Iterator[str]:
    yield _md(plot.words)


def _markdown_signatures(signatures: Signatures) -> Iterator[str]:
    yield from (f"- {_md(role)}: ______________________" for role in signatures.roles)


def _markdown_table(table: Table) -> Iterator[str]:
    if not table.rows:
        yield _md(sentence(table.empty))
        return
    heads = [
        _md(f"{column.header} ({column.unit})" if column.unit else column.header) for column in table.columns
    ]
    yield f"| {' | '.join(heads)} |"
    yield "|" + "|".join(" ---: " if column.kind == "number" else " --- " for column in table.columns) + "|"
    for row in table.rows:
        yield f"| {' | '.join(_md(_in_words(cell)) for cell in row.cells)} |"
    if table.remark:
        yield ""
        yield _md(table.remark)


def _in_words(cell: Cell) -> str:
    match cell:
        case Figure():
            return f"{cell.text}, beyond error" if cell.strong else cell.text
        case ChangeBar():
            if cell.change_pct is None:
                return cell.word
            change = Figure(cell.change_pct, 1, signed=True).text
            return f"{change} %, {cell.word} (detectable {Figure(cell.detectable_pct, 1).text} %)"
        case Marks():
            return "; ".join(f"{mark.family} {mark.word}" for mark in cell.marks)
        case _:
            return cell


def _csv_block(block: Block) -> Iterator[CsvRow]:
    heading = "" if isinstance(block, Legend | Signatures) else block.heading
    if heading:
        yield [heading]
    yield from _CSV[type(block)](block)


def _csv_facts(facts: Facts) -> Iterator[CsvRow]:
    yield from ([what, much] for what, much in facts.pairs)


def _csv_words(words: Words) -> Iterator[CsvRow]:
    yield from ([paragraph] for paragraph in words.paragraphs)


def _csv_table(table: Table) -> Iterator[CsvRow]:
    if not table.rows:
        yield [table.empty]
        return
    yield [name for column in table.columns for name in _csv_names(column)]
    for row in table.rows:
        cells = zip(table.columns, row.cells, strict=True)
        yield [value for column, cell in cells for value in _csv_values(column, cell)]
    if table.remark:
        yield [table.remark]


def _csv_legend(legend: Legend) -> Iterator[CsvRow]:
    yield from ([mark.family, mark.word, meaning] for mark, meaning in legend.entries)


def _csv_strip(strip: DotStrip) -> Iterator[CsvRow]:
    for row in strip.rows:
        yield [row.label, strip.unit, *sorted((*row.open_values, *row.filled_values))]


def _csv_curves(plot: CurvePlot) -> Iterator[CsvRow]:
    yield [plot.words]
    for curve in plot.curves:
        yield [curve.name, "angle_deg", *curve.angle_deg]
        yield [curve.name, "torque_nm", *curve.torque_nm]


def _csv_trend(plot: TrendPlot) -> Iterator[CsvRow]:
    yield ["series", "date", f"value ({plot.unit})", f"error ({plot.unit})"]
    for name, points in plot.series:
        for point in points:
            row: CsvRow = (name, point.date, point.value, point.error)
            yield row


def _csv_signatures(signatures: Signatures) -> Iterator[CsvRow]:
    yield from ([role, ""] for role in signatures.roles)


def _csv_names(column: Column) -> list[str]:
    if column.kind == "change":
        return [f"{column.key}_pct", f"{column.key}_detectable_pct", f"{column.key}_word"]
    if column.kind == "marks":
        return ["quality", "cover"]
    return [column.key]


def _csv_values(column: Column, cell: Cell) -> list[str | float]:
    if column.kind == "change":
        if isinstance(cell, ChangeBar):
            return [_or_empty(cell.change_pct), _or_empty(cell.detectable_pct), cell.word]
        return ["", "", _in_words(cell)]
    if column.kind == "marks" and isinstance(cell, Marks):
        words = {mark.family: mark.word for mark in cell.marks}
        return [words.get("quality", ""), words.get("cover", "")]
    if isinstance(cell, Figure):
        if cell.value is None:
            return [cell.instead if cell.instead != "–" else ""]
        return [round(cell.value, 6)]
    return [_in_words(cell)]


def _or_empty(value: float | None) -> str | float:
    return "" if value is None else round(value, 6)


def _md(text: str) -> str:
    escaped = _SPECIAL.sub(r"\\\1", clean(text))
    return _LIST_LIKE.sub(r"\\\1", escaped)


# How each kind of block is written in either form.
_MARKDOWN: dict[type, Callable[[Any], Iterator[str]]] = {
    Table: _markdown_table,
    Facts: _markdown_facts,
    Words: _markdown_words,
    Legend: _markdown_legend,
    DotStrip: _markdown_strip,
    CurvePlot: _markdown_plot,
    TrendPlot: _markdown_plot,
    Signatures: _markdown_signatures,
}
_CSV: dict[type, Callable[[Any], Iterator[CsvRow]]] = {
    Table: _csv_table,
    Facts: _csv_facts,
    Words: _csv_words,
    Legend: _csv_legend,
    DotStrip: _csv_strip,
    CurvePlot: _csv_curves,
    TrendPlot: _csv_trend,
    Signatures: _csv_signatures,
}
