"""Exports: results, repetitions and checks as CSV, JSON or one workbook, written whole or not at all."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import orjson

from fieldlog.errors import InputError
from fieldlog.sheets.export_schema import fields_of, schema_body
from fieldlog.sheets.export_text import harmless, plain_value

__all__ = ["FORMATS", "Rows", "csv_text", "json_text", "schema_text", "write_export", "write_whole"]

Rows = Mapping[str, Sequence[Mapping[str, Any]]]
"""The rows of each table by its name: results, repetitions, checks."""

FORMATS = ("csv", "json", "xlsx", "schema")


def write_export(folder: Path, rows: Rows, form: str) -> list[Path]:
    """Write all tables in ``form`` into ``folder`` (made if missing); return the files, in order.

    Every file is complete before any takes its name. Raises InputError where ``folder`` is a file.
    """
    made = _FILES[form](rows)
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file", "name a folder with -o")
    folder.mkdir(parents=True, exist_ok=True)
    return write_whole({folder / name: data for name, data in made.items()})


def write_whole(files: Mapping[Path, bytes]) -> list[Path]:
    """Write files beside their names and move them over when all of them are complete."""
    parts = {path: path.with_name(f".{path.name}.{os.getpid()}.part") for path in files}
    try:
        for path, data in files.items():
            parts[path].write_bytes(data)
        for path, part in parts.items():
            part.replace(path)
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)
    return list(files)


def csv_text(table: str, rows: Sequence[Mapping[str, Any]]) -> str:
    """Return a table as CSV: comma, one header row, empty for no value, text cells made harmless."""
    fields = fields_of(table, rows)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([field.name for field in fields])
    for row in rows:
        writer.writerow([_csv_cell(row.get(field.name)) for field in fields])
    return out.getvalue()


def json_text(table: str, rows: Sequence[Mapping[str, Any]]) -> bytes:
    """Return a table as ``{"rows": […]}`` with the columns in their order; no NaN."""
    fields = fields_of(table, rows)
    body = {"rows": [{field.name: plain_value(row.get(field.name)) for field in fields} for row in rows]}
    return orjson.dumps(body, option=orjson.OPT_INDENT_2) + b"\n"


def schema_text() -> bytes:
    """Return the table schemas as JSON."""
    return orjson.dumps(schema_body(), option=orjson.OPT_INDENT_2) + b"\n"


def _csv_cell(value: Any) -> str:
    value = plain_value(value)
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return harmless(str(value))


def _csv_files(rows: Rows) -> dict[str, bytes]:
    return {f"{table}.csv": csv_text(table, of).encode("utf-8") for table, of in rows.items()}


def _json_files(rows: Rows) -> dict[str, bytes]:
    return {f"{table}.json": json_text(table, of) for table, of in rows.items()}


def _xlsx_files(rows: Rows) -> dict[str, bytes]:
    from fieldlog.sheets.export_xlsx import workbook_bytes

    return {"fieldlog.xlsx": workbook_bytes(rows)}


def _schema_files(_rows: Rows) -> dict[str, bytes]:
    return {"schema.json": schema_text()}


_FILES: dict[str, Callable[[Rows], dict[str, bytes]]] = {
    "csv": _csv_files,
    "json": _json_files,
    "xlsx": _xlsx_files,
    "schema": _schema_files,
}
