"""Every page as Markdown, for reading aloud, and as CSV, for spreadsheets: the same content as the PDF."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

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

__all__ = ["sheet_csv", "sheet_markdown"]

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&!])")
_LIST_LIKE = re.compile(r"^([-+](?=\s|$)|[=-]+$|\d+[.)](?=\s|$))")


def sheet_markdown(sheet: Sheet, stamp: Stamp) -> str:
    """Return the page as Markdown; names are escaped, so that none of them is markup."""
    lines = [f"# {_md(sheet.title)}", "", _md(sheet.subject), ""]
    for block in sheet.blocks:
        lines += [*_markdown_block(block), ""]
    lines.append(
        f"Sheet {stamp.number}, revision {stamp.revision}, {stamp.date}, made from {stamp.digest} (SHA-256)"
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
    writer.writerow(["sheet", stamp.number, "revision", stamp.revision, stamp.date, "sha256", stamp.digest])
    return out.getvalue()


def _markdown_block(block: Block) -> Iterator[str]:
    heading = "" if isinstance(block, Legend | Signatures) else block.heading
    if heading:
        yield f"## {_md(heading)}"
        yield ""
    match block:
        case Facts():
            yield from (f"- {_md(what)}: {_md(much)}" for what, much in block.pairs)
        case Words():
            mark = "> " if block.caution else ""
            for number, paragraph in enumerate(block.paragraphs):
                if number:
                    yield mark.rstrip()
                yield f"{mark}{_md(paragraph)}"
        case Table():
            yield from _markdown_table(block)
        case Legend():
            yield from (
                f"- {mark.family} **{_md(mark.word)}**: {_md(meaning)}" for mark, meaning in block.entries
            )
        case DotStrip():
            for row in block.rows:
                values = sorted((*row.open_values, *row.filled_values))
                shown = ", ".join(f"{value:.2f}" for value in values)
                yield f"- {_md(row.label)}: {shown} {block.unit}. {_md(row.words)}".rstrip()
        case CurvePlot() | TrendPlot():
            yield _md(block.words)
        case Signatures():
            yield from (f"- {_md(role)}: ______________________" for role in block.roles)


def _markdown_table(table: Table) -> Iterator[str]:
    heads = [
        _md(f"{column.header} ({column.unit})" if column.unit else column.header) for column in table.columns
    ]
    yield f"| {' | '.join(heads)} |"
    yield "|" + "|".join(" ---: " if column.kind == "number" else " --- " for column in table.columns) + "|"
    for row in table.rows:
        yield f"| {' | '.join(_md(_in_words(cell)) for cell in row.cells)} |"
    if not table.rows:
        yield f"| {_md(table.empty)} |" + " |" * (len(table.columns) - 1)
    if table.remark:
        yield ""
        yield _md(table.remark)


def _in_words(cell: Cell) -> str:
    match cell:
        case Figure():
            return cell.text
        case ChangeBar():
            if cell.change_pct is None:
                return cell.word
            change = Figure(cell.change_pct, 1, signed=True).text
            return f"{change} %, {cell.word} (detectable {Figure(cell.detectable_pct, 1).text} %)"
        case Marks():
            return "; ".join(f"{mark.family} {mark.word}" for mark in cell.marks)
        case _:
            return cell


def _csv_block(block: Block) -> Iterator[list[str | float]]:
    heading = "" if isinstance(block, Legend | Signatures) else block.heading
    if heading:
        yield [heading]
    match block:
        case Facts():
            yield from ([what, much] for what, much in block.pairs)
        case Words():
            yield from ([paragraph] for paragraph in block.paragraphs)
        case Table():
            yield [name for column in block.columns for name in _csv_names(column)]
            for row in block.rows:
                yield [
                    value
                    for column, cell in zip(block.columns, row.cells, strict=True)
                    for value in _csv_values(column, cell)
                ]
            if block.remark:
                yield [block.remark]
        case Legend():
            yield from ([mark.family, mark.word, meaning] for mark, meaning in block.entries)
        case DotStrip():
            for strip in block.rows:
                yield [strip.label, block.unit, *sorted((*strip.open_values, *strip.filled_values))]
        case CurvePlot():
            yield [block.words]
            for curve in block.curves:
                yield [curve.name, "angle_deg", *curve.angle_deg]
                yield [curve.name, "torque_nm", *curve.torque_nm]
        case TrendPlot():
            yield ["series", "date", f"value ({block.unit})", f"error ({block.unit})"]
            for name, points in block.series:
                yield from ([name, point.date, point.value, point.error] for point in points)
        case Signatures():
            yield from ([role, ""] for role in block.roles)


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
